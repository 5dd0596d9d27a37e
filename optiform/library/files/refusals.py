"""Says what a typed model refuses: one fault in plain words for each error of pydantic."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from optiform.faults import nearest, shown
from optiform.library.files.columns import ID_WORDS

Model = TypeVar("Model", bound=BaseModel)
Location = Sequence[int | str]
WORDS = {
    "float_type": ("is not a number", "a number"),
    "float_parsing": ("is not a number", "a number"),
    "finite_number": ("is not a finite number", "a finite number"),
    "int_type": ("is not a whole number", "a whole number"),
    "int_from_float": ("is not a whole number", "a whole number"),
    "string_type": ("is not a text", "a text in quotes"),
    "string_too_short": ("is empty", "a text that is not empty"),
    "string_pattern_mismatch": ("is not allowed", ID_WORDS),
    "date_type": ("is not a day", "a day without quotes or hours, e.g. 2026-12-31"),
    "tuple_type": ("is not a list", "a list in brackets"),
    "too_short": ("is empty", "at least one entry"),
    "dict_type": ("is not a table", "a table of key = value"),
    "model_type": ("is not a table", "a table of key = value"),
}
"""For each kind of error what is wrong with a value, and what would be right."""

COMPARED = {"gt": "above", "ge": "of at least", "lt": "below", "le": "of at most"}


@dataclass(frozen=True)
class Refusal:
    """One value that a model refuses.

    Attributes
    ----------
    location : tuple of int or str
        The keys and list positions on the way to it.
    message, allowed, nearest : str
        As in a `Fault`.
    """

    location: tuple[int | str, ...]
    message: str
    allowed: str = ""
    nearest: str = ""


def refusals(model: type[BaseModel], error: ValidationError) -> Iterator[Refusal]:
    """Yield what a model refuses, in the order of its errors; a list of refused entries is not too short besides."""
    for detail in error.errors(include_url=False):
        if detail["type"] != "too_short" or not detail["input"]:
            location = _without_types(detail["loc"])
            yield Refusal(location, *_in_words(model, location, detail["type"], detail))


def _without_types(location: Location) -> tuple[int | str, ...]:
    """Return a location without the names of types that pydantic writes into it where a key may have several."""
    inner = (isinstance(part, str) and ("[" in part or "constrained" in part) for part in location)
    return tuple(part for part, named in zip(location, inner, strict=True) if not named)


def _in_words(model: type[BaseModel], location: Location, kind: str, detail: Any) -> tuple[str, str, str]:
    """Return message, what is allowed and the nearest name for one error."""
    value, context = detail["input"], detail.get("ctx", {})
    if kind == "extra_forbidden":
        known = tuple(model_at(model, location[:-1]).model_fields)
        return "unknown key", ", ".join(known), nearest(str(location[-1]), known)
    if kind == "missing":
        return "this is missing", "", ""
    if kind in ("literal_error", "enum"):
        words = [word.strip(" '") for word in context["expected"].replace(" or ", ", ").split(",")]
        near = nearest(value, words) if isinstance(value, str) else ""
        return f"{shown(value)} is not known", ", ".join(words), near
    if kind == "too_long":
        return f"{shown(value)} has too many entries", f"{context['max_length']} entries", ""
    for side, compared in COMPARED.items():
        if side in context:
            return f"{shown(value)} is out of range", f"a number {compared} {context[side]:g}", ""
    message, allowed = WORDS.get(kind, ("cannot be used", str(detail["msg"])))
    return f"{shown(value)} {message}", allowed, ""


def model_at(model: type[BaseModel], location: Location) -> type[BaseModel]:
    """Return the model that holds the key at a location."""
    for key in location:
        if isinstance(key, str) and key in model.model_fields:
            kinds = get_args(model.model_fields[key].annotation) or (model.model_fields[key].annotation,)
            inner = next((k for k in kinds if isinstance(k, type) and issubclass(k, BaseModel)), None)
            model = model if inner is None else inner
    return model


def sound_part(
    model: type[Model], data: Mapping[str, Any], usual: Mapping[str, Any] | None = None
) -> Model | None:
    """Return a model of what is sound in some keys, so that the rest can be checked as well; None if nothing is.

    First the keys that are refused are left out, then the whole entries.

    Parameters
    ----------
    usual : mapping, optional
        Stands in for needed keys that are not sound themselves.
    """
    kept = copy.deepcopy(dict(data))
    for left in (_without_keys, _without_entries):
        try:
            return model.model_validate(kept)
        except ValidationError as error:
            refused = [detail["loc"] for detail in error.errors(include_url=False)]
        kept = {**(usual or {}), **left(kept, refused)}
    try:
        return model.model_validate(kept)
    except ValidationError:
        return None


def _without_keys(data: dict[str, Any], refused: Iterable[Location]) -> dict[str, Any]:
    """Return keys without each one that was refused, where it stands in a table; the mapping itself is changed."""
    for location in refused:
        parent: Any = data
        with suppress(KeyError, IndexError, TypeError):
            for key in location[:-1]:
                parent = parent[key]
            if isinstance(parent, dict):
                parent.pop(location[-1], None)
    return data


def _without_entries(data: dict[str, Any], refused: Iterable[Location]) -> dict[str, Any]:
    """Return keys without each entry of a list or table that was refused, and without other keys that were."""
    gone = {tuple(location[:2]) for location in refused}
    kept: dict[str, Any] = {}
    for key, value in data.items():
        if isinstance(value, list | tuple):
            kept[key] = [item for i, item in enumerate(value) if (key, i) not in gone]
        elif isinstance(value, Mapping):
            kept[key] = {name: item for name, item in value.items() if (key, name) not in gone}
        elif all(location[0] != key for location in gone):
            kept[key] = value
    return {key: value for key, value in kept.items() if (key,) not in gone}
