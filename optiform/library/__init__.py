"""What can be bought: materials, substances, composition and the house rules that belong to them."""

from optiform.library.models import Library, Material, Part, Substance, Trust
from optiform.library.reading import load_library
from optiform.library.selection import Selection, parse_reference, resolve, select

__all__ = [
    "Library",
    "Material",
    "Part",
    "Selection",
    "Substance",
    "Trust",
    "load_library",
    "parse_reference",
    "resolve",
    "select",
]
