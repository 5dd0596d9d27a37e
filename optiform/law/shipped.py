"""The shipped tables of positive lists and of words that call for a caution."""

from __future__ import annotations

from functools import cache
from typing import Any

from optiform.faults import Faults
from optiform.law.models import Claim, PositiveList
from optiform.law.reading import rows_of, shipped_file
from optiform.library.files.tables import Columns

LIST_COLUMNS = ("jurisdiction", "use", "provision", "effect", "source")
LISTS = Columns("positive_lists", LIST_COLUMNS, LIST_COLUMNS)
CLAIM_COLUMNS = ("jurisdiction", "words", "caution", "provision", "source")
CLAIMS = Columns("claims", CLAIM_COLUMNS, CLAIM_COLUMNS)


@cache
def shipped_positive_lists() -> tuple[PositiveList, ...]:
    """Return for which uses a place has a positive list, and what is done with what is not on it."""
    faults = Faults()
    found = []
    with shipped_file("positive_lists.csv") as path:
        for cells in rows_of(path, LISTS, faults):
            trust, source = cells.sourced()
            words = {name: cells.text(name) for name in ("jurisdiction", "use", "provision", "effect")}
            found.append(PositiveList.model_validate({**words, "source": source, "trust": trust}))
    faults.raise_if_any()
    return tuple(found)


@cache
def shipped_claims() -> tuple[Claim, ...]:
    """Return the words of a title or a claim that call for a caution."""
    faults = Faults()
    found = []
    with shipped_file("claims.csv") as path:
        for cells in rows_of(path, CLAIMS, faults):
            trust, source = cells.sourced()
            words: dict[str, Any] = {
                name: cells.text(name) for name in ("jurisdiction", "caution", "provision")
            }
            words["words"] = cells.names("words")
            found.append(Claim.model_validate({**words, "source": source, "trust": trust}))
    faults.raise_if_any()
    return tuple(found)
