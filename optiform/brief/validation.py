"""Validates the keys of a brief, and names every fault by its place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError

from optiform.brief.keys import LISTS, SCALARS, TABLES, BriefKeys
from optiform.brief.models import Target
from optiform.faults import Faults, nearest, shown
from optiform.library.files.refusals import Location, refusals, sound_part
from optiform.library.models import Frozen

Entry = TypeVar("Entry", bound=Frozen)
NUMBERS = ("at_least", "at_most", "times", "ratio")
LOTS = "all, or a share above 0 and at most 1"


@dataclass(frozen=True)
class Entries:
    """What of a brief could be read: scalars, tables by name, and list entries with their number."""

    scalars: dict[str, Any]
    tables: dict[str, Any]
    targets: dict[str, Any]
    lists: dict[str, list[tuple[int, Any]]]


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
    refuse_unknown(mapping, tuple(BriefKeys.model_fields), faults)
    return Entries(
        scalars=_scalars(mapping, faults),
        tables=_tables(mapping, faults),
        targets=_targets(mapping, faults),
        lists={name: read_list(_kind(name), mapping, name, faults) for name in LISTS},
    )


def refuse_unknown(mapping: Mapping[str, Any], known: tuple[str, ...], faults: Faults) -> None:
    """Note the keys of a file that nothing reads."""
    for key in mapping:
        if key not in known:
            faults.add(str(key), "unknown key", allowed=", ".join(known), nearest=nearest(str(key), known))


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
            _note(BriefKeys, error, name, faults)
    return found


def _tables(mapping: Mapping[str, Any], faults: Faults) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in TABLES:
        model = _kind(name)
        if name in mapping:
            written = mapping[name]
            read = read_one(model, written, f"[{name}]", faults)
            if read is None and isinstance(written, Mapping):
                read = sound_part(model, written)
            if read is not None:
                found[name] = read
        else:
            found[name] = BriefKeys.model_fields[name].get_default(call_default_factory=True)
    return found


def _targets(mapping: Mapping[str, Any], faults: Faults) -> dict[str, Any]:
    written = mapping.get("targets", {})
    if not isinstance(written, Mapping):
        faults.add(
            "[targets]",
            f"{shown(written)} is not a table",
            allowed="measure = { at_least = ..., at_most = ... }",
        )
        return {}
    pairs = (
        (str(name), read_one(Target, value, target_place(str(name)), faults))
        for name, value in written.items()
    )
    return {name: target for name, target in pairs if target is not None}


def read_list(
    model: type[Frozen], mapping: Mapping[str, Any], name: str, faults: Faults
) -> list[tuple[int, Any]]:
    """Return the tables of one list, each with its number from 1, after noting what is wrong with them."""
    written = mapping.get(name, ())
    if isinstance(written, Mapping) or not isinstance(written, Sequence) or isinstance(written, str):
        faults.add(
            f"[[{name}]]", f"{shown(written)} is not a list of tables", allowed=f"one or more [[{name}]]"
        )
        return []
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
        _note(model, error, where, faults)
        return None
    return read if len(faults.found) == before else None


def _inside(where: str, key: str) -> str:
    """Return the place of a key: ``[aim] tie``, ``[[include]] 2, material``; the whole where no key is named."""
    if not key:
        return where
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


def _note(model: type[BaseModel], error: ValidationError, where: str, faults: Faults) -> None:
    """Note what a model refuses, one fault for each place."""
    seen = {fault.place for fault in faults.found}
    for refusal in refusals(model, error):
        spot = _inside(where, ", ".join(_numbered(refusal.location)))
        if spot not in seen:
            seen.add(spot)
            allowed = LOTS if refusal.location[-1:] == ("lots",) else refusal.allowed
            faults.add(spot, refusal.message, allowed=allowed, nearest=refusal.nearest)


def _kind(name: str) -> type[Frozen]:
    """Return the model of a table of a brief, or of one entry of a list."""
    annotation = BriefKeys.model_fields[name].annotation
    kinds = get_args(annotation) or (annotation,)
    return next(kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Frozen))


def _numbered(location: Location) -> tuple[str, ...]:
    return tuple(f"entry {part + 1}" if isinstance(part, int) else str(part) for part in location)
