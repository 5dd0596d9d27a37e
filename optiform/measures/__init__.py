"""Numbers that a formula amounts to, each defined once."""

from optiform.measures.catalogue import Catalogue, UnknownMeasure
from optiform.measures.conditions import Conditions
from optiform.measures.measure import Measure, Row, Side

__all__ = ["Catalogue", "Conditions", "Measure", "Row", "Side", "UnknownMeasure"]
