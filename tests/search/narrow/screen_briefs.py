"""Briefs of every kind of rule, drawn at random, large enough that leaving materials out is worth proving."""

from __future__ import annotations

import random

from optiform.brief.models import Aim, Brief, Choose, Exclude, Include, Ranked, Ratio, Share, Target
from optiform.library.models import (
    Incompatible,
    LinearRule,
    Needs,
    PreservativeSystem,
    Rules,
    Term,
    When,
)
from tests.builders import NEUTRAL, tiny_library

CLASSES = ("anionic", "amphoteric", "nonionic")
TAGS = ("red", "blue", "green")
SALTY = {"charge_acid_form": -1.0, "strong_charge": 1.0, "molar_mass": 58.44, "tags": ("electrolyte",)}
ACID = {"pka": (3.128, 4.761, 6.396), "charge_acid_form": 0.0, "strong_charge": 0.0, "molar_mass": 192.12}
BASE = {"charge_acid_form": 0.0, "strong_charge": 1.0, "molar_mass": 40.0}
KEPT_BY = {"pka": (4.202,), "charge_acid_form": 0.0, "strong_charge": 1.0, "molar_mass": 144.1}


def random_library(draw: random.Random):
    """Return a library of 20 to 45 materials with preservative systems and rules of every kind."""
    materials, substances, parts = [], [], {}

    def add(name: str, function: str, held: dict[str, float], **fields):
        levels = {
            "min_if_used": draw.choice((0.0, 0.05, 0.3, 1.0, 2.5)),
            "max_use": draw.choice((100.0, 40.0, 15.0, 6.0)),
        }
        window = {}
        if draw.random() < 0.15:
            window = draw.choice(({"pH_min": 4.5}, {"pH_max": 5.2}, {"pH_min": 4.0, "pH_max": 6.5}))
        tags = tuple(tag for tag in TAGS if draw.random() < 0.25)
        materials.append(
            {"id": name, "function": function, "price": round(draw.uniform(0.5, 15.0), 2), "tags": tags}
            | levels
            | window
            | fields
        )
        parts[name] = held

    for k in range(draw.randint(6, 14)):
        inci = f"Wash {draw.randint(0, 6)}"
        if all(item["inci"] != inci for item in substances):
            substances.append(
                {"inci": inci, "charge_class": draw.choice(CLASSES), "mildness": float(draw.randint(20, 95))}
                | NEUTRAL
            )
        held = {inci: float(draw.randint(20, 90))}
        if draw.random() < 0.3:
            held["Salt"] = 5.0
        add(f"wash-{k}", "surfactant", held)
    for k in range(draw.randint(3, 7)):
        add(f"gum-{k}", "thickener", {f"Gum {k}": 100.0}, max_use=draw.choice((1.5, 3.0)), min_if_used=0.2)
    for k in range(draw.randint(2, 6)):
        add(f"sweet-{k}", "humectant", {f"Sweet {k}": 80.0})
    for k in range(draw.randint(2, 8)):
        add(f"leaf-{k}", "extract", {f"Leaf {k}": 10.0})
    add("salt", "salt", {"Salt": 100.0}, max_use=4.0)
    for k in range(3):
        add(f"acid-{k}", "acid", {"Sour": draw.choice((20.0, 50.0, 100.0))}, max_use=4.0, min_if_used=0.01)
        add(f"base-{k}", "base", {"Lye": draw.choice((10.0, 30.0))}, max_use=4.0, min_if_used=0.01)
    systems = []
    if draw.random() < 0.7:
        for k in range(3):
            add(
                f"keep-{k}",
                "preservative",
                {"Benzoate": 100.0} if k == 0 else {f"Keep {k}": 100.0},
                max_use=2.0,
            )
        systems = [
            PreservativeSystem(name="one", members={"keep-0": (0.3, 0.5)}, pH=(None, 5.0)),
            PreservativeSystem(name="two", members={"keep-1": (0.4, 1.0), "keep-0": (0.1, 0.5)}),
            PreservativeSystem(name="three", members={"keep-2": (0.5, 1.0)}, pH=(4.0, 8.0)),
        ]
    substances += [
        {"inci": "Salt"} | SALTY,
        {"inci": "Sour"} | ACID,
        {"inci": "Lye"} | BASE,
        {"inci": "Benzoate"} | KEPT_BY,
    ]
    return tiny_library(materials, substances, parts, systems=tuple(systems), rules=_rules(draw))


def random_brief(seed: int) -> Brief:
    """Return a brief; some cannot be met."""
    draw = random.Random(seed)
    library = random_library(draw)
    targets: dict[str, Target] = {"active matter": Target(at_least=float(draw.randint(4, 14)), at_most=20.0)}
    if draw.random() < 0.5:
        targets["mildness"] = Target(at_least=float(draw.randint(30, 60)))
    if library.systems or draw.random() < 0.5:
        low = draw.choice((4.2, 4.8, 5.0))
        targets["pH"] = Target(at_least=low, at_most=low + 0.7, set=draw.choice(("dosed", "dosed", "bench")))
    if draw.random() < 0.3:
        targets["ingredients"] = Target(at_most=float(draw.randint(8, 12)))
    if draw.random() < 0.3:
        targets["electrolyte"] = Target(at_most=draw.choice((0.5, 2.0)))
    aim = _aim(draw)
    if aim.measure != "cost":
        targets["cost"] = Target(at_most=2.5)
    return Brief(
        title=f"drawn with seed {seed}",
        library=library,
        law="none",
        aim=aim,
        targets=targets,
        include=_some(
            draw,
            Include(function="humectant", at_least=2.0, at_most=8.0),
            Include(function="extract"),
            Include(material="gum-0", at_least=0.3),
        ),
        exclude=_some(draw, Exclude(tag="green"), share=0.3),
        choose=_some(
            draw,
            Choose(function="surfactant", at_least=2, at_most=3),
            Choose(function="thickener", at_least=1, at_most=1),
            Choose(tag="red", at_most=2),
        ),
        share=_some(
            draw, Share(each="surfactant", at_most=65.0), Share(of="anionic", at_least=20.0, at_most=70.0)
        ),
        ratio=_some(draw, Ratio(of="amphoteric", to="anionic", at_least=0.2), share=0.3),
        ranked=Ranked(
            how_many=draw.choice((1, 3, 6)),
            differ_in=draw.choice(
                (
                    ("surfactant", "thickener", "preservative"),
                    ("surfactant",),
                    ("surfactant", "humectant"),
                    ("thickener",),
                )
            ),
        ),
    )


def _aim(draw: random.Random) -> Aim:
    then: tuple[str, ...] = draw.choice(
        ((), (), ("ingredients",), ("mildness",), ("ingredients", "mildness"))
    )
    tie = draw.choice((0.0, 0.005, 0.05))
    kind = draw.random()
    if kind < 0.75:
        return Aim(then=then, tie=tie)
    if kind < 0.85:
        return Aim(measure="active matter", sense="maximise", then=then, tie=tie)
    if kind < 0.95:
        return Aim(measure="ingredients", then=("cost",), tie=tie)
    return Aim(measure="mildness", sense="maximise")


def _rules(draw: random.Random) -> Rules:
    return Rules(
        needs=_some(
            draw,
            Needs(material="gum-1", other="function:humectant", ratio=2.0),
            Needs(material="tag:blue", other="function:extract"),
        ),
        incompatible=_some(
            draw, Incompatible(one="tag:red", other="tag:blue"), Incompatible(one="gum-0", other="wash-0")
        ),
        when=_some(
            draw,
            When(material="tag:blue", measure="electrolyte", at_most=0.4),
            When(material="wash-1", measure="share:anionic", at_most=40.0),
            When(material="tag:red", measure="pH", at_least=4.9),
        ),
        linear=_some(
            draw,
            LinearRule(
                name="salt with gum",
                terms=(Term(measure="electrolyte"), Term(measure="function:thickener", times=-2.0)),
                at_most=1.0,
            ),
        ),
    )


def _some(draw: random.Random, *items, share: float = 0.5) -> tuple:
    return tuple(item for item in items if draw.random() < share)
