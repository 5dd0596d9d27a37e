"""Reads the shipped tables that hold no limit: positive lists, claims, blanks of labels, frame formulations."""

from __future__ import annotations

from functools import cache

from optiform.law.models import Claim, Frame, Particular, PositiveList, place_of
from optiform.law.reading import DERIVED, read_rows, shipped_file
from optiform.library.files.typed_tables import Entry, columns_of


class Blank(Particular):
    """One blank of the labels of a place."""

    jurisdiction: str


@cache
def shipped_positive_lists() -> tuple[PositiveList, ...]:
    """Return for which uses a place has a positive list, and what is done with what is not on it."""
    return _rows("positive_lists", PositiveList)


@cache
def shipped_claims() -> tuple[Claim, ...]:
    """Return the words of a title or a claim that call for a caution."""
    return _rows("claims", Claim)


@cache
def shipped_blanks() -> tuple[Blank, ...]:
    """Return what else the labels of all places carry, in order."""
    return _rows("particulars", Blank)


@cache
def shipped_frames() -> tuple[Frame, ...]:
    """Return the ceilings of the frame formulations known here."""
    return _rows("frames", Frame)


def _rows(name: str, model: type[Entry]) -> tuple[Entry, ...]:
    with shipped_file(f"{name}.csv") as path:
        return read_rows(path, columns_of(name, model, without=DERIVED), model)


def particulars(jurisdiction: str) -> tuple[Particular, ...]:
    """Return what else the label of a place carries, as blanks to fill and questions to settle; none without a law.

    A list of reminders in this project's own words; the wording on a label is that of the law.
    """
    place = place_of(jurisdiction)
    return tuple(
        Particular(**blank.model_dump(exclude={"jurisdiction"}))
        for blank in shipped_blanks()
        if blank.jurisdiction == place
    )
