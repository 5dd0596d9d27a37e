"""One file per question; each takes frozen values and returns a frozen answer."""

from optiform.answers.answer import Answer, Formula
from optiform.answers.bench import bench
from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.doctor import Diagnosis, diagnose
from optiform.answers.evaluate import evaluate
from optiform.answers.lots import correct_lot
from optiform.answers.reformulate import reformulate
from optiform.answers.weighed import weigh_formula
from optiform.answers.why import why

__all__ = [
    "Answer",
    "Diagnosis",
    "Formula",
    "bench",
    "check",
    "correct_lot",
    "design",
    "diagnose",
    "evaluate",
    "reformulate",
    "weigh_formula",
    "why",
]
