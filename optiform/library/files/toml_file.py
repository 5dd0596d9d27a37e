"""Reads TOML files, and library.toml with its measures, systems and rules."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from pydantic import Field, ValidationError

from optiform.faults import UNPRINTABLE, Faults, printable
from optiform.library.files.columns import shortened
from optiform.library.files.opening import KEYS_BYTES, read_text
from optiform.library.files.refusals import refusals, sound_part
from optiform.library.models import (
    Base,
    ColumnMeasure,
    Frozen,
    Incompatible,
    LinearRule,
    Needs,
    Note,
    PreservativeSystem,
    Trust,
    When,
)

WANTED = "a TOML file in UTF-8"
DEEPEST = 20
LONGEST = 10_000
MANY_DOTS = re.compile(r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){100}""")
"""A key of a hundred parts; read as TOML it would take longer than anything sensible does."""


class LibraryKeys(Frozen):
    """The keys of library.toml, as the user writes them."""

    name: str = Field(min_length=1)
    currency: str = Field(default="EUR", min_length=1)
    trust: dict[str, Trust] = Field(default_factory=dict)
    measure: tuple[ColumnMeasure, ...] = ()
    system: tuple[PreservativeSystem, ...] = ()
    base: tuple[Base, ...] = ()
    needs: tuple[Needs, ...] = ()
    incompatible: tuple[Incompatible, ...] = ()
    when: tuple[When, ...] = ()
    linear: tuple[LinearRule, ...] = ()
    note: tuple[Note, ...] = ()


def read_toml(path: Path, faults: Faults) -> dict[str, Any] | None:
    """Return the keys of a TOML file, or None after noting why it cannot be read.

    Refused as well: what TOML allows and no file of ours has, nesting beyond `DEEPEST`, lists beyond `LONGEST`,
    whole numbers beyond 64 bits.
    """
    text = read_text(path, faults, most=KEYS_BYTES, allowed=WANTED)
    return None if text is None else parsed_toml(text, path, faults)


def parsed_toml(text: str, path: str | Path, faults: Faults) -> dict[str, Any] | None:
    """Return the keys of a text in TOML, or None after noting why it is none; see `read_toml`."""
    if MANY_DOTS.search(text):
        faults.add("", "a key of more than 100 parts", allowed=WANTED, file=path)
        return None
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"))
    except (ValueError, RecursionError) as error:
        message, _, place = _why_not(error).partition(" (at ")
        faults.add(place.rstrip(")"), f"not valid TOML: {message}", allowed=WANTED, file=path)
        return None
    before = len(faults.found)
    for place, message, allowed in _outsized(data):
        faults.add(place, message, allowed=allowed, file=path)
    return data if len(faults.found) == before else None


def _why_not(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "nested too deeply"
    return str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a number of too many digits"


def _outsized(data: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Yield place, message and what is allowed for whatever is larger than a file of ours can be."""
    for place, value, depth in _values(data):
        if isinstance(value, int) and not -(2**63) <= value < 2**63:
            yield place, "a whole number of more than 64 bits", "a number of fewer digits"
        if not isinstance(value, dict | list):
            continue
        if depth == DEEPEST:
            yield place, "nested too deeply", f"at most {DEEPEST} tables or lists inside each other"
        elif len(value) > LONGEST:
            yield place, f"{len(value):,} entries", f"at most {LONGEST:,}"


def _values(data: dict[str, Any]) -> Iterator[tuple[str, Any, int]]:
    """Yield place, value and depth of the keys and values of a file, as deep as `DEEPEST`."""
    waiting: list[tuple[str, Any, int]] = [("", data, 0)]
    while waiting:
        place, value, depth = waiting.pop()
        yield place, value, depth
        if depth == DEEPEST or not isinstance(value, dict | list) or len(value) > LONGEST:
            continue
        before = f"{place}, " if place else ""
        if isinstance(value, dict):
            for key, inner in value.items():
                yield place, key, depth
                waiting.append((f"{before}key {key}", inner, depth + 1))
        else:
            waiting += [(f"{before}entry {i}", entry, depth + 1) for i, entry in enumerate(value, 1)]


def read_keys(path: Path, faults: Faults) -> LibraryKeys | None:
    """Read library.toml, noting each fault with its place; what is sound is returned even where other parts are not."""
    data = read_toml(path, faults)
    if data is None:
        return None
    for place, value, _ in _values(data):
        found = UNPRINTABLE.search(value.replace("\t", " ")) if isinstance(value, str) else None
        if found is not None:
            message = f"a control character ({printable(found.group())}) stands in '{value}'"
            faults.add(place, message, allowed="text without it", file=path)
    for place in _booleans(data):
        faults.add(place, "true and false mean nothing here", allowed="a number or a text", file=path)
    try:
        return LibraryKeys.model_validate(data)
    except ValidationError as error:
        for refusal in refusals(LibraryKeys, error):
            spot, allowed = refusal.location, refusal.allowed
            if len(spot) == 1 and refusal.message.endswith("is not a list"):
                allowed = f"a list of tables, each begun with [[{spot[0]}]]"
            place = where(spot, data)
            faults.add(place, refusal.message, allowed=allowed, nearest=refusal.nearest, file=path)
    return sound_part(LibraryKeys, data, {"name": "unnamed"})


def where(location: Sequence[int | str], data: dict[str, Any]) -> str:
    """Return the place of a key in words: ``[[system]] 2 (benzoate), key pH``."""
    head, rest = str(location[0]), list(location[1:])
    value = data.get(head)
    if isinstance(value, list) and rest and isinstance(rest[0], int):
        number = int(rest.pop(0))
        entry = value[number] if number < len(value) else {}
        named = entry.get("name") if isinstance(entry, dict) else None
        place = f"[[{head}]] {number + 1}" + (f" ({shortened(str(named))})" if named else "")
    elif isinstance(value, dict):
        place = f"[{head}]"
    else:
        return f"key {head}"
    keys = [f"entry {key + 1}" if isinstance(key, int) else f"key {key}" for key in rest if key != "[key]"]
    return ", ".join([place, *keys])


def _booleans(data: Any, location: tuple[int | str, ...] = (), whole: Any = None) -> Iterator[str]:
    whole = data if whole is None else whole
    if isinstance(data, bool):
        yield where(location, whole)
    elif isinstance(data, dict):
        for key, value in data.items():
            yield from _booleans(value, (*location, key), whole)
    elif isinstance(data, list):
        for i, value in enumerate(data):
            yield from _booleans(value, (*location, i), whole)
