"""The shipped tables that hold no limit: positive lists, claims, blanks of labels, frame formulations."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from optiform.law.cells import Cells
from optiform.law.models import AREAS, Claim, Frame, Particular, PositiveList, place_of
from optiform.law.reading import read_rows, shipped_file
from optiform.library.files.tables import Columns

LIST_COLUMNS = ("jurisdiction", "use", "provision", "effect", "source")
CLAIM_COLUMNS = ("jurisdiction", "words", "caution", "provision", "source")
FRAME_COLUMNS = ("number", "title", "area", "totals", "max_percent", "source")
BLANK_COLUMNS = ("jurisdiction", "key", "title", "hint", "provision", "is_check")


class Blank(Particular):
    """One blank of the labels of a place."""

    jurisdiction: str


def _texts(cells: Cells, columns: Sequence[str]) -> dict[str, Any]:
    return {name: cells.text(name) for name in columns}


@cache
def shipped_positive_lists() -> tuple[PositiveList, ...]:
    """Return for which uses a place has a positive list, and what is done with what is not on it."""
    columns = Columns("positive_lists", LIST_COLUMNS, LIST_COLUMNS)
    with shipped_file("positive_lists.csv") as path:
        return read_rows(path, columns, PositiveList, lambda cells: _texts(cells, LIST_COLUMNS))


@cache
def shipped_claims() -> tuple[Claim, ...]:
    """Return the words of a title or a claim that call for a caution."""
    columns = Columns("claims", CLAIM_COLUMNS, CLAIM_COLUMNS)
    with shipped_file("claims.csv") as path:
        return read_rows(
            path,
            columns,
            Claim,
            lambda cells: {**_texts(cells, CLAIM_COLUMNS), "words": cells.names("words")},
        )


@cache
def shipped_blanks() -> tuple[Blank, ...]:
    """Return what else the labels of all places carry, in order."""
    columns = Columns("particulars", BLANK_COLUMNS, BLANK_COLUMNS)
    with shipped_file("particulars.csv") as path:
        return read_rows(
            path,
            columns,
            Blank,
            lambda cells: {**_texts(cells, BLANK_COLUMNS), "is_check": cells.text("is_check") == "yes"},
        )


@cache
def shipped_frames() -> tuple[Frame, ...]:
    """Return the ceilings of the frame formulations known here."""
    columns = Columns("frames", FRAME_COLUMNS, FRAME_COLUMNS[:5])
    with shipped_file("frames.csv") as path:
        return read_rows(
            path,
            columns,
            Frame,
            lambda cells: {
                **_texts(cells, FRAME_COLUMNS),
                "area": cells.names("area", AREAS),
                "totals": cells.names("totals"),
                "max_percent": cells.percent("max_percent"),
            },
        )


def particulars(jurisdiction: str) -> tuple[Particular, ...]:
    """Return what else the label of a place carries, as blanks to fill and questions to settle; none without a law.

    A list of reminders in this project's own words; the wording on a label is that of the law.

    Raises
    ------
    BadInput
        An unknown jurisdiction.
    """
    place = place_of(jurisdiction)
    return tuple(
        Particular(**blank.model_dump(exclude={"jurisdiction"}))
        for blank in shipped_blanks()
        if blank.jurisdiction == place
    )
