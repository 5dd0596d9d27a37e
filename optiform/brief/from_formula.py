"""Writes the brief that changes an existing formula: one thing gets better, the rest is held."""

from __future__ import annotations

import math
from typing import Any

from optiform.brief.current_formula import NOT_KEPT, SHARE, CurrentFormula
from optiform.faults import BadInput, Fault, nearest
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.selection import KINDS, reference_problem, select
from optiform.measures import Catalogue, Conditions
from optiform.measures.parts import CHARGE_CLASSES, known_tags
from optiform.tolerances import ROUNDING

AIMS = ("cheaper", "gentler", "without:")
CLASS = 0.5
"""Allowance for the active matter of one charge class [% w/w]."""

DEARER = 1.05
"""A gentler version may cost so many times what today's does; our choice."""

TEXTURE = 1.25
"""A replaced thickener may give a viscosity so many times higher or lower; our choice."""

SYSTEM = 2
"""Materials of a usual preservative system."""

RANKED = 3


def reformulation_brief(formula: TypedFormula, library: Library, aim: str, path: str = "") -> dict[str, Any]:
    """Return the keys of a brief that changes a formula towards an aim and holds everything else.

    Parameters
    ----------
    aim : str
        ``cheaper``, ``gentler``, or ``without:`` with a tag, a material id or an INCI name.
    path : str, optional
        How the brief names the formula's file; the file itself by default.

    Returns
    -------
    dict
        As `tomllib` would give it: `brief_from` reads it, `write_brief` writes it down for editing.

    Raises
    ------
    BadInput
        If the aim is none of the three, or names nothing that the library knows.

    Notes
    -----
    What is held: active matter, pH, the shares of the charge classes, natural origin and mildness from
    below, and the amounts of everything that carries the claim, the texture or the preservation; every
    other function, such as oil or humectant, within a tenth of its amount. What the formula is free from
    today stays out. A pH at which what preserves it does not work is not held, but brought to where it
    does; a preservation that is not complete is not kept, and what is used outside its range is kept at
    the end of it. Where one material is left out, only what does its job may move: its active matter and
    charge class, its viscosity where one base tells it, or the amount of its function is held; everything
    else stays as it is. A list that is not 100 % in all has its floors from the same list at 100 %.
    """
    today = CurrentFormula(formula, library)
    changes = _with_preservation(today, _aimed(today, aim))
    banned = changes.pop("banned", set())
    loose = changes.pop("loose", set())
    keep = [name for name in changes.pop("keep", today.kept()) if name not in banned | loose]
    wrong = {name: today.inside(name) for name in keep if today.inside(name) != today.percent(name)}
    keep = [name for name in keep if name not in wrong]
    targets = {**today.targets(), **changes.pop("targets", {})}
    hold = {**today.hold(), **today.functions({*keep, *wrong}, banned, targets), **changes.pop("hold", {})}
    mapping: dict[str, Any] = {
        "title": f"{formula.name or 'Today'}, {aim.replace('without:', 'without ')}",
        "aim": changes.pop("aim", {"minimise": "cost"}),
        "targets": targets,
        "include": [{"material": name, "at_least": at, "at_most": at} for name, at in wrong.items()],
        "exclude": [*changes.pop("exclude", []), *today.absent()],
        "choose": today.choose(),
        "share": today.share(),
        "ranked": {"how_many": RANKED},
        "baseline": {
            "formula": path or formula.file,
            **({} if formula.rank is None else {"rank": formula.rank}),
            "keep": keep,
            "hold": hold,
            **changes,
        },
    }
    return {key: value for key, value in mapping.items() if value or key == "targets"}


def _with_preservation(today: CurrentFormula, changes: dict[str, Any]) -> dict[str, Any]:
    """Return changes with room for another preservative system where today's is not complete."""
    if today.preserved():
        return changes
    gone = sum(today.library.material[name].function == "preservative" for name in today.used)
    room = {"at_most_new": SYSTEM, "at_most_dropped": gone}
    return {key: value + room.get(key, 0) if key in room else value for key, value in changes.items()}


def _aimed(today: CurrentFormula, aim: str) -> dict[str, Any]:
    """Return what an aim adds to the brief."""
    if aim == "cheaper":
        return {"at_most_new": 1, "at_most_dropped": 2}
    if aim == "gentler":
        if today.value("mildness") is None:
            message = "nothing in the formula is a surfactant whose mildness is known"
            raise BadInput([Fault(today.formula.file, "--aim", message, "cheaper, or without:")])
        cost = today.value("cost") or 0.0
        ceiling = math.ceil(cost * DEARER * 100.0 - ROUNDING) / 100.0
        return {
            "aim": {"maximise": "mildness", "then": ["cost"], "tie": 0.5},
            "targets": {"cost": {"at_most": ceiling}},
            "at_most_new": 2,
            "at_most_dropped": 2,
        }
    if aim.startswith("without:"):
        return _without(today, aim.removeprefix("without:").strip())
    message = f"'{aim}' is no aim"
    raise BadInput([Fault("", "--aim", message, "cheaper, gentler, or without: and a tag, material or INCI name",
                          nearest(aim, ("cheaper", "gentler")))])  # fmt: skip


def _without(today: CurrentFormula, words: str) -> dict[str, Any]:
    """Return what leaving something out adds: it is excluded, and its job is kept."""
    kind, word = _meant(today.library, words)
    chosen = select(today.library, kind, word)
    banned = {*chosen.sure, *chosen.maybe}
    gone = [name for name in today.used if name in banned]
    found: dict[str, Any] = {
        "exclude": [{kind: word}],
        "at_most_new": max(2, len(gone) + 1),
        "banned": banned,
        "hold": dict.fromkeys(today.shares(), 2.0 * SHARE),
    }
    if kind == "material" and gone:
        found = _one_job(today, word, found)
    return found


def _one_job(today: CurrentFormula, name: str, found: dict[str, Any]) -> dict[str, Any]:
    """Return how the job of one material is kept: its active matter and charge, its texture, or its amount."""
    function = today.library.material[name].function
    if function == "surfactant":
        classes = [word for word in CHARGE_CLASSES if (today.value(word) or 0.0) > 0]
        found["hold"] = dict.fromkeys(classes, CLASS)
    elif function == "thickener":
        base, viscosity = _tried(today, name)
        if viscosity is not None:
            low, high = float(round(viscosity / TEXTURE)), float(round(viscosity * TEXTURE))
            found["targets"] = {"viscosity": {"at_least": low, "at_most": high, "base": base}}
    same = {item.id for item in today.library.materials if item.function == function}
    found["loose"] = same if function in ("surfactant", "preservative") else set()
    passed = NOT_KEPT if today.preserved() else (*NOT_KEPT, "preservative")
    found["keep"] = [other for other in today.used if today.library.material[other].function not in passed]
    found["at_most_new"] = 2 if function == "preservative" else 1
    if function != "preservative":
        found["at_most_dropped"] = 1
    return found


def _tried(today: CurrentFormula, name: str) -> tuple[str, float | None]:
    """Return the one base of one's own trials that tells the viscosity of today, and that viscosity [mPa.s]."""
    bases = dict.fromkeys(trial.base for trial in today.library.own_trials if trial.material == name)
    values = {
        base: Catalogue(today.library, Conditions(base=base)).find("viscosity").value(today.amounts)
        for base in bases
    }
    told = [(base, value) for base, value in values.items() if value is not None]
    return told[0] if len(told) == 1 else ("", None)


def _meant(library: Library, words: str) -> tuple[str, str]:
    """Return the kind and the word that `without:` names; a bare word is a tag, a material or an INCI name."""
    kind, colon, word = words.partition(":")
    if colon and kind in KINDS:
        problem = reference_problem(library, words)
        if problem is None:
            return kind, word.strip()
        raise BadInput([Fault("", "--aim", problem.message, problem.allowed, problem.nearest)])
    known = {
        "tag": known_tags(library),
        "material": set(library.material),
        "substance": set(library.substance),
    }
    for what, names in known.items():
        if words in names:
            return what, words
    near = nearest(words, (name for names in known.values() for name in sorted(names)))
    message = f"the library knows no tag, material or substance '{words}'"
    raise BadInput([Fault("", "--aim", message, "without: and one of them", near)])
