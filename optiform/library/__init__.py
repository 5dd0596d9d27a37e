"""What can be bought: materials, substances, composition and the house rules that belong to them."""

from optiform.library.models import Library, Material, Substance, Trust
from optiform.library.reading import load_library
from optiform.library.selection import select

__all__ = [
    "Library",
    "Material",
    "Substance",
    "Trust",
    "load_library",
    "select",
]
