"""Which formulas hold for every lot, or for a share of lots, and what does that cost?"""

from optiform.answers.certainty.every_lot import sure

__all__ = ["sure"]
