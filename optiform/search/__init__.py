"""The formulas of a program from the best on, proven; how a brief becomes them is not known here."""

from optiform.search.first_formula import first_listed, first_of
from optiform.search.fixed_choices import Polished, polish
from optiform.search.ranking import Candidate, rank

__all__ = ["Candidate", "Polished", "first_listed", "first_of", "polish", "rank"]
