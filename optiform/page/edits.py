"""Changes single keys of a TOML file and leaves every other letter, comments too."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from optiform.brief.writing import toml_value
from optiform.faults import InternalError

HEADER = re.compile(r"\s*(\[\[?)(.+?)\]\]?\s*(#.*)?$")
"""A line that may begin a table."""
Place = tuple[str | int, ...]
"""Where a value stands: keys, and numbers of entries counted from 0."""


@dataclass(frozen=True)
class Edit:
    """One change: a value at a place, or nothing there any more (None). A number one past the last adds an entry."""

    place: Place
    value: Any


@dataclass
class _Piece:
    """The lines from one header to the next, and the place that the header names."""

    place: Place
    text: str


def edited(text: str, edits: list[Edit]) -> str:
    """Return a TOML text with changes made one after the other.

    Raises
    ------
    tomllib.TOMLDecodeError
        If the text is no TOML.
    InternalError
        If the result would say anything else than was asked: it is never written then.
    """
    for edit in edits:
        wanted = _wanted(tomllib.loads(text), edit)
        changed = _edited(text, edit)
        if tomllib.loads(changed) != wanted:
            raise InternalError(f"the change at {edit.place} cannot be written into this file")
        text = changed
    return text


def _wanted(keys: dict[str, Any], edit: Edit) -> dict[str, Any]:
    """Return the keys of a file after a change."""
    keys = copy.deepcopy(keys)
    *way, last = edit.place
    here: Any = keys
    for index, part in enumerate(way):
        if isinstance(here, dict):
            here = here.setdefault(part, [] if isinstance(edit.place[index + 1], int) else {})
        else:
            here = here[part]
    _put(here, last, edit.value)
    for depth in range(len(way), 0, -1):  # a table or list that holds nothing goes with its last entry
        parent: Any = keys
        for part in way[: depth - 1]:
            parent = parent[part]
        if edit.value is None and not parent[way[depth - 1]] and depth > 1 - isinstance(last, int):
            parent.pop(way[depth - 1])
        else:
            break
    return keys


def _edited(text: str, edit: Edit) -> str:
    pieces = _pieces(text)
    place = edit.place
    if len(place) == 2 and isinstance(place[1], int):
        same = [piece for piece in pieces if piece.place[:1] == place[:1] and len(piece.place) > 1]
        if same or not any(_has(piece, place[:1]) for piece in pieces):
            _entry(pieces, place, edit.value)
            return "".join(piece.text for piece in pieces)
    piece = _home(pieces, place)
    piece.text, above_next = _parted(piece.text)
    _end([piece])
    piece.text = _changed(piece, place, edit.value) + above_next
    return "".join(piece.text for piece in pieces)


def _pieces(text: str) -> list[_Piece]:
    """Return a file cut before each header; a line is one where everything before it is whole."""
    pieces = [_Piece((), "")]
    counts: dict[str, int] = {}
    for line in text.splitlines(keepends=True):
        found = HEADER.match(line)
        if found and _whole(pieces[-1].text):
            place = _place_of(found.group(2))
            name = str(place[0])
            if found.group(1) == "[[":
                counts[name] = counts.get(name, -1) + 1
                place = (*place, counts[name])
            elif name in counts:
                place = (place[0], counts[name], *place[1:])
            pieces.append(_Piece(place, line))
        else:
            pieces[-1].text += line
    return pieces


def _place_of(words: str) -> Place:
    """Return the keys of a header such as ``targets."active matter"``."""
    place: list[str] = []
    here: Any = tomllib.loads(f"[{words}]")
    while here:
        name, here = next(iter(here.items()))
        place.append(name)
    return tuple(place)


def _whole(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _has(piece: _Piece, place: Place) -> bool:
    """Tell whether a piece holds a value."""
    depth = len(piece.place)
    if piece.place != place[:depth]:
        return False
    here: Any = tomllib.loads(piece.text)
    for part in piece.place:
        here = here[0] if isinstance(part, int) else here[part]
    return _reached(here, place[depth:]) is not None


def _home(pieces: list[_Piece], place: Place) -> _Piece:
    """Return the piece that holds a value, or should; a new table where there is none."""
    for length in range(len(place), 0, -1):
        for piece in pieces:
            if len(piece.place) < len(place) and _has(piece, place[:length]) and len(piece.place) < length:
                return piece
    above = [piece for piece in pieces if piece.place == place[: len(piece.place)] and len(piece.place) > 0]
    if above:
        return max(above, key=lambda piece: len(piece.place))
    if len(place) == 1:
        return pieces[0]
    _end(pieces)
    pieces.append(_Piece(place[:1], f"\n[{place[0]}]\n"))
    return pieces[-1]


def _end(pieces: list[_Piece]) -> None:
    """Let the last line of a file end."""
    if pieces[-1].text and not pieces[-1].text.endswith("\n"):
        pieces[-1].text += "\n"


def _changed(piece: _Piece, place: Place, value: Any) -> str:
    """Return the text of a piece with one value changed."""
    import tomlkit
    from tomlkit.items import AoT

    document = tomlkit.parse(piece.text)
    here: Any = document
    for part in piece.place:
        here = here[0] if isinstance(part, int) and isinstance(here, AoT) else here[part]
    *way, last = place[len(piece.place) :]
    inner = _reached(here, way)
    if way and not (value is not None and inner is not None and last in inner):
        # what holds it is written anew, such as { at_least = 4, at_most = 5 }
        root = {"v": here[way[0]].unwrap() if way[0] in here else {}}
        target: Any = root["v"]
        for part in way[1:]:
            target = target.setdefault(part, {}) if isinstance(target, dict) else target[part]
        _put(target, last, value)
        inner, last, value = here, way[0], root["v"] or None
    if value is None:
        inner.pop(last, None)
        return tomlkit.dumps(document)
    if last not in inner and not piece.place:
        return _first(piece.text, str(last), value)
    written = tomlkit.parse(f"v = {toml_value(value)}\n")["v"]
    if last in inner:  # its comment stays
        old, new = inner[last].trivia, written.trivia
        new.comment_ws, new.comment = old.comment_ws, old.comment
    inner[last] = written
    return tomlkit.dumps(document)


def _reached(here: Any, way: Sequence[str | int]) -> Any:
    """Return the value at the end of a path of keys, or None."""
    for part in way:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def _first(text: str, key: str, value: Any) -> str:
    """Return the top of a file with one more key, after the last that is there."""
    lines = text.splitlines(keepends=True)
    last = max((number for number, line in enumerate(lines) if re.match(r"\s*[\w\"']", line)), default=-1)
    if last >= 0 and not lines[last].endswith("\n"):
        lines[last] += "\n"
    while last >= 0 and not _whole("".join(lines[: last + 1])):
        last += 1
    lines.insert(last + 1, f"{toml_key(key)} = {toml_value(value)}\n")
    return "".join(lines)


def _put(target: Any, last: str | int, value: Any) -> None:
    if isinstance(target, list) and last == len(target):
        target.append(value)
    elif value is None:
        target.pop(last, None) if isinstance(target, dict) else target.pop(last)
    else:
        target[last] = value


def toml_key(name: str) -> str:
    """Return a key as TOML writes it."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_value(name)


def _entry(pieces: list[_Piece], place: Place, value: Any) -> None:
    """Add, change or remove a whole `[[entry]]`; what is removed takes the comment above it along."""
    section, number = str(place[0]), place[1]
    at = next((index for index, piece in enumerate(pieces) if piece.place == place), None)
    lines = [f"{toml_key(name)} = {toml_value(item)}\n" for name, item in (value or {}).items()]
    written = "".join([f"[[{toml_key(section)}]]\n", *lines])
    if at is None:
        last = max((index for index, piece in enumerate(pieces) if piece.place[:1] == place[:1]), default=-1)
        _end(pieces)
        if last < 0:
            pieces.append(_Piece(place, f"\n{written}"))
            return
        body, above_next = _parted(pieces[last].text)
        pieces[last].text = f"{body.rstrip()}\n\n"
        pieces.insert(last + 1, _Piece(place, f"{written}{above_next or ''}"))
        return
    assert isinstance(number, int)
    _, above_next = _parted(pieces[at].text)
    if value is not None:
        pieces[at].text = f"{written}{above_next}"
        return
    before, _ = _parted(pieces[at - 1].text)
    pieces[at - 1].text = f"{before.rstrip()}\n{above_next}"
    del pieces[at]


def _parted(text: str) -> tuple[str, str]:
    """Return a piece's own lines, and the blank line and comment at its end, which speak of what comes next."""
    lines = text.splitlines(keepends=True)
    end = len(lines)
    while end and lines[end - 1].lstrip().startswith("#"):
        end -= 1
    blank = end
    while blank and not lines[blank - 1].strip():
        blank -= 1
    if blank == end:  # a comment right under the last key belongs to it
        return text, ""
    return "".join(lines[:blank]), "".join(lines[blank:])
