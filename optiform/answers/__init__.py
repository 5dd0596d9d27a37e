"""One file per question; each takes frozen values and returns a frozen answer."""

from optiform.answers.answer import Answer, Formula
from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.doctor import Diagnosis, diagnose
from optiform.answers.evaluate import evaluate

__all__ = ["Answer", "Diagnosis", "Formula", "check", "design", "diagnose", "evaluate"]
