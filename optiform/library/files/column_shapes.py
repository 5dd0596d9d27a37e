"""Tells what the cells of each column become, from the fields of a model."""

from __future__ import annotations

import types
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, Union, get_args, get_origin

from optiform.library.models import Frozen, Trust
from optiform.library.rows import SEMICOLONS

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

HANDLING = (
    "slurry", "acid-slurry", "sprinkle", "hydrate", "before-acid", "neutralise", "gentle", "melt", "cool-down",
    "dissolve", "premix-oil", "dust", "corrosive", "eye-damage", "last", "suspend", "opacify",
)  # fmt: skip
DAY = "year-month-day, e.g. 2026-07-31"
WANTED = {"day": DAY, "names": "names with semicolons between"}
Kind = Literal["number", "numbers", "word", "words", "names", "day", "text"]


@dataclass(frozen=True)
class Shape:
    """What the cells of one column become.

    Attributes
    ----------
    kind : str
        "number", "numbers" (semicolons between), "word" (one of `words`), "words" (blanks between), "names"
        (semicolons between, each once), "day" or "text".
    words : tuple of str
        Allowed words; empty when any will do.
    blank : object
        The value of an empty cell; `...` when there must be one.
    allowed : str
        The range in words.
    """

    kind: Kind
    words: tuple[str, ...] = ()
    blank: Any = ...
    allowed: str = ""


@cache
def shapes(model: type[Frozen]) -> Mapping[str, Shape]:
    """Return the shape of each column that a model reads (`extra` is no column)."""
    return {name: _shape(name, info) for name, info in model.model_fields.items() if name != "extra"}


def _shape(name: str, info: FieldInfo) -> Shape:
    blank = ... if info.is_required() else info.get_default(call_default_factory=True, validated_data={})
    kind, words = _kind(info.annotation)
    if kind == "words" and SEMICOLONS in info.metadata:
        kind = "names"
    if name == "handling":
        words = HANDLING
    told = _range(info) if kind in ("number", "numbers") else WANTED.get(kind, "a name")
    allowed = ", ".join(words) or told
    return Shape(kind, words, blank, allowed)


def _kind(annotation: Any) -> tuple[Kind, tuple[str, ...]]:
    if get_origin(annotation) in (Union, types.UnionType):
        (annotation,) = (part for part in get_args(annotation) if part is not type(None))
    annotation = (
        getattr(annotation, "__origin__", annotation) if hasattr(annotation, "__metadata__") else annotation
    )
    plain: dict[Any, tuple[Kind, tuple[str, ...]]] = {
        float: ("number", ()),
        date: ("day", ()),
        bool: ("word", ("yes", "no")),
        Trust: ("word", tuple(Trust)),
    }
    if annotation in plain:
        return plain[annotation]
    if get_origin(annotation) is Literal:
        return "word", get_args(annotation)
    if get_origin(annotation) is tuple:
        inner = get_args(annotation)[0]
        return ("numbers", ()) if inner is float else ("words", get_args(inner))
    return "text", ()


def _range(info: FieldInfo) -> str:
    limits: dict[str, float] = {}
    for bound in _bounds(info):
        limits.update({side: getattr(bound, side) for side in ("ge", "gt", "le") if hasattr(bound, side)})
    if "ge" in limits and "le" in limits:
        return f"a number from {limits['ge']:g} to {limits['le']:g}"
    if "gt" in limits and "le" in limits:
        return f"a number above {limits['gt']:g}, up to {limits['le']:g}"
    if "ge" in limits:
        return f"a number, {limits['ge']:g} or more"
    if "gt" in limits:
        return f"a number above {limits['gt']:g}"
    return "a number, decimals by '.'"


def _bounds(info: FieldInfo) -> Iterator[Any]:
    """Yield the bounds of a field, also those that the type of an optional one carries."""
    yield from info.metadata
    for part in get_args(info.annotation):
        for held in getattr(part, "__metadata__", ()):
            yield from held.metadata
