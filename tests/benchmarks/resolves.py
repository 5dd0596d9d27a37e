"""Re-solves in a live session against building and solving afresh, on the starter library.

``python -m tests.benchmarks.resolves`` prints what it measured as JSON. What changes is one price or one
limit of the nettle brief, a little more at each step: the price of the surfactant that there is most of,
the mildness that is asked for. Both ways must come to the same aims.
"""

from __future__ import annotations

import json
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from optiform.brief import load_brief
from optiform.library.overrides import with_prices
from optiform.program import build, reduce
from optiform.search.fixed_choices import polish
from optiform.search.ionic_strength import ground
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.brief.models import Brief
    from optiform.program import Program
    from optiform.search.fixed_choices import Polished

BRIEF = Path(__file__).parents[2] / "problems" / "nettle-gel-oily-skin" / "brief.toml"
LIMIT = "mildness"
HELD = 62.0
STEPS = 200
STEPS_AFRESH = 20
STEPS_CHOICES_FREE = 8
AGREE = 1e-7


@dataclass(frozen=True)
class Compared:
    """One kind of change: solves per second both ways."""

    choices: str
    change: str
    live: float
    afresh: float

    @property
    def ratio(self) -> float:
        """Return how many times as many the live session does."""
        return self.live / self.afresh


def compared() -> list[Compared]:
    """Measure both kinds of change, with the choices fixed and free."""
    brief = load_brief(BRIEF)
    grounded = ground(build(brief))
    first = grounded.first.values
    polished = None if first is None else polish(grounded.program, first)
    if polished is None:
        raise AssertionError("the brief has no formula")
    material = _most(polished)
    return [
        *(_fixed(brief, polished, change, material) for change in ("price", "limit")),
        *(_free(brief, grounded.program, change, material) for change in ("price", "limit")),
    ]


def _most(polished: Polished) -> str:
    """Return the surfactant of a formula that there is most of."""
    materials = polished.program.library.materials
    amounts = zip(polished.amounts, materials, strict=True)
    return max((amount, one.id) for amount, one in amounts if one.function == "surfactant")[1]


def _fixed(brief: Brief, polished: Polished, change: str, material: str) -> Compared:
    """Compare with the choices of the best formula kept."""
    reduced, session = polished.reduced, Session(polished.reduced.form)
    strength = polished.program.catalogue.conditions.ionic_strength

    def live(step: int) -> float:
        with session.trial():
            if change == "price":
                costs = reduced.form.objective.copy()
                costs[reduced.position[_place(reduced.program, material)]] += _dearer(step) / 100
                session.set_objective(costs)
            else:
                for row, content in reduced.moved(_limit(reduced.program), _bound(step)):
                    session.set_row(row, content)
            return session.solve().objective

    def afresh(step: int) -> float:
        anew = reduce(build(_changed(brief, change, material, step), strength), polished.values)
        return Session(anew.form).solve().objective

    session.solve()
    return Compared("kept", change, *_both(live, afresh, STEPS))


def _free(brief: Brief, program: Program, change: str, material: str) -> Compared:
    """Compare with every choice open."""
    session, strength = Session(program.form), program.catalogue.conditions.ionic_strength

    def live(step: int) -> float:
        with session.trial():
            if change == "price":
                costs = program.form.objective.copy()
                costs[_place(program, material)] += _dearer(step) / 100
                session.set_objective(costs)
            else:
                for row, move in program.moves[_limit(program)]:
                    session.set_row(row, move.row(_bound(step)))
            return session.solve().objective

    def afresh(step: int) -> float:
        return Session(build(_changed(brief, change, material, step), strength).form).solve().objective

    session.solve()
    return Compared("free", change, *_both(live, afresh, STEPS_CHOICES_FREE))


def _both(live: Callable[[int], float], afresh: Callable[[int], float], steps: int) -> tuple[float, float]:
    """Return solves per second of both ways, which must agree at every step that both take."""
    few = min(steps, STEPS_AFRESH)
    begun = time.process_time()
    by_live = [live(step) for step in range(steps)]
    middle = time.process_time()
    by_afresh = [afresh(step) for step in range(few)]
    ended = time.process_time()
    _agree(by_live[:few], by_afresh)
    return steps / (middle - begun), few / (ended - middle)


def _agree(one: Sequence[float], other: Sequence[float]) -> None:
    if not np.all(np.isfinite(one)) or not np.allclose(one, other, rtol=AGREE, atol=0.0):
        raise AssertionError(f"a live session and a fresh program differ: {one} and {other}")
    if len(set(one)) < len(one):
        raise AssertionError("the change changes nothing")


def _place(program: Program, material: str) -> int:
    return program.library.arrays.material_index[material]


def _limit(program: Program) -> int:
    """Return the requirement whose bound moves."""
    (found,) = [
        key for key, one in enumerate(program.requirements) if one.measure == LIMIT and one.bound == HELD
    ]
    return found


def _dearer(step: int) -> float:
    return 0.05 * (step + 1)


def _bound(step: int) -> float:
    return HELD + 0.005 * (step + 1)


def _changed(brief: Brief, change: str, material: str, step: int) -> Brief:
    """Return the brief with one price or one limit changed in its data."""
    if change == "price":
        price = brief.library.material[material].price + _dearer(step)
        return brief.model_copy(update={"library": with_prices(brief.library, {material: price})})
    target = brief.targets[LIMIT].model_copy(update={"at_least": _bound(step)})
    return brief.model_copy(update={"targets": {**brief.targets, LIMIT: target}})


if __name__ == "__main__":
    print(json.dumps([{**asdict(one), "ratio": one.ratio} for one in compared()]))
