"""Can a brief be met at all?"""

from optiform.answers.check.feasibility import check

__all__ = ["check"]
