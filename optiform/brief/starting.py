"""A commented starter brief for a kind of skin and a feel: usual guards in, every figure to be edited."""

from __future__ import annotations

import textwrap
import tomllib
from functools import cache
from importlib import resources
from typing import Any

from optiform.brief.writing import toml_value
from optiform.faults import BadInput, Fault, nearest, printable
from optiform.library import Library, load_library, select
from optiform.library.selection import KINDS
from optiform.measures.parts import known_tags

HEAD = (
    "A starting point for {words}: a {feel}. Edit every line. Percent is always percent w/w. "
    "Figures without a named source are common practice, and some are our choice.",
    "What comes out is a candidate to trial, not a finished formula. Concentrates, acids and bases injure "
    "eyes and skin, powders must not be breathed. A water-based wash needs a preservative proven by a "
    "challenge test, trials of stability in its final pack, and a safety assessment by a qualified person "
    "under the local law before sale.",
)
CONFLICT = (
    "The extract as supplied, more than a token amount. Sources conflict: some trade chemists cut extracts "
    "to 0.01 % or less, small makers sell them; {extract:g} % is our choice. Look at the solids in it too."
)
UNPRESERVED = (
    "PRESERVATION IS MISSING: this library names no preservative system, so nothing here guards a "
    "water-based wash against microbes. Add [[system]] tables to its library.toml before you weigh anything."
)
BUFFER = {
    "at_least": 1.5,
    "why": "a buffer, in mmol of acid or base per 100 g and pH: at 1.5 nine likely lots in ten of these washes "
    "stand less than 0.7 above or 0.4 below the pH of the formula, and above 4.5, where ether sulfates split; "
    "at 1.0 they do not. Our choice, no source",
}
WATER = 65
PRESERVED = (
    "Preservation: exactly one of the {systems} systems of the library is always chosen, inside its pH "
    "range, and never traded for cost. Only a challenge test shows that it works."
)


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
    name = (title or "").strip() or f"{kind['name']} {feel['words']}, {kind['words']}"
    held = library if library is not None else _shipped()
    blocks = [
        _top(kind, feel, name, library, _unusual(skin, feel)),
        _targets(kind, feel, held),
        _surfactants(),
        _shares(kind, feel),
        _thickener(feel, held),
        *_clear(feel, held),
        *_support(kind, feel, held),
        _excluded(kind, feel, held),
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


def _unusual(skin: str, feel: dict[str, Any]) -> list[str]:
    """Return a line where this kind of skin seldom wants this feel."""
    if skin in feel["for"]:
        return []
    usual = ", ".join(_data("skins")[other]["words"] for other in feel["for"])
    return [f"This feel is made for {usual}; on others it is an experiment."]


def _top(
    kind: dict[str, Any], feel: dict[str, Any], title: str, library: Library | None, remarks: list[str]
) -> str:
    lines = _comment(printable(title)) or ["#"]
    for sentence in HEAD:
        lines += _comment(sentence.format(words=kind["words"], feel=feel["words"]))
    lines += ["", f"title = {toml_value(title)}"]
    if library is not None and library.folder and library.folder != _shipped().folder:
        lines.append(f"library = {toml_value(library.folder)}")
    else:
        lines.append('# library = "my-library"    # absent: the starter library, whose prices are invented')
    lines.append(f"area = {toml_value(kind['area'])}")
    if "users" in kind:
        lines.append(f"users = {toml_value(kind['users'])}      # the law's limits for these users apply")
    lines.append('law = "EU"                  # EU, UK, US; limits change: check the text in force')
    for note in (*kind["notes"], *feel["notes"], *remarks):
        lines += _comment(note)
    lines += [
        "",
        "[aim]",
        'minimise = "cost"',
        'then = ["ingredients"]      # among equals the shorter list',
        "tie = 0.01",
    ]
    return "\n".join(lines)


def _steady(feel: dict[str, Any], library: Library) -> list[str]:
    """Return what keeps the pH where it is, and the wash a wash."""
    lines = []
    if "acid" in known_tags(library):
        buffer = feel.get("buffer", BUFFER)
        lines += [*_reasons(buffer), f'"buffer capacity" = {_bounds(buffer)}']
    if "Aqua" in library.substance:
        water = "Enough water: a wash is mostly water, that inside the raw materials counted."
        lines += [*_comment(water), f'"substance:Aqua" = {{ at_least = {WATER} }}']
    return lines


def _targets(kind: dict[str, Any], feel: dict[str, Any], library: Library) -> str:
    lines = [
        "[targets]",
        *_comment("Strength: without a floor the cheapest wash is water."),
        *_reasons(kind["active"]),
        f'"active matter" = {_bounds(kind["active"])}',
        *_comment(
            "Gentleness of the blend: an index that compares, and no promise. A weaker wash is gentler too."
        ),
        *_reasons(kind["mildness"]),
        f"mildness = {_bounds(kind['mildness'])}",
        *_comment('pH: acid and base are dosed by the program; set = "bench" leaves them to your meter.'),
        *_reasons(feel.get("pH", kind["pH"])),
        f"pH = {_bounds(feel.get('pH', kind['pH']))}",
        *_steady(feel, library),
        *_comment("A short list: every ingredient should have a purpose."),
        f"ingredients = {{ at_most = {feel['ingredients']} }}",
        *_reasons(feel["oil"]),
        f'"function:oil" = {_bounds(feel["oil"])}',
    ]
    return "\n".join(lines)


def _surfactants() -> str:
    why = "Two to four surfactants, never one alone; common practice, no source."
    return _entry("choose", why, 'function = "surfactant"', "at_least = 2", "at_most = 4")


def _shares(kind: dict[str, Any], feel: dict[str, Any]) -> str:
    cap = "No single surfactant above 65 % of active matter; common practice, no source."
    anionic = (
        "All-nonionic blends lather poorly, are alkaline and hard to thicken; 30 to 65 % anionic is "
        "common practice, no source. Lower the floor for a blend led by betaine and glucoside, and trial it."
    )
    amphoteric = (
        "Some amphoteric beside the anionic calms it and steadies the lather; 1 to 4 at least. "
        "Common practice, no source; others say 1 to 3, up to 1 to 1."
    )
    return "\n\n".join(
        (
            _entry("share", cap, 'each = "surfactant"', "at_most = 65"),
            _entry(
                "share",
                feel["anionic"]["why"] if "anionic" in feel else anionic,
                'of = "anionic"',
                *_pair(feel.get("anionic", kind["anionic"])),
            ),
            _entry("ratio", amphoteric, 'of = "amphoteric"', 'to = "anionic"', "at_least = 0.25"),
        )
    )


def _thickener(feel: dict[str, Any], library: Library) -> str:
    one = "Texture: one thickener at a time. The library's rules say what disperses it and what it does not go with."
    entries = [_entry("choose", one, 'function = "thickener"', "at_least = 1", "at_most = 1")]
    asked = [
        entry for entry in (feel.get("body"), feel["thickener"], feel.get("structure")) if entry is not None
    ]
    entries += [
        _entry("include", entry["why"], which, *_pair(entry))
        for entry in asked
        if (which := _reference(entry, library))
    ]
    trials = (
        *_comment(
            "With trials of your own in trials.csv, ask for a viscosity instead of an amount, in [targets]:"
        ),
        '# viscosity = { at_least = 2500, at_most = 6000, base = "..." }',
    )
    return "\n\n".join((*entries, "\n".join(trials)))


def _reference(entry: dict[str, Any], library: Library) -> str:
    """Return the line that names what an entry is about, or nothing where the library has none of it."""
    kind = next(kind for kind in KINDS if kind in entry)
    known = select(library, kind, entry[kind]).sure or kind == "function"
    return f"{kind} = {toml_value(entry[kind])}" if known else ""


def _clear(feel: dict[str, Any], library: Library) -> list[str]:
    """Return what keeps a clear wash clear at its pH."""
    return [
        _entry(
            "when",
            f"Clear: {entry['why']}.",
            f"material = {toml_value('substance:' + entry['substance'])}",
            'measure = "pH"',
            f"at_least = {entry['pH']}",
        )
        for entry in feel.get("clear", ())
        if entry["substance"] in library.substance
    ]


def _support(kind: dict[str, Any], feel: dict[str, Any], library: Library) -> list[str]:
    """Return what is fixed by rule and not left to the price: emulsifier, extract, humectant, chelator."""
    functions = {word for material in library.materials for word in material.functions}
    blocks = []
    if "emulsifier" in feel and "emulsifier" in functions:
        entry = feel["emulsifier"]
        why = f"Emulsifier: {entry['why']}; our choice, no source."
        blocks.append(_entry("include", why, 'function = "emulsifier"', *_pair(entry)))
    hero = next((name for name in kind["extracts"] if name in library.material), None)
    if hero is not None or "extract" in functions:
        which = f"material = {toml_value(hero)}" if hero else 'function = "extract"'
        why = CONFLICT.format(extract=kind["extract"])
        blocks.append(_entry("include", why, which, f"at_least = {kind['extract']}", "at_most = 5.0"))
    if "humectant" in functions:
        why = "Humectant, also what a gum is slurried in; our choice, no source."
        amounts = (f"at_least = {kind['humectant']}", "at_most = 8.0")
        blocks.append(_entry("include", why, 'function = "humectant"', *amounts))
    if "chelator" in functions:
        why = (
            "A chelator supports the preservative: no place to save; about 0.1 %, common practice, no source."
        )
        blocks.append(_entry("include", why, 'function = "chelator"', "at_least = 0.1", "at_most = 0.3"))
    return blocks


def _excluded(kind: dict[str, Any], feel: dict[str, Any], library: Library) -> str:
    tags = known_tags(library)
    unwanted = [*kind["exclude"], *feel.get("exclude", ())]
    harsh = [name for name in kind.get("exclude_substances", ()) if name in library.substance]
    blocks = [f"[[exclude]]\ntag = {toml_value(tag)}" for tag in unwanted if tag in tags]
    blocks += [f"[[exclude]]\nsubstance = {toml_value(name)}" for name in harsh]
    if blocks:
        why = "Left out at substance level, inside blends too; what only may contain it goes as well."
        blocks[0] = "\n".join((*_comment(why), blocks[0]))
    absent = ", ".join(tag for tag in unwanted if tag not in tags)
    if absent:
        blocks.append(
            "\n".join(_comment(f"Meant to be left out too, but no material here carries the tag: {absent}."))
        )
    return "\n\n".join(blocks)


def _preserved(library: Library) -> str:
    said = PRESERVED.format(systems=len(library.systems)) if library.systems else UNPRESERVED
    return "\n".join(_comment(said))


def _closing() -> str:
    return (
        "# Amounts are also given as this balance can weigh them.\n"
        "[weighing]\nbatch_g = 1000\nbalance_g = 0.01\nerror_percent = 2\n\n"
        "[ranked]\nhow_many = 3"
    )


def _entry(section: str, why: str, *lines: str) -> str:
    return "\n".join((*_comment(why), f"[[{section}]]", *lines))


def _comment(text: str, lead: str = "# ") -> list[str]:
    return textwrap.wrap(text, 96, initial_indent=lead, subsequent_indent="#   " if lead != "# " else lead)


def _reasons(entry: dict[str, Any]) -> list[str]:
    others = (line for other in entry.get("others", ()) for line in _comment(f"others say: {other}", "#   "))
    return [*_comment(entry["why"][0].upper() + entry["why"][1:] + "."), *others]


def _pair(entry: dict[str, Any]) -> list[str]:
    return [f"{side} = {entry[side]}" for side in ("at_least", "at_most") if side in entry]


def _bounds(entry: dict[str, Any]) -> str:
    return "{ " + ", ".join(_pair(entry)) + " }"
