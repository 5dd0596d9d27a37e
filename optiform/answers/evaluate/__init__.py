"""What is any formula, and what does it break?"""

from optiform.answers.evaluate.judging import Judge
from optiform.answers.evaluate.typed_formula import evaluate

__all__ = ["Judge", "evaluate"]
