"""Turns a brief into a form of wishes, each with its name, unit and ends, and the form back into edits."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from optiform.faults import Faults
from optiform.library import Library
from optiform.library.files.columns import number as read_number
from optiform.measures import Catalogue
from optiform.measures.catalogue import UnknownMeasure
from optiform.page.edits import Edit, Place
from optiform.views.words.names import Names, lowered, measure_name, names_in
from optiform.views.words.numbers import short, step_of

SIDES = {"at_least": "at least", "at_most": "at most"}
MANY = 20.0
"""Steps of its bound that a slider reaches to each side."""
COUNTED = 12.0
"""Kinds of material that a slider counts to."""
SCALARS = {
    "area": ("for", ("face", "hair", "body", "hands")),
    "law": ("law", ("EU", "UK", "US", "none")),
    "product": ("product", ("rinse-off", "leave-on")),
}
RULES = ("needs", "incompatible", "when", "linear", "waive")
SECTIONS = {
    "targets": "The whole wash",
    "include": "What is in it",
    "choose": "How many kinds",
    "share": "Shares",
    "ratio": "In proportion",
    "prefer": "Would be nice",
    "weighing": "At the balance",
}
"""Headings of the form, in their order."""
BALANCE = {"batch_g": ("batch", "g"), "balance_g": ("balance shows", "g")}


@dataclass(frozen=True)
class End:
    """One end of a wish.

    Attributes
    ----------
    field : str
        Its place in the file, as the name of a field.
    value : str
        As typed; empty where nothing bounds it.
    lowest, highest, step : str
        Of its slider.
    allowed : str
        What the file may say, in words; empty where anything.
    """

    field: str
    side: str
    value: str
    lowest: str
    highest: str
    step: str
    allowed: str = ""


@dataclass(frozen=True)
class Wish:
    """One wish of a brief; `field` is its place, by which it is given up."""

    section: str
    field: str
    name: str
    unit: str
    ends: tuple[End, ...]


@dataclass(frozen=True)
class Form:
    """A brief as a form.

    Attributes
    ----------
    choices : tuple of (field, label, options, chosen)
    free : tuple of (field, words)
        What is kept out, each with the field that lets it in again.
    rules : tuple of str
        House rules of this brief, that only the text shows in full.
    groups : tuple of (heading, wishes)
    """

    title: str
    choices: tuple[tuple[str, str, tuple[str, ...], str], ...]
    free: tuple[tuple[str, str], ...]
    rules: tuple[str, ...]
    groups: tuple[tuple[str, tuple[Wish, ...]], ...]


def field_of(place: Place) -> str:
    """Return a place as the name of a field."""
    return json.dumps(place)


def form_of(keys: Mapping[str, Any], library: Library) -> Form:
    """Return the form of a brief, whose file is known to be sound."""
    catalogue, names = Catalogue(library), names_in(library)
    wishes = [*_targets(keys, catalogue, names), *_entries(keys, catalogue, names), *_balance(keys)]
    groups = ((title, tuple(w for w in wishes if w.section == key)) for key, title in SECTIONS.items())
    return Form(
        title=str(keys["title"]),
        choices=(
            _aim(keys),
            *(
                (field_of((key,)), label, words, str(keys.get(key, words[0])))
                for key, (label, words) in SCALARS.items()
            ),
        ),
        free=tuple(
            (field_of(("exclude", number)), _meant(entry, names))
            for number, entry in enumerate(keys.get("exclude", ()))
        ),
        rules=tuple(_rule(kind, entry, names) for kind in RULES for entry in keys.get(kind, ())),
        groups=tuple(group for group in groups if group[1]),
    )


def _rule(kind: str, entry: Mapping[str, Any], names: Names) -> str:
    """Return a house rule of a brief in one line."""
    if kind == "when":
        bounds = " and ".join(f"{words} {entry[side]:g}" for side, words in SIDES.items() if side in entry)
        return (
            f"with {names.measure(str(entry['material']))}: {names.measure(str(entry['measure']))} {bounds}"
        )
    if kind == "needs":
        return f"{names.measure(str(entry['material']))} needs {names.measure(str(entry['other']))}"
    if kind == "incompatible":
        return f"{names.measure(str(entry['one']))} never with {names.measure(str(entry['other']))}"
    return f"without the guard: {entry['rule']}" if kind == "waive" else str(entry.get("name", kind))


AIMS = {
    "cheapest": {"minimise": "cost"},
    "gentlest": {"maximise": "mildness"},
    "most natural": {"maximise": "natural origin"},
    "fewest ingredients": {"minimise": "ingredients"},
}


def _aim(keys: Mapping[str, Any]) -> tuple[str, str, tuple[str, ...], str]:
    """Return the choice of aims; an aim that has no short name keeps its own words."""
    aim = keys.get("aim", {})
    maximise, minimise = aim.get("maximise"), aim.get("minimise", "cost")
    stated = {"maximise": maximise} if maximise else {"minimise": minimise}
    known = next((word for word, keys in AIMS.items() if keys == stated), "")
    sense, measure = next(iter(stated.items()))
    chosen = known or f"{'most' if sense == 'maximise' else 'least'} {measure_name(measure)}"
    return '["aim"]', "make it the", tuple(dict.fromkeys((chosen, *AIMS))), chosen


def _targets(keys: Mapping[str, Any], catalogue: Catalogue, names: Names) -> list[Wish]:
    found = []
    for name, target in keys.get("targets", {}).items():
        try:
            measure = catalogue.find(name)
            scale, unit = (measure.lowest, measure.highest), measure.unit
        except UnknownMeasure:
            scale, unit = (-math.inf, math.inf), ""
        place: Place = ("targets", name)
        found.append(Wish("targets", field_of(place), names.measure(name), unit, _ends(place, target, scale)))
    return found


def _entries(keys: Mapping[str, Any], catalogue: Catalogue, names: Names) -> list[Wish]:
    """Return the wishes of entries in lists."""
    found = []

    def add(section: str, number: int, name: str, unit: str, highest: float) -> None:
        place: Place = (section, number)
        ends = _ends(place, keys[section][number], (0.0, highest), whole=section == "choose")
        found.append(Wish(section, field_of(place), name, unit, ends))

    for number, entry in enumerate(keys.get("include", ())):
        add("include", number, _meant(entry, names), "% w/w", 100.0)
    for number, entry in enumerate(keys.get("choose", ())):
        word = entry.get("function") or entry.get("tag")
        told = f"kinds of {word}" if word else f"of {', '.join(map(names.within, entry.get('among', ())))}"
        add("choose", number, told, "", math.inf)
    for number, entry in enumerate(keys.get("share", ())):
        base = entry.get("base", "active matter")
        base = "actives" if base == "active matter" else measure_name(base)
        part = f"any one {entry['each']}" if "each" in entry else names.measure(str(entry.get("of", "")))
        add("share", number, part, f"% of {base}", 100.0)
    for number, entry in enumerate(keys.get("ratio", ())):
        told = f"{names.measure(str(entry.get('of')))} to {names.measure(str(entry.get('to')))}"
        add("ratio", number, told, "to 1", math.inf)
    for number, entry in enumerate(keys.get("prefer", ())):
        name = str(entry.get("measure"))
        unit = catalogue.find(name).unit if catalogue.known(name) else ""
        add("prefer", number, names.measure(name), unit, math.inf)
    return found


def _balance(keys: Mapping[str, Any]) -> list[Wish]:
    table = keys.get("weighing", {})
    return [
        Wish("weighing", "", name, unit, (_end(("weighing", key), "", table[key], (0.0, math.inf)),))
        for key, (name, unit) in BALANCE.items()
        if key in table
    ]


def _meant(entry: Mapping[str, Any], names: Names) -> str:
    """Return the words for what an entry names."""
    kind = next((kind for kind in ("material", "substance", "function", "tag") if kind in entry), "")
    word = str(entry.get(kind, ""))
    return names.short(word) if kind == "material" else word if kind == "substance" else lowered(word)


def _ends(place: Place, entry: Any, scale: tuple[float, float], *, whole: bool = False) -> tuple[End, ...]:
    entry = entry if hasattr(entry, "get") else {}
    return tuple(_end((*place, side), words, entry.get(side), scale, whole) for side, words in SIDES.items())


def _end(place: Place, side: str, value: Any, scale: tuple[float, float], whole: bool = False) -> End:
    """Return one end with its slider, which reaches some steps to each side of its value."""
    lowest, highest = scale
    allowed = (
        f"{short(lowest)} to {short(highest)}" if math.isfinite(lowest) and math.isfinite(highest) else ""
    )
    if value is None:
        return End(field_of(place), side, "", "", "", "1" if whole else "any", allowed)
    step = 1.0 if whole else min(step_of(value), 0.1 if "pH" in place else math.inf)
    reach = COUNTED if whole else MANY * step
    low, high = max(lowest, value - reach), min(highest, value + reach)
    return End(field_of(place), side, short(value), short(low), short(high), short(step), allowed)


def edits_of(form: Mapping[str, str], keys: Mapping[str, Any]) -> list[Edit]:
    """Return what a form, texts by field, changes in a brief; fields that the brief does not have are passed over.

    Raises
    ------
    BadInput
        With every text that is no number.
    """
    faults, found = Faults(), []
    known = _fields(keys)
    for field, text in form.items():
        if field not in known:
            continue
        place, old = known[field]
        new = _typed(place, text.strip(), old, faults)
        if new != old:
            found += _aim_edits(str(new), keys) if place == ("aim",) else [Edit(place, new)]
    faults.raise_if_any()
    return sorted(found, key=lambda edit: edit.value is None)


def _aim_edits(word: str, keys: Mapping[str, Any]) -> list[Edit]:
    """Return the edits that state another aim."""
    wanted = AIMS.get(word)
    if wanted is None:
        return []
    held = keys.get("aim", {})
    gone = [Edit(("aim", key), None) for key in ("minimise", "maximise") if key in held and key not in wanted]
    return [*(Edit(("aim", key), value) for key, value in wanted.items()), *gone]


def _fields(keys: Mapping[str, Any]) -> dict[str, tuple[Place, Any]]:
    """Return every field of a brief with its place and value."""
    found: dict[str, tuple[Place, Any]] = {}

    def add(place: Place, value: Any) -> None:
        found[field_of(place)] = (place, value)

    add(("title",), keys.get("title"))
    add(("aim",), _aim(keys)[3])
    for key, (_, options) in SCALARS.items():
        add((key,), keys.get(key, options[0]))
    for name, target in keys.get("targets", {}).items():
        for side in SIDES:
            add(("targets", name, side), target.get(side))
    for section in ("include", "choose", "share", "ratio", "prefer"):
        for number, entry in enumerate(keys.get(section, ())):
            for side in SIDES:
                add((section, number, side), entry.get(side))
    for key in BALANCE:
        if key in keys.get("weighing", {}):
            add(("weighing", key), keys["weighing"][key])
    return found


def _typed(place: Place, text: str, old: Any, faults: Faults) -> Any:
    """Return the value of a text at its place; None where it is empty."""
    if place[-1] not in (*SIDES, *BALANCE):
        return text or old
    if not text:
        return None
    value = read_number(text, comma_decimals=True)
    if value is None:
        faults.add(str(place[-2]), f"'{text}' is not a number", allowed="a number such as 4.8")
        return old
    return int(value) if value == int(value) else value
