"""Writes a brief as TOML text that reads back equal."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from optiform.brief.keys import SCALARS, SECTIONS
from optiform.faults import UNPRINTABLE

BARE = re.compile(r"[A-Za-z0-9_-]+")
ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def write_brief(brief: Mapping[str, Any]) -> str:
    """Return a brief as TOML 1.0, scalars first and tables in their usual order; `tomllib` reads it back equal.

    Keys with the value None are left out.

    Raises
    ------
    TypeError
        If a value has no place in a brief: anything but text, numbers, yes or no, lists and tables.
    """
    known = (*SCALARS, *SECTIONS)
    order = [key for key in known if key in brief] + [key for key in brief if key not in known]
    kept = {key: brief[key] for key in order if brief[key] is not None}
    lines = [f"{_key(key)} = {toml_value(value)}" for key, value in kept.items() if not _is_section(value)]
    for key, value in kept.items():
        if not _is_section(value):
            continue
        for head, table in (
            [(f"[[{_key(key)}]]", each) for each in value] if _is_list(value) else [(f"[{_key(key)}]", value)]
        ):
            lines += ["", head]
            lines += [
                f"{_key(name)} = {toml_value(item)}" for name, item in table.items() if item is not None
            ]
    return "\n".join(lines).lstrip("\n") + "\n"


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _is_section(value: Any) -> bool:
    if _is_list(value):
        return bool(value) and all(isinstance(each, Mapping) for each in value)
    return isinstance(value, Mapping)


def _key(name: Any) -> str:
    text = str(name)
    return text if BARE.fullmatch(text) else _text(text)


def _text(text: str) -> str:
    safe = "".join(
        ESCAPES.get(mark) or (f"\\u{ord(mark):04X}" if UNPRINTABLE.match(mark) else mark)
        for mark in text.encode("utf-8", "replace").decode("utf-8")
    )
    return f'"{safe}"'


def toml_value(value: Any) -> str:
    """Return a value as TOML writes it inline."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | date):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        inside = ", ".join(
            f"{_key(name)} = {toml_value(item)}" for name, item in value.items() if item is not None
        )
        return f"{{ {inside} }}" if inside else "{}"
    if not _is_list(value):
        raise TypeError(f"{value!r} has no place in a brief")
    return "[" + ", ".join(toml_value(item) for item in value) + "]"
