"""Small plans in memory: invented materials, two or three briefs on one library."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from optiform.brief.models import Aim, Brief, Choose, Exclude, Include, Target
from optiform.families.plan import FamilyPlan, Planned
from optiform.families.plan_questions import ask_family
from optiform.library.models import Library
from optiform.sheets.purchase.offers import Offer
from optiform.solver import Clock
from tests.asked import problem
from tests.builders import NEUTRAL, tiny_library

CLASSES = ("anionic", "amphoteric", "nonionic")


def library(seed: int, soaps: int = 3, others: int = 2) -> Library:
    """Return a library of a few surfactants and humectants with prices and use ranges by chance."""
    chance = np.random.default_rng(seed)
    materials, substances, parts = [], [], {}
    for place in range(soaps):
        name, inci = f"soap-{place}", f"Soap {place}"
        materials.append(
            {"id": name, "function": "surfactant", "price": float(chance.integers(10, 90)) / 10,
             "min_if_used": float(chance.choice([0.5, 2.0])), "max_use": float(chance.choice([12.0, 30.0]))}
        )  # fmt: skip
        substances.append(
            {
                "inci": inci,
                "charge_class": CLASSES[place % 3],
                "mildness": float(chance.integers(20, 95)),
                **NEUTRAL,
            }
        )
        parts[name] = {inci: float(chance.integers(30, 90))}
    for place in range(others):
        materials.append(
            {"id": f"polyol-{place}", "function": "humectant", "price": float(chance.integers(5, 60)) / 10,
             "min_if_used": 0.5, "max_use": 10.0, "tags": (("plain", "fine")[place % 2],)}
        )  # fmt: skip
    return tiny_library(materials, substances, parts)


def briefs(held: Library, seed: int, count: int = 2) -> list[Brief]:
    """Return briefs that ask by chance for active matter, mildness, humectants and how many surfactants."""
    chance = np.random.default_rng(1000 + seed)
    found = []
    for place in range(count):
        targets = {"active matter": Target(at_least=float(chance.integers(3, 9)))}
        if chance.random() < 0.6:
            targets["mildness"] = Target(at_least=float(chance.integers(30, 60)))
        tag = str(chance.choice(["plain", "fine"]))
        found.append(
            Brief(
                title=f"wash {place}",
                library=held,
                law="none",
                aim=Aim(),
                targets=targets,
                include=(Include(function="humectant", at_least=float(chance.integers(1, 4))),),
                exclude=(Exclude(tag=tag),) if chance.random() < 0.5 else (),
                choose=(Choose(function="surfactant", at_least=int(chance.integers(1, 3))),),
            )
        )
    return found


def plan(held: Library, asked: list[Brief], **fields) -> FamilyPlan:
    """Return a plan of these briefs, 1 kg of the first, 2 kg of the second and so on."""
    products = tuple(Planned(brief.title, brief, 1000.0 * place) for place, brief in enumerate(asked, 1))
    return FamilyPlan("a family", held, products, **fields)


def asked(read: FamilyPlan, **settings):
    """Return the family of a plan."""
    return ask_family(read, **settings)


def never_over() -> Clock:
    """Return a clock without a limit."""
    return Clock.of(None)


WITHIN = 0.03
NETTLE, OAT = "nettle-gel-oily-skin", "oat-conditioning-wash"


@cache
def two_washes():
    """Return the family of two shipped washes, fewest materials first; it is worked out once in a process."""
    held = problem(NETTLE).library
    products = (
        Planned("Nettle gel wash", problem(NETTLE), 5000.0, WITHIN),
        Planned("Oat wash", problem(OAT), 3000.0, WITHIN),
    )
    packs = tuple(
        Offer(material=pack.material, size_g=pack.size_g, price=pack.price, supplier=pack.supplier)
        for pack in held.packs
    )
    return asked(FamilyPlan("Two washes", held, products, minimise="materials", offers=packs))


def renamed(read: FamilyPlan, order: list[int]) -> FamilyPlan:
    """Return the plan with its products in another order."""
    return replace(read, products=tuple(read.products[place] for place in order))
