"""Reads a material's specification as somebody typed it, in words or in a TOML file."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any

from optiform.faults import BadInput, Faults
from optiform.library.files.columns import number
from optiform.library.files.toml_file import read_toml

CONTENT = "INCI=percent, or INCI=percent:low:high"
LISTS = ("also", "handling", "tags")


def typed_specification(
    given: Mapping[str, Any],
    contents: Iterable[str] = (),
    columns: Iterable[str] = (),
    file: str | Path | None = None,
    own_columns: Collection[str] = (),
) -> dict[str, Any]:
    """Return the keys of a specification: those of a file, overruled by what was typed beside it.

    Parameters
    ----------
    given : mapping
        Keys with their values; None means not given.
    contents : iterable of str
        Substances, each as ``INCI=percent`` or ``INCI=percent:low:high``.
    columns : iterable of str
        Further columns, each as ``column=value``.
    own_columns : collection of str
        Columns of materials.csv that are the library's own, because a measure of it names them.

    Raises
    ------
    BadInput
        With every word that cannot be read.
    """
    faults = Faults()
    keys: dict[str, Any] = {}
    if file is not None:
        keys.update(read_toml(Path(file), faults) or {})
    keys.update({name: value for name, value in given.items() if value is not None})
    for text in columns:
        name, equals, value = text.partition("=")
        if not equals:
            faults.add("--set", f"'{text}' has no value", allowed="column=value")
        else:
            _set(keys, name.strip(), value.strip(), own_columns)
    parts = [part for text in contents if (part := _content(text, faults)) is not None]
    if parts:
        keys["contents"] = parts
    if faults.found:
        raise BadInput(faults.found)
    return keys


def _set(keys: dict[str, Any], name: str, text: str, own_columns: Collection[str]) -> None:
    """Set one column: a list of words, a number where it reads as one, or the text itself."""
    value: Any = number(text)
    if name in LISTS:
        keys[name] = tuple(text.split())
    elif name in own_columns and value is not None:
        keys["extra"] = {**keys.get("extra", {}), name: value}
    else:
        keys[name] = text if value is None else value


def _content(text: str, faults: Faults) -> dict[str, Any] | None:
    inci, equals, amounts = text.rpartition("=")
    values = [number(amount.strip()) for amount in amounts.split(":")]
    if not equals or not inci.strip() or len(values) not in (1, 3) or None in values:
        faults.add("--content", f"'{text}' cannot be read", allowed=CONTENT)
        return None
    return {"inci": inci.strip(), **dict(zip(("percent", "low", "high"), values, strict=False))}
