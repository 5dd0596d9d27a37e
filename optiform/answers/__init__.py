"""Answers every question: one room each, from frozen values to a frozen answer."""

from optiform.answers.bench.lot_correction import correct_lot
from optiform.answers.bench.readings import bench
from optiform.answers.bench.swapping import Swap, swap
from optiform.answers.check.feasibility import check
from optiform.answers.design.formulas import design
from optiform.answers.doctor import Diagnosis, diagnose
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Answer, Formula
from optiform.answers.price.why import why
from optiform.answers.rework.reformulation import reformulate
from optiform.answers.weigh.typed_formula import weigh_formula

__all__ = [
    "Answer",
    "Diagnosis",
    "Formula",
    "Swap",
    "bench",
    "check",
    "correct_lot",
    "design",
    "diagnose",
    "evaluate",
    "reformulate",
    "swap",
    "weigh_formula",
    "why",
]
