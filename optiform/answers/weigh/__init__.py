"""Which grams of a formula can this balance weigh for this batch?"""

from optiform.answers.weigh.typed_formula import weigh_formula

__all__ = ["weigh_formula"]
