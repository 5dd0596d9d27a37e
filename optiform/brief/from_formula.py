"""A brief for changing a formula that exists: what it is today is held, one thing is to get better."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from optiform.faults import BadInput, Fault, nearest
from optiform.library.selection import KINDS, reference_problem, select
from optiform.measures import Catalogue
from optiform.measures.acidity import charge_curves
from optiform.measures.parts import CHARGE_CLASSES, known_tags
from optiform.measures.texture import ladders

if TYPE_CHECKING:
    from collections.abc import Collection

    from optiform.library.arrays import Floats
    from optiform.library.formulas import TypedFormula
    from optiform.library.models import Library

KEPT = (
    "thickener", "extract", "hydrosol", "preservative", "chelator", "fragrance", "colourant", "opacifier",
    "conditioner", "powder",
)  # fmt: skip
"""Functions that carry the claim, the texture and the safety of a wash: never what a saving is made of."""

CLAIMS = (
    "sulfate", "ethoxylated", "silicone", "microplastic", "formaldehyde-releaser", "isothiazolinone", "paraben",
    "animal", "nut", "gluten", "palm",
)  # fmt: skip
"""Tags that a label is silent about only as long as they are absent."""

AIMS = ("cheaper", "gentler", "without:")
NOT_KEPT = ("acid", "base", "water")
HELD_OTHERWISE = (*NOT_KEPT, "preservative", "surfactant")
"""Functions that follow, whose system is chosen, or whose active matter is held."""

STRENGTH, PH, SHARE, CLASS = 0.2, 0.2, 10.0, 0.5
"""Allowances: active matter [% w/w], pH, share of a charge class [points], active matter of one class [% w/w]."""

DEARER = 1.05
"""A gentler version may cost so many times what today's does; our choice."""

TEXTURE = 1.25
"""A replaced thickener may give a viscosity so many times higher or lower; our choice."""

AMOUNT = 0.1
"""A function that may move is held within so large a part of its amount; our choice."""

LARGEST_SHARE = 65.0
RANKED = 3


def reformulation_brief(formula: TypedFormula, library: Library, aim: str, path: str = "") -> dict[str, Any]:
    """Return the keys of a brief that changes a formula towards an aim and holds everything else.

    Parameters
    ----------
    formula : TypedFormula
    library : Library
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
    today stays out. A pH at which what preserves it does not work is not held, but brought to where it does.
    Where one material is left out, only what does its job may move: its active matter
    and charge class, its viscosity where one base tells it, or the amount of its function is held;
    everything else stays as it is. A list that is not 100 % in all has its floors from the same list at
    100 %.
    """
    today = _Today(formula, library)
    changes = _aimed(today, aim)
    banned = changes.pop("banned", set())
    loose = changes.pop("loose", set())
    kept = changes.pop("keep", today.kept())
    keep = [name for name in kept if name not in banned | loose]
    targets = {**today.targets(), **changes.pop("targets", {})}
    hold = {**today.hold(), **today.functions(keep, banned, targets), **changes.pop("hold", {})}
    mapping: dict[str, Any] = {
        "title": f"{formula.name or 'Today'}, {aim.replace('without:', 'without ')}",
        "aim": changes.pop("aim", {"minimise": "cost"}),
        "targets": targets,
        "exclude": [*changes.pop("exclude", []), *today.absent()],
        "choose": today.choose(),
        "share": today.share(),
        "ranked": {"how_many": RANKED},
        "baseline": {"formula": path or formula.file, "keep": keep, "hold": hold, **changes},
    }
    return {key: value for key, value in mapping.items() if value or key == "targets"}


@dataclass(frozen=True)
class _Today:
    formula: TypedFormula
    library: Library

    @property
    def amounts(self) -> Floats:
        return self.library.arrays.amounts(self.formula.lines)

    @property
    def used(self) -> list[str]:
        return [name for name, percent in self.formula.lines if percent > 0]

    def value(self, measure: str) -> float | None:
        return Catalogue(self.library).find(measure).value(self.amounts)

    def kept(self) -> list[str]:
        return [name for name in self.used if self.library.material[name].function in KEPT]

    def hold(self) -> dict[str, float]:
        found = {"active matter": STRENGTH}
        found |= dict.fromkeys(self.shares(), SHARE)
        if self.pH is not None and not self.charge_unknown and self.working_pH() is None:
            found["pH"] = PH
        return found

    def functions(
        self, keep: Collection[str], banned: Collection[str], targets: Collection[str]
    ) -> dict[str, float]:
        """Return what is held of each function that is not kept to the gram: a wash with oil stays one with oil."""
        index = self.library.arrays.material_index
        loose: dict[str, float] = {}
        for name in self.used:
            function = self.library.material[name].function
            told = function in HELD_OTHERWISE or (function == "thickener" and "viscosity" in targets)
            if name not in keep and not told:
                loose[function] = loose.get(function, 0.0) + float(self.amounts[index[name]])
        left = {word for item in self.library.materials if item.id not in banned for word in item.functions}
        return {
            f"function:{function}": round(max(AMOUNT * amount, 0.01), 4)
            for function, amount in loose.items()
            if function in left
        }

    def shares(self) -> list[str]:
        """Return the charge classes that the formula has, as shares of its active matter."""
        names = [f"share:{word}" for word in CHARGE_CLASSES]
        return [name for name in names if (self.value(name) or 0.0) > 0]

    @property
    def pH(self) -> float | None:
        settled = charge_curves(self.library).settle(self.amounts)
        return None if settled is None else settled.pH

    @property
    def charge_unknown(self) -> bool:
        return bool(np.any(charge_curves(self.library).unknown & (self.amounts > 0)))

    def targets(self) -> dict[str, dict[str, Any]]:
        found: dict[str, dict[str, Any]] = {}
        full = self.amounts * 100.0 / (self.formula.total or 100.0)
        for name in ("mildness", "natural origin"):
            value = Catalogue(self.library).find(name).value(full)
            if value is not None:
                found[name] = {"at_least": float(math.floor(value + 1e-9))}
        working = self.working_pH()
        if self.pH is not None and (working or self.charge_unknown):
            low, high = working or (max(self.pH - PH, 0.0), min(self.pH + PH, 14.0))
            found["pH"] = {"at_least": round(low, 2), "at_most": round(high, 2)}
            if self.charge_unknown:
                found["pH"]["set"] = "bench"
        return found

    def working_pH(self) -> tuple[float, float] | None:
        """Return the nearest pH at which all works that preserves or is kept, where today's is too far from it."""
        used, pH = set(self.used), self.pH
        ranges = [
            system.pH
            for system in self.library.systems
            if system.pH
            and used & set(system.members)
            and all(name in used for name, (least, _) in system.members.items() if least > 0)
        ]
        kept = [self.library.material[name] for name in self.kept()]
        ranges += [(material.pH_min, material.pH_max) for material in kept]
        low = max((low for low, _ in ranges if low is not None), default=0.0)
        high = min((high for _, high in ranges if high is not None), default=14.0)
        if pH is None or low > high or low - PH <= pH <= high + PH:
            return None
        return (low, min(low + 2.0 * PH, high)) if pH < low else (max(high - 2.0 * PH, low), high)

    def absent(self) -> list[dict[str, str]]:
        """Return what the formula is free from today, for sure."""
        found = []
        for tag in CLAIMS:
            chosen = select(self.library, "tag", tag)
            if (chosen.sure or chosen.maybe) and not set(self.used) & {*chosen.sure, *chosen.maybe}:
                found.append({"tag": tag})
        return found

    def surfactants(self) -> list[str]:
        return [name for name in self.used if self.library.material[name].function == "surfactant"]

    def choose(self) -> list[dict[str, Any]]:
        count = len(self.surfactants())
        return (
            [{"function": "surfactant", "at_least": min(count, 2), "at_most": max(count + 1, 4)}]
            if count
            else []
        )

    def share(self) -> list[dict[str, Any]]:
        if len(self.surfactants()) < 2:
            return []
        held = {part.inci for name in self.surfactants() for part in self.library.composition[name]}
        shares = [
            self.value(f"share:{inci}") or 0.0 for inci in held if self.library.substance[inci].charge_class
        ]
        return [
            {"each": "surfactant", "at_most": float(max(LARGEST_SHARE, math.ceil(max(shares, default=0.0))))}
        ]


def _aimed(today: _Today, aim: str) -> dict[str, Any]:
    """Return what an aim adds to the brief."""
    if aim == "cheaper":
        return {"at_most_new": 1, "at_most_dropped": 2}
    if aim == "gentler":
        if today.value("mildness") is None:
            message = "nothing in the formula is a surfactant whose mildness is known"
            raise BadInput([Fault(today.formula.file, "--aim", message, "cheaper, or without:")])
        cost = today.value("cost") or 0.0
        ceiling = math.ceil(cost * DEARER * 100.0 - 1e-9) / 100.0
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


def _without(today: _Today, words: str) -> dict[str, Any]:
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


def _one_job(today: _Today, name: str, found: dict[str, Any]) -> dict[str, Any]:
    """Return how the job of one material is kept: its active matter and charge, its texture, or its amount."""
    function = today.library.material[name].function
    if function == "surfactant":
        classes = [word for word in CHARGE_CLASSES if (today.value(word) or 0.0) > 0]
        found["hold"] = dict.fromkeys(classes, CLASS)
    elif function == "thickener":
        base = _tried(today, name)
        if base is not None:
            viscosity = (
                Catalogue(today.library, _conditions(base)).find("viscosity").value(today.amounts) or 0.0
            )
            low, high = float(round(viscosity / TEXTURE)), float(round(viscosity * TEXTURE))
            found["targets"] = {"viscosity": {"at_least": low, "at_most": high, "base": base}}
    same = {item.id for item in today.library.materials if item.function == function}
    found["loose"] = same if function in ("surfactant", "preservative") else set()
    found["keep"] = [other for other in today.used if today.library.material[other].function not in NOT_KEPT]
    found["at_most_new"] = 2 if function == "preservative" else 1
    if function != "preservative":
        found["at_most_dropped"] = 1
    return found


def _tried(today: _Today, name: str) -> str | None:
    """Return the one base in which the thickener was tried at today's amount, or None."""
    bases = dict.fromkeys(trial.base for trial in today.library.trials if trial.material == name)
    amount = float(today.amounts[today.library.arrays.material_index[name]])
    inside = [
        base
        for base in bases
        for ladder in ladders(today.library, base)
        if ladder.material == name and ladder.log_at(amount) is not None
    ]
    return inside[0] if len(inside) == 1 else None


def _conditions(base: str) -> Any:
    from optiform.measures import Conditions

    return Conditions(base=base)


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
