"""Which formulas are possible, which is best, and what does each wish cost?"""

from optiform.answers.design.formulas import design

__all__ = ["design"]
