"""Writes a commented starter brief for a kind of skin and a feel."""

from __future__ import annotations

import textwrap
import tomllib
from functools import cache, partial
from importlib import resources
from typing import TYPE_CHECKING, Any

from optiform.brief.writing import toml_value
from optiform.faults import BadInput, Fault, nearest, printable
from optiform.library import Library, load_library, select
from optiform.library.selection import KINDS
from optiform.measures.parts import known_tags

if TYPE_CHECKING:
    from jinja2 import Template

BUFFER = {
    "at_least": 1.5,
    "why": "a buffer, in mmol of acid or base per 100 g and pH: at 1.5 nine likely lots in ten of these washes "
    "stand less than 0.7 above or 0.4 below the pH of the formula, and above 4.5, where ether sulfates split; "
    "at 1.0 they do not. Our choice, no source",
}


def skins() -> tuple[str, ...]:
    """Return the kinds of skin that a starter brief can be written for."""
    return tuple(_data("skins"))


def textures() -> tuple[str, ...]:
    """Return the feels that a starter brief can be written for."""
    return tuple(_data("textures"))


def described(kind: str, word: str) -> str:
    """Return what a kind of skin or a feel is called; `kind` is ``skins`` or ``textures``."""
    return str(_data(kind)[word]["words"])


def starter_brief(skin: str, texture: str, library: Library | None = None, title: str | None = None) -> str:
    """Return a commented brief, ready to be solved and edited.

    Parameters
    ----------
    skin, texture : str
        One of `skins()` and one of `textures()`.
    library : Library, optional
        Only what it holds is named; without it the starter library is meant.

    Raises
    ------
    BadInput
        If the skin or the texture is unknown.

    Notes
    -----
    The guards against silly formulas stand in the brief itself, where they can be read and changed:
    no corner of a single surfactant, an anionic share, a floor under active matter and mildness, a
    pH window in which preservatives work, a floor under the extract, few ingredients, amounts that
    can be weighed.
    """
    faults = [
        Fault("", what, f"'{word}' is not known", allowed=", ".join(known), nearest=nearest(word, known))
        for what, word, known in (("skin", skin, skins()), ("texture", texture, textures()))
        if word not in known
    ]
    if faults:
        raise BadInput(faults)
    kind, feel = _data("skins")[skin], _data("textures")[texture]
    name = (title or "").strip() or f"{kind['name']} {feel['words']}, {kind['words']}"
    held = library if library is not None else _shipped()
    shipped = library is None or not library.folder or library.folder == _shipped().folder
    tags = known_tags(held)
    unwanted = [*kind["exclude"], *feel.get("exclude", ())]
    harsh = [inci for inci in kind.get("exclude_substances", ()) if inci in held.substance]
    return _template().render(
        kind=kind,
        feel=feel,
        title=name,
        folder="" if shipped or library is None else library.folder,
        notes=[*kind["notes"], *feel["notes"], *_unusual(skin, feel)],
        buffer=BUFFER,
        tags=tags,
        substances=held.substance,
        functions={word for material in held.materials for word in material.functions},
        reference=partial(_reference, library=held),
        extract=next((extract for extract in kind["extracts"] if extract in held.material), None),
        excluded=[
            *(f"tag = {toml_value(tag)}" for tag in unwanted if tag in tags),
            *(f"substance = {toml_value(inci)}" for inci in harsh),
        ],
        absent=[tag for tag in unwanted if tag not in tags],
        systems=len(held.systems),
    )


@cache
def _template() -> Template:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("optiform.brief", "templates"),
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    found.filters |= {"comment": _comment, "printable": printable, "toml": toml_value}
    return found.get_template("brief.toml.j2")


@cache
def _data(name: str) -> dict[str, Any]:
    text = resources.files("optiform.brief").joinpath("templates", f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _shipped() -> Library:
    return load_library()


def _unusual(skin: str, feel: dict[str, Any]) -> list[str]:
    """Return a line where this kind of skin seldom wants this feel."""
    if skin in feel["for"]:
        return []
    usual = ", ".join(_data("skins")[other]["words"] for other in feel["for"])
    return [f"This feel is made for {usual}; on others it is an experiment."]


def _reference(entry: dict[str, Any], library: Library) -> str:
    """Return the line that names what an entry is about, or nothing where the library has none of it."""
    kind = next(kind for kind in KINDS if kind in entry)
    known = select(library, kind, entry[kind]).sure or kind == "function"
    return f"{kind} = {toml_value(entry[kind])}" if known else ""


def _comment(text: str, lead: str = "# ") -> str:
    """Return a text as lines of a comment; what follows the first line of an aside stands under it."""
    return "\n".join(
        textwrap.wrap(text, 96, initial_indent=lead, subsequent_indent="#   " if lead != "# " else lead)
    )
