"""Why can a brief not be met, and what are the smallest changes that would free it?"""

from optiform.answers.conflict.report import conflict
from optiform.answers.conflict.witness import witness

__all__ = ["conflict", "witness"]
