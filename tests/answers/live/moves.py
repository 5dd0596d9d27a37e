"""Moves of a brief drawn at random: gentle and large ones, counts, pH, amounts that begin or cease to be asked for."""

from __future__ import annotations

import random

from optiform.answers.live import Added, Bound, Change, Removed
from optiform.brief.models import Brief, Exclude, Include
from optiform.program import Key

STEPS = {"mildness": 1.0, "pH": 0.1, "ingredients": 1, "buffer capacity": 0.2, "active matter": 0.5}
LISTS = ("include", "choose", "share", "ratio")


def bounds(brief: Brief) -> list[tuple[Key, float]]:
    """Return every wish of a brief that has a bound, with the bound."""
    found = []
    for name, target in brief.targets.items():
        for side in ("at_least", "at_most"):
            if (bound := getattr(target, side)) is not None:
                found.append((Key("targets", (name,), side), bound))
    for section in LISTS:
        for number, entry in enumerate(getattr(brief, section), 1):
            for side in ("at_least", "at_most"):
                if (bound := getattr(entry, side)) is not None:
                    found.append((Key(section, (number,), side), bound))
    return found


def step(key: Key, bound: float) -> float:
    """Return by how much a hand would move a wish."""
    if key.section == "choose":
        return 1
    return STEPS.get(key.name if key.section == "targets" else "", max(0.02, 0.05 * abs(bound)))


def gentle(brief: Brief, draw: random.Random) -> Change:
    """Draw a small move of a bound in its place: at most a step of a wish, no count, no pH, nothing to 0."""
    asked = [
        (key, bound)
        for key, bound in bounds(brief)
        if key.section != "choose" and key.name not in ("pH", "ingredients") and bound > 0
    ]
    key, bound = draw.choice(asked)
    return Bound(key, round(bound + draw.uniform(-1.0, 1.0) * step(key, bound), 4))


def anything(brief: Brief, draw: random.Random) -> Change:
    """Draw any kind of move."""
    kind = draw.random()
    key, bound = draw.choice(bounds(brief))
    if kind < 0.55:
        far = step(key, bound) * draw.choice((-4, -2, -1, 1, 2, 4))
        moved = bound + (far if key.section == "choose" or key.name == "ingredients" else far * draw.random())
        return Bound(key, round(max(moved, 0.0), 3))
    if kind < 0.65:
        return Bound(key, 0.0 if key.side == "at_least" else bound * 0.5)
    if kind < 0.75:
        return Bound(key, None)
    if kind < 0.85:
        material = draw.choice(brief.library.materials)
        wish = Exclude(material=material.id)
        return Added("exclude", wish)
    if kind < 0.92:
        material = draw.choice(
            [one for one in brief.library.materials if one.function == "extract"] or [None]
        )
        named = material or draw.choice(brief.library.materials)
        return Added("include", Include(material=named.id, at_least=draw.choice((0.0, 0.5, 1.0))))
    section = draw.choice([name for name in (*LISTS, "exclude") if getattr(brief, name)])
    return Removed(section, draw.randint(1, len(getattr(brief, section))))
