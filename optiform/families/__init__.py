"""Which products can be made from one short shelf of materials, and what sharing it saves."""

from optiform.families.model import Family
from optiform.families.plan import FamilyPlan, load_family

__all__ = ["Family", "FamilyPlan", "load_family"]
