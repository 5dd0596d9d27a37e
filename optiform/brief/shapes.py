"""From a mapping to typed keys, with every fault named by its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar, get_args

from pydantic import TypeAdapter, ValidationError

from optiform.brief.keys import LISTS, SCALARS, TABLES, BriefKeys
from optiform.faults import Faults, nearest, shown
from optiform.library.models import Frozen

Entry = TypeVar("Entry", bound=Frozen)
NUMBERS = ("at_least", "at_most", "times", "ratio")
WORDS = {
    "float_type": ("is not a number", "a number"),
    "float_parsing": ("is not a number", "a number"),
    "finite_number": ("is no bound", "a finite number"),
    "int_type": ("is not a whole number", "a whole number"),
    "int_from_float": ("is not a whole number", "a whole number"),
    "string_type": ("is not a text", 'a text in "quotes"'),
    "string_too_short": ("is empty", "a text"),
    "date_type": ("is not a day", "a day without quotes or hours, e.g. 2026-12-31"),
    "tuple_type": ("is not a list", 'a list, e.g. ["one", "two"]'),
    "too_short": ("is empty", "at least one entry"),
    "dict_type": ("is not a table", "a table of keys"),
}
COMPARED = {
    "greater_than_equal": ("ge", "at least"),
    "greater_than": ("gt", "more than"),
    "less_than_equal": ("le", "at most"),
    "less_than": ("lt", "less than"),
}


@dataclass(frozen=True)
class Entries:
    """What of a brief could be read: scalars, tables by name, and list entries with their number."""

    scalars: dict[str, Any]
    tables: dict[str, Any]
    targets: dict[str, Any]
    lists: dict[str, list[tuple[int, Any]]]
    given: frozenset[str] = field(default_factory=frozenset)


def place(section: str, number: int, key: str = "") -> str:
    """Return the place of a list entry, e.g. ``[[include]] 2, material``."""
    return f"[[{section}]] {number}" + (f", {key}" if key else "")


def target_place(name: str, key: str = "") -> str:
    """Return the place of a target, e.g. ``[targets] "active matter", at_most``."""
    return f'[targets] "{name}"' + (f", {key}" if key else "")


def read_entries(mapping: Mapping[str, Any], faults: Faults) -> Entries:
    """Validate each key, table and list entry of a brief by itself, noting every fault.

    Parameters
    ----------
    faults : Faults
        Gathers what is wrong; an entry with a fault is left out of the result.
    """
    known = tuple(BriefKeys.model_fields)
    for key in mapping:
        if key not in known:
            faults.add(str(key), "unknown key", allowed=", ".join(known), nearest=nearest(str(key), known))
    return Entries(
        scalars=_scalars(mapping, faults),
        tables=_tables(mapping, faults),
        targets=_targets(mapping, faults),
        lists={name: _list(mapping, name, faults) for name in LISTS},
        given=frozenset(str(key) for key in mapping),
    )


def _scalars(mapping: Mapping[str, Any], faults: Faults) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in SCALARS:
        info = BriefKeys.model_fields[name]
        if name not in mapping:
            if info.is_required():
                faults.add(name, "missing", allowed="a text")
            else:
                found[name] = info.get_default(call_default_factory=True)
            continue
        value = mapping[name]
        adapter: TypeAdapter[Any] = TypeAdapter(info.rebuild_annotation())
        try:
            found[name] = adapter.validate_python(value.strip() if isinstance(value, str) else value)
        except ValidationError as error:
            _translate(error, lambda loc, top=name: ", ".join((top, *_numbered(loc))), (), faults)
    return found


def _tables(mapping: Mapping[str, Any], faults: Faults) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in TABLES:
        model = next(
            kind for kind in _kinds(BriefKeys.model_fields[name].annotation) if issubclass(kind, Frozen)
        )
        if name in mapping:
            read = read_one(model, mapping[name], f"[{name}]", faults) or _readable(model, mapping[name])
            if read is not None:
                found[name] = read
        else:
            found[name] = BriefKeys.model_fields[name].get_default(call_default_factory=True)
    return found


def _readable(model: type[Frozen], value: Any) -> Frozen | None:
    """Return a table without its faulty keys, so that what else is wrong in it is told at once; None if it is nothing.

    For checks alone: its faults are noted, so no brief is ever made of it.
    """
    if not isinstance(value, Mapping):
        return None
    try:
        return model.model_validate(dict(value))
    except ValidationError as error:
        faulty = {item["loc"][:2] for item in error.errors(include_url=False)}
    kept: dict[str, Any] = {}
    for key, written in value.items():
        inner = {loc[1] for loc in faulty if loc[0] == key and len(loc) > 1}
        if isinstance(written, Mapping) and inner:
            kept[key] = {name: item for name, item in written.items() if name not in inner}
        elif not any(loc[0] == key for loc in faulty):
            kept[key] = written
    try:
        return model.model_validate(kept)
    except ValidationError:
        return None


def _targets(mapping: Mapping[str, Any], faults: Faults) -> dict[str, Any]:
    written = mapping.get("targets", {})
    if not isinstance(written, Mapping):
        faults.add(
            "[targets]",
            f"{shown(written)} is not a table",
            allowed="measure = { at_least = ..., at_most = ... }",
        )
        return {}
    model = _kinds(BriefKeys.model_fields["targets"].annotation)[1]
    pairs = (
        (str(name), read_one(model, value, target_place(str(name)), faults))
        for name, value in written.items()
    )
    return {name: target for name, target in pairs if target is not None}


def _list(mapping: Mapping[str, Any], name: str, faults: Faults) -> list[tuple[int, Any]]:
    written = mapping.get(name, ())
    if isinstance(written, Mapping) or not isinstance(written, Sequence) or isinstance(written, str):
        faults.add(
            f"[[{name}]]", f"{shown(written)} is not a list of tables", allowed=f"one or more [[{name}]]"
        )
        return []
    model = _kinds(BriefKeys.model_fields[name].annotation)[0]
    read = [
        (number, read_one(model, entry, place(name, number), faults))
        for number, entry in enumerate(written, 1)
    ]
    return [(number, entry) for number, entry in read if entry is not None]


def read_one(model: type[Entry], value: Any, where: str, faults: Faults) -> Entry | None:
    """Return one table as its model, or None after noting what is wrong with it."""
    if not isinstance(value, Mapping):
        faults.add(where, f"{shown(value)} is not a table", allowed="keys " + ", ".join(model.model_fields))
        return None
    before = len(faults.found)
    _only_numbers(value, where, faults)
    try:
        read = model.model_validate(dict(value))
    except ValidationError as error:
        _translate(
            error, lambda loc: _inside(where, ", ".join(_numbered(loc))), tuple(model.model_fields), faults
        )
        return None
    return read if len(faults.found) == before else None


def _inside(where: str, key: str) -> str:
    """Return the place of a key: ``[aim] tie``, ``[[include]] 2, material``."""
    return f"{where}{' ' if where.endswith(']') else ', '}{key}"


def _only_numbers(value: Mapping[str, Any], where: str, faults: Faults) -> None:
    """Refuse yes and no, and infinite or quoted numbers, which the rules of a library would let pass."""
    for key, written in value.items():
        if key == "terms" and isinstance(written, Sequence):
            for number, term in enumerate(written, 1):
                if isinstance(term, Mapping):
                    _only_numbers(term, f"{where}, terms, entry {number}", faults)
        if key not in NUMBERS:
            continue
        if isinstance(written, bool | str):
            faults.add(_inside(where, key), f"{shown(written)} is not a number", allowed="a number")
        elif isinstance(written, float) and not abs(written) < float("inf"):
            faults.add(_inside(where, key), f"{shown(written)} is no bound", allowed="a finite number")


def _translate(error: ValidationError, where: Any, keys: tuple[str, ...], faults: Faults) -> None:
    """Say pydantic's errors in the words of a brief, one fault per place."""
    seen = {fault.place for fault in faults.found}
    for item in error.errors(include_url=False):
        kind, loc, value = item["type"], item["loc"], item["input"]
        loc = tuple(
            part for part in loc if not (isinstance(part, str) and ("[" in part or "constrained" in part))
        )
        spot = where(loc)
        if spot in seen or (kind == "too_short" and value):
            continue
        seen.add(spot)
        context = item.get("ctx", {})
        if kind == "extra_forbidden":
            known = keys if len(loc) == 1 else ("measure", "material", "times")
            faults.add(spot, "unknown key", allowed=", ".join(known), nearest=nearest(str(loc[-1]), known))
        elif kind == "missing":
            faults.add(spot, "missing", allowed="it is required")
        elif kind == "literal_error":
            allowed = str(context["expected"]).replace("'", "").replace(" or ", ", ")
            if loc[-1:] == ("lots",):
                allowed = "all, or a share above 0 and at most 1"
            faults.add(spot, f"{shown(value)} is not known", allowed=allowed, nearest=_near(value, allowed))
        elif kind in COMPARED:
            bound, words = COMPARED[kind]
            faults.add(spot, f"{shown(value)} is out of range", allowed=f"{words} {context[bound]:g}")
        else:
            message, allowed = WORDS.get(kind, ("cannot be used", item["msg"]))
            faults.add(spot, f"{shown(value)} {message}", allowed=allowed)


def _kinds(annotation: Any) -> tuple[Any, ...]:
    """Return the types inside an annotation such as ``X | None``, ``tuple[X, ...]`` or ``X`` itself."""
    return tuple(kind for kind in get_args(annotation) if isinstance(kind, type)) or (annotation,)


def _numbered(loc: tuple[int | str, ...]) -> tuple[str, ...]:
    return tuple(f"entry {part + 1}" if isinstance(part, int) else str(part) for part in loc)


def _near(value: Any, allowed: str) -> str:
    return nearest(value, allowed.split(", ")) if isinstance(value, str) else ""
