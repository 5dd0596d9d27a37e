"""A bench with several bases: each is learned, and the best formula of all bases is found.

Oracle: benches of one base each, designed one by one; the best of their best is the best of both.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from optiform.answers.design.formulas import design
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.live import Bound, LiveBrief
from optiform.brief.reading import brief_from
from optiform.library.formulas import TypedFormula
from optiform.program import Key
from optiform.search.bases import on_best_base
from optiform.solver import NO_LIMIT
from tests.families.plans import asked as family_asked
from tests.families.plans import plan
from tests.taught import library

FOAMER = [{"foamer": f, "betaine": b, "gum": g} for f, b, g in
          ((10, 4, 1.0), (12, 4, 0.8), (8, 6, 1.2), (10, 6, 0.6), (12, 5, 1.2), (9, 5, 0.8))]  # fmt: skip
GLUCOSIDE = [{"glucoside": g, "pectin": p} for g, p in ((12, 1.0), (14, 0.8), (16, 1.4), (14, 1.2))]
LINE = {"foamer": 0.12, "betaine": 0.1, "gum": 0.9, "glucoside": 0.1, "pectin": 1.0}
"""Invented: log10 mPa.s per 1 %."""


def bench(folder, washes):
    folder.mkdir()
    weighed, readings = "trial,material,grams\n", "trial,measure,value\n"
    for name, wash in enumerate(washes, 1):
        for material, grams in {**wash, "water": 100 - sum(wash.values())}.items():
            weighed += f"{name},{material},{grams}\n"
        log = sum(LINE[material] * grams for material, grams in wash.items())
        readings += f"{name},viscosity,{10 ** (log + 0.02 * math.sin(99 * log)):.0f}\n"
    (folder / "weighed.csv").write_text(weighed)
    (folder / "readings.csv").write_text(readings)


@pytest.fixture
def wash(tmp_path):
    bench(tmp_path / "both", [*FOAMER, *GLUCOSIDE])
    bench(tmp_path / "first", FOAMER)
    bench(tmp_path / "second", GLUCOSIDE)

    def asked(name, prices=None, **keys):
        held = library()
        changed = (m.model_copy(update={"price": (prices or {}).get(m.id, m.price)}) for m in held.materials)
        held = held.model_copy(update={"materials": tuple(changed)})
        targets = {"function:surfactant": {"at_least": 12.0}, "viscosity": {"at_least": 300.0, "sure": 0.9}}
        mapping = {"title": "wash", "law": "none", "bench": name, "targets": targets, **keys}
        return brief_from(mapping, held, folder=tmp_path)

    return asked


@pytest.mark.parametrize("prices", [{}, {"glucoside": 9.0, "pectin": 40.0}])
def test_the_best_of_all_bases_is_the_best_of_the_best_of_each(wash, prices):
    alone = [design(wash(name, prices=prices)).formulas[0].aim for name in ("first", "second")]
    answer = design(wash("both", prices=prices))
    assert answer.formulas[0].aim == pytest.approx(min(alone), abs=1e-6)
    second = min(alone) == alone[1]
    assert second is not bool(prices)
    words = "of Glucoside, Pectin (4 of 10 trials)" if second else "of Betaine, Foamer, Gum (6 of 10 trials)"
    assert [note for note in answer.notes if "several sets" in note] == [
        next(note for note in answer.notes if words in note)
    ]


def test_a_brief_takes_the_base_that_holds_what_it_includes(wash):
    brief = wash("both", include=[{"material": "pectin"}])
    assert brief.known.base == {"glucoside", "pectin"}
    assert on_best_base(brief, NO_LIMIT).known.base == {"glucoside", "pectin"}
    assert wash("both").known.base == {"foamer", "betaine", "gum"}  # tried most


def test_a_formula_is_judged_by_the_trials_of_its_own_base(wash):
    """At 14 % of glucoside and 1 % of pectin the line gives 10^2.4 = 251; the limit is 300."""
    lines = (("water", 85.0), ("glucoside", 14.0), ("pectin", 1.0))
    brief = wash("both")
    answer = evaluate(TypedFormula("typed", lines, 100.0), brief.library, brief)
    [formula] = answer.formulas
    assert formula.figure("viscosity").value == pytest.approx(10**2.4, rel=0.1)
    assert any("viscosity" in item.requirement.title for item in formula.breaks)
    assert not any(item.requirement.key.section == "missing" for item in formula.breaks)
    assert any("of Glucoside, Pectin" in note for note in answer.notes)
    alone = evaluate(TypedFormula("typed", lines, 100.0), brief.library, wash("second")).formulas[0]
    assert formula.figure("viscosity").value == alone.figure("viscosity").value


def test_each_base_learns_from_its_own_trials_alone(wash):
    both, first = wash("both").known, wash("first").known
    [mine], [theirs] = both.taught, first.taught
    assert np.array_equal(mine.knowledge.mean, theirs.knowledge.mean)
    assert [one.base for one in both.others] == [frozenset({"glucoside", "pectin"})]


DEAR, TURNING = {"glucoside": 9.0, "pectin": 40.0}, {"glucoside": 4.39, "pectin": 23.2}
"""Prices at which the base that was tried most is the better one, and at which it is so only of a thick wash."""


@pytest.mark.parametrize("prices", [{}, DEAR])
def test_each_product_of_a_family_takes_its_best_base_and_says_so(wash, prices):
    """One product and no packs: the family is its own best formula."""
    brief = wash("both", prices=prices)
    found = family_asked(plan(brief.library, [brief], minimise="consumed"))
    assert found.products[0].alone == pytest.approx(design(brief).formulas[0].aim, abs=1e-6)
    words = "of Betaine, Foamer, Gum (6 of 10 trials)" if prices else "of Glucoside, Pectin (4 of 10 trials)"
    [told] = [note for note in found.notes if "several sets" in note]
    assert words in told and "another set may suit the shelf better" in told


def test_a_moved_wish_may_bring_another_base(wash):
    """Oracle: a fresh design. Pectin is dear enough that a thick wash is cheaper with gum."""
    live = LiveBrief(wash("both", prices=TURNING))
    seen = set()
    for least in (60.0, 300.0, 60.0):
        live.move(Bound(Key("targets", ("viscosity",), "at_least"), least))
        found = live.proven()
        fresh = design(live.brief).formulas[0]
        assert found.proven and found.aim == pytest.approx(fresh.aim, abs=1e-6)
        assert live.brief.known.base == found.brief.known.base
        assert set(found.amounts) - {"water"} <= found.brief.known.base | {"salt", "nettle"}
        seen.add(found.brief.known.base)
    assert len(seen) == 2
