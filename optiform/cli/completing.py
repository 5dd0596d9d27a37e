"""What a shell offers when Tab is pressed: files that fit, materials of the library in use, measures, and words.

Nothing here solves, writes or complains: a brief or library that cannot be read offers nothing.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optiform.faults import BadInput, Faults

if TYPE_CHECKING:
    from optiform.library import Library

ASKED = "_OPTIFORM_COMPLETE"
"""Set by the script of a shell when Tab is pressed."""

BRIEFS, FORMULAS = (".toml",), (".csv", ".xlsx", ".json")
Offers = list[tuple[str, str]]
"""What may be put on the command line, each with what a shell that shows help says beside it."""


def offering(offers: Callable[[Any, str], Offers]) -> Callable[[Any, str], Offers]:
    """Return a completer that offers nothing where a file on the command line cannot be read."""

    def complete(ctx: Any, incomplete: str) -> Offers:
        try:
            return offers(ctx, incomplete)
        except (BadInput, OSError, ValueError):
            return []

    return complete


@contextmanager
def as_bash_reads() -> Iterator[None]:
    """Write what bash is offered as it stands on a command line: a space inside a word as bash types it."""
    words = os.environ.get("COMP_WORDS", "").splitlines()
    place = os.environ.get("COMP_CWORD", "")
    typed = words[int(place)] if place.isdecimal() and int(place) < len(words) else ""
    if os.environ.get(ASKED) != "complete_bash" or typed[:1] in ("'", '"'):
        yield
        return
    with redirect_stdout(StringIO()) as offered:
        try:
            yield
        finally:
            print(offered.getvalue().replace(" ", "\\ "), end="", file=sys.__stdout__)


def _files(incomplete: str, endings: tuple[str, ...]) -> Offers:
    """Return the files with one of these endings; nothing where a folder fits, since a shell goes into it better."""
    folder, start = os.path.split(incomplete)
    fitting = [path for path in Path(folder or ".").iterdir() if path.name.startswith(start)]
    if any(path.is_dir() for path in fitting):
        return []
    typed = incomplete.removesuffix(start)
    return [(typed + path.name, "") for path in sorted(fitting) if path.suffix in endings]


@offering
def briefs(_: Any, incomplete: str) -> Offers:
    """Offer briefs."""
    return _files(incomplete, BRIEFS)


@offering
def formulas(_: Any, incomplete: str) -> Offers:
    """Offer files that may hold a formula."""
    return _files(incomplete, FORMULAS)


@offering
def materials(ctx: Any, _: str) -> Offers:
    """Offer the ids of the materials of the library in use."""
    return [(item.id, item.name) for item in _library(ctx).materials]


@offering
def additions(ctx: Any, _: str) -> Offers:
    """Offer the ids of materials as the beginning of ID=MASS."""
    return [(f"{item.id}=", item.name) for item in _library(ctx).materials]


@offering
def measures(ctx: Any, _: str) -> Offers:
    """Offer the measures that have a name of their own."""
    from optiform.measures import Catalogue

    return [(name, "") for name in Catalogue(_library(ctx)).names()]


@offering
def skins(_: Any, __: str) -> Offers:
    """Offer for whom a starter brief can be."""
    from optiform.brief.starting import skins as known

    return [(word, "") for word in known()]


@offering
def textures(_: Any, __: str) -> Offers:
    """Offer how a starter brief can feel."""
    from optiform.brief.starting import textures as known

    return [(word, "") for word in known()]


@offering
def functions(_: Any, __: str) -> Offers:
    """Offer what a material can be there for."""
    from optiform.library.selection import FUNCTIONS

    return [(word, "") for word in FUNCTIONS]


@offering
def questions(_: Any, __: str) -> Offers:
    """Offer the commands that have a JSON document."""
    from optiform.views.data.json_document import QUESTIONS

    return [(question, "") for question in QUESTIONS]


def _library(ctx: Any) -> Library:
    """Return the library that the words so far name, by themselves or by their brief; else the starter library."""
    from optiform.library import load_library
    from optiform.library.files.toml_file import read_toml

    named, brief = ctx.params.get("library"), ctx.params.get("brief")
    if named is None and brief is not None:
        faults = Faults()
        stated = (read_toml(Path(brief), faults) or {}).get("library")
        faults.raise_if_any()
        named = None if stated is None else Path(brief).parent / str(stated)
    return load_library(named)
