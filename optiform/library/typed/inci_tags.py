"""Tells the house tags of a substance by its INCI name.

inci_tags.csv pairs patterns with tags. Names follow the conventions of the INCI nomenclature (`-eth` for an ethoxylate,
`Polyquaternium-`, `-trimonium` for quaternary ammonium; common practice, from memory). A name that tells nothing gets
no tag.
"""

import csv
import re
from functools import cache
from importlib import resources


@cache
def _rules() -> tuple[tuple[re.Pattern[str], tuple[str, ...]], ...]:
    """Return patterns of names in lower case, each with the tags that such a name tells."""
    with resources.files("optiform.library.typed").joinpath("inci_tags.csv").open(encoding="utf-8") as file:
        return tuple((re.compile(row["pattern"]), tuple(row["tags"].split())) for row in csv.DictReader(file))


def tags_of(inci: str) -> tuple[str, ...]:
    """Return the house tags that an INCI name tells by itself; a trailing `?` means "may be"."""
    name = " ".join(inci.casefold().split())
    found = (tag for pattern, tags in _rules() if pattern.search(name) for tag in tags)
    return tuple(dict.fromkeys(found))
