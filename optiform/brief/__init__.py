"""What is wanted: targets, rules and an aim, read and checked."""

from optiform.brief.from_formula import reformulation_brief
from optiform.brief.guards import missing_guards
from optiform.brief.models import Brief
from optiform.brief.reading import brief_from, load_brief
from optiform.brief.starting import skins, starter_brief, textures
from optiform.brief.writing import write_brief

__all__ = [
    "Brief",
    "brief_from",
    "load_brief",
    "missing_guards",
    "reformulation_brief",
    "skins",
    "starter_brief",
    "textures",
    "write_brief",
]
