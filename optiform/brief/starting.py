"""A commented starter brief for a kind of skin and a feel: usual guards in, every figure to be edited."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Any

from optiform.brief.writing import toml_value
from optiform.faults import BadInput, Fault, nearest
from optiform.library import Library, load_library
from optiform.measures.parts import known_tags

HEAD = """\
# {title}
# A starting point for {words}, {feel}: edit every line.
# Percent is always percent w/w. Figures without a named source are common practice, and some are our choice.
# What comes out is a candidate to trial, not a finished formula. Concentrates, acids and bases injure eyes and
# skin, powders must not be breathed. A water-based wash needs a preservative proven by a challenge test, trials
# of stability in its final pack, and a safety assessment by a qualified person under the local law before sale.
"""
OTHERWISE = "#   others say: "


def skins() -> tuple[str, ...]:
    """Return the kinds of skin that a starter brief can be written for."""
    return tuple(_data("skins"))


def textures() -> tuple[str, ...]:
    """Return the feels that a starter brief can be written for."""
    return tuple(_data("textures"))


def starter_brief(skin: str, texture: str, library: Library | None = None, title: str | None = None) -> str:
    """Return a commented brief, ready to be solved and edited.

    Parameters
    ----------
    skin, texture : str
        One of `skins()` and one of `textures()`.
    library : Library, optional
        Only what it holds is named; without it the starter library is meant.
    title : str, optional
        Replaces the proposed title.

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
    name = title or f"{kind['name']} {feel['words']}, {kind['words']}"
    held = library if library is not None else _shipped()
    blocks = [
        _top(kind, feel, name, library),
        _targets(kind, feel),
        _surfactants(),
        _shares(kind),
        _thickener(feel),
        *_support(kind, held),
        _excluded(kind, held),
        _preserved(held),
        _closing(),
    ]
    return "\n\n".join(block.strip("\n") for block in blocks if block) + "\n"


@cache
def _data(name: str) -> dict[str, Any]:
    text = resources.files("optiform.brief").joinpath("templates", f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _shipped() -> Library:
    return load_library()


def _top(kind: dict[str, Any], feel: dict[str, Any], title: str, library: Library | None) -> str:
    lines = [HEAD.format(title=title, words=kind["words"], feel=feel["words"]), f"title = {toml_value(title)}"]
    if library is not None and library.folder and library.folder != _shipped().folder:
        lines.append(f"library = {toml_value(library.folder)}")
    else:
        lines.append('# library = "my-library"          # absent: the starter library, whose prices are invented')
    lines.append(f"area = {toml_value(kind['area'])}")
    if "users" in kind:
        lines.append(f"users = {toml_value(kind['users'])}            # the law's limits for these users apply")
    lines.append('law = "EU"                        # EU, UK, US; limits change: check the text in force')
    lines += [f"# {note}" for note in (*kind["notes"], *feel["notes"])]
    aim = '[aim]\nminimise = "cost"\nthen = ["ingredients"]            # among equals the shorter list\ntie = 0.01'
    return "\n".join(lines) + "\n\n" + aim


def _targets(kind: dict[str, Any], feel: dict[str, Any]) -> str:
    lines = [
        "[targets]",
        "# Strength: without a floor the cheapest wash is water.",
        *_reasons(kind["active"]),
        f'"active matter" = {_bounds(kind["active"])}',
        "# Gentleness of the blend, an ordinal index and no promise; strength is a lever of its own.",
        *_reasons(kind["mildness"]),
        f"mildness = {_bounds(kind['mildness'])}",
        "# pH: acid and base are dosed by the program; set = \"bench\" leaves them to your meter.",
        *_reasons(kind["pH"]),
        f"pH = {_bounds(kind['pH'])}",
        "# A short list: every ingredient should have a purpose (a guard against many crumbs).",
        f"ingredients = {{ at_most = {feel['ingredients']} }}",
        *_reasons(feel["oil"]),
        f'"function:oil" = {_bounds(feel["oil"])}',
    ]
    return "\n".join(lines)


def _surfactants() -> str:
    return (
        "# Guard against the corner of a single surfactant: two to four of them; common practice, no source.\n"
        '[[choose]]\nfunction = "surfactant"\nat_least = 2\nat_most = 4'
    )


def _shares(kind: dict[str, Any]) -> str:
    return (
        "# No single surfactant above 65 % of active matter; common practice, no source.\n"
        '[[share]]\neach = "surfactant"\nat_most = 65\n\n'
        "# All-nonionic blends lather poorly, are alkaline and hard to thicken; 30 to 65 % anionic is common\n"
        "# practice, no source. Lower the floor for a blend led by betaine and glucoside, and trial its lather.\n"
        f'[[share]]\nof = "anionic"\nat_least = {kind["anionic"]["at_least"]}\nat_most = {kind["anionic"]["at_most"]}'
    )


def _thickener(feel: dict[str, Any]) -> str:
    lines = ["# Texture: one thickener at a time. Its dispersant and its enemies stand in the library's rules."]
    lines += [*_reasons(feel["thickener"]), "[[include]]", 'function = "thickener"', *_pair(feel["thickener"]), ""]
    lines += ["[[choose]]", 'function = "thickener"', "at_least = 1", "at_most = 1"]
    if "cationic" in feel:
        lines += ["", *_reasons(feel["cationic"]), "[[include]]", 'tag = "cationic-polymer"', *_pair(feel["cationic"])]
    lines += [
        "",
        "# With trials of your own in trials.csv, ask for a viscosity instead of an amount, in [targets]:",
        '# viscosity = { at_least = 2500, at_most = 6000, base = "glucoside and betaine base" }',
    ]
    return "\n".join(lines)


def _support(kind: dict[str, Any], library: Library) -> list[str]:
    """Return what is fixed by rule and not left to the price: extract, humectant, chelator."""
    functions = {word for material in library.materials for word in material.functions}
    blocks = []
    hero = next((name for name in kind["extracts"] if name in library.material), None)
    if hero is not None or "extract" in functions:
        which = f"material = {toml_value(hero)}" if hero else 'function = "extract"'
        blocks.append(
            "# The extract as supplied, never at the level of dust. Sources conflict: some trade chemists cut extracts\n"
            f"# to 0.01 % or less, small makers sell them; {kind['extract']:g} % is our choice. The sheet shows the solids in it.\n"
            f"[[include]]\n{which}\nat_least = {kind['extract']}\nat_most = 5.0"
        )
    if "humectant" in functions:
        blocks.append(
            "# Humectant, also what a gum is slurried in; our choice, no source.\n"
            f'[[include]]\nfunction = "humectant"\nat_least = {kind["humectant"]}\nat_most = 8.0'
        )
    if "chelator" in functions:
        blocks.append(
            "# A chelator supports the preservative and is no place to save; about 0.1 %, common practice, no source.\n"
            '[[include]]\nfunction = "chelator"\nat_least = 0.1\nat_most = 0.3'
        )
    return blocks


def _excluded(kind: dict[str, Any], library: Library) -> str:
    tags = known_tags(library)
    here = [tag for tag in kind["exclude"] if tag in tags]
    absent = [tag for tag in kind["exclude"] if tag not in tags]
    blocks = [f"[[exclude]]\ntag = {toml_value(tag)}" for tag in here]
    if blocks:
        blocks[0] = "# Left out at substance level, inside blends too; what only may contain it goes as well.\n" + blocks[0]
    if absent:
        blocks.append(f"# Meant to be left out too, but no material of this library carries the tag: {', '.join(absent)}.")
    return "\n\n".join(blocks)


def _preserved(library: Library) -> str:
    if library.systems:
        return (
            "# Preservation: exactly one system of the library is always chosen, inside its pH range, and never\n"
            f"# traded for cost ({len(library.systems)} systems here). Only a challenge test shows that it works."
        )
    return (
        "# PRESERVATION IS MISSING: this library names no preservative system, so nothing here guards a water-based\n"
        "# wash against microbes. Add [[system]] tables to its library.toml before you weigh anything."
    )


def _closing() -> str:
    return (
        "# Amounts are also given as this balance can weigh them.\n"
        "[weighing]\nbatch_g = 1000\nbalance_g = 0.01\nerror_percent = 2\n\n"
        "[ranked]\nhow_many = 3"
    )


def _reasons(entry: dict[str, Any]) -> list[str]:
    return [f"# {entry['why']}", *(OTHERWISE + other for other in entry.get("others", ()))]


def _pair(entry: dict[str, Any]) -> list[str]:
    return [f"{side} = {entry[side]}" for side in ("at_least", "at_most") if side in entry]


def _bounds(entry: dict[str, Any]) -> str:
    return "{ " + ", ".join(_pair(entry)) + " }"
