"""The curve against independent solves at many bounds, its own proofs, and what it says of itself."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.answers.check import check
from optiform.answers.tradeoff import TradeOff, tradeoff
from optiform.brief.models import Aim, Brief, Choose, Include, Ranked, Share, Target
from optiform.faults import BadInput
from optiform.library.models import Library
from optiform.solver import Clock
from tests.builders import tiny_library

SURFACTANTS = {
    # invented: price, active %, mildness, charge class, least amount if used
    "harsh-one": (1.2, 70.0, 30.0, "anionic", 1.0),
    "middle-one": (2.4, 30.0, 55.0, "anionic", 2.0),
    "soft-one": (3.6, 30.0, 75.0, "amphoteric", 2.0),
    "softest-one": (7.5, 50.0, 92.0, "nonionic", 3.0),
    "dear-soft-one": (5.8, 25.0, 88.0, "nonionic", 0.0),
}


def library_of(rows: dict[str, tuple[float, float, float, str, float]]) -> Library:
    return tiny_library(
        [
            {"id": name, "function": "surfactant", "price": row[0], "min_if_used": row[4], "max_use": 40.0}
            for name, row in rows.items()
        ],
        substances=[
            {"inci": f"Active {name}", "charge_class": row[3], "mildness": row[2]}
            for name, row in rows.items()
        ],
        parts={name: {f"Active {name}": row[1]} for name, row in rows.items()},
    )


def brief_of(library: Library, **fields: object) -> Brief:
    targets = {"active matter": Target(at_least=8.0, at_most=12.0)}
    kept = {"title": "t", "law": "none", "targets": targets, "ranked": Ranked(differ_in=("surfactant",))}
    return Brief(library=library, **{**kept, **fields})  # type: ignore[arg-type]


def best_at(brief: Brief, found: TradeOff, bound: float) -> float | None:
    """Solve the brief afresh with the bound as a plain target: no part of the curve's machinery is used."""
    before = brief.targets.get(found.against, Target())
    targets = {**brief.targets, found.against: before.model_copy(update={found.side: bound})}
    aim = Aim(measure=found.of, sense=found.sense)
    answer = check(brief.model_copy(update={"targets": targets, "aim": aim}))
    return answer.formulas[0].aim if answer.formulas else None


def inside(found: TradeOff, share: float) -> float:
    first, last = found.curve.stretches[0].start.bound, found.curve.stretches[-1].end.bound
    return first + share * (last - first)


def assert_equals_solves(brief: Brief, found: TradeOff, shares: list[float], slack: float) -> None:
    assert found.status == "solved"
    for share in shares:
        bound = inside(found, share)
        alone, read = best_at(brief, found, bound), found.curve.at(bound)
        assert alone is not None
        assert read is not None
        worse = 1.0 if found.sense == "minimise" else -1.0
        scale = max(1.0, abs(alone))
        assert -1e-6 * scale <= worse * (read - alone) <= slack + 1e-6 * scale, (bound, read, alone)


def assert_monotone(found: TradeOff) -> None:
    worse = 1.0 if found.sense == "minimise" else -1.0
    tighter = 1.0 if found.side == "at_least" else -1.0
    for before, after in itertools.pairwise(found.curve.stretches):
        assert after.start.bound == before.end.bound
        assert worse * (after.start.value - before.end.value) >= -1e-6
        assert after.jump >= 0
    for stretch in found.curve.stretches:
        assert tighter * (stretch.end.bound - stretch.start.bound) >= 0
        assert worse * (stretch.end.value - stretch.start.value) >= -1e-9
        assert stretch.price >= 0
        for knot in (stretch.start, stretch.end):
            assert tighter * (knot.reached - knot.bound) >= -1e-6
            assert math.fsum(amount for _, amount in knot.lines) == pytest.approx(100.0, abs=1e-9)


@pytest.fixture(scope="module")
def plain() -> Brief:
    return brief_of(library_of(SURFACTANTS), choose=(Choose(function="surfactant", at_least=1, at_most=2),))


@pytest.fixture(scope="module")
def mild(plain: Brief) -> Brief:
    return plain.model_copy(update={"targets": {"mildness": Target(at_least=60.0)}})


@pytest.fixture(scope="module")
def strong(mild: Brief) -> TradeOff:
    return tradeoff(mild, "cost", "active matter")


class TestTwoTotals:
    def test_equals_independent_solves(self, mild: Brief, strong: TradeOff) -> None:
        assert strong.straight
        assert_equals_solves(mild, strong, [0.0, 0.03, 0.11, 0.24, 0.37, 0.5, 0.61, 0.77, 0.93, 0.999], 0.0)

    def test_is_exact_at_its_own_knots(self, mild: Brief, strong: TradeOff) -> None:
        for stretch in strong.curve.stretches:
            alone = best_at(mild, strong, stretch.end.bound)
            if alone is not None:  # the last sliver of the reach may be lost to the solver's tolerance
                assert stretch.end.value == pytest.approx(alone, abs=1e-6)

    def test_nothing_is_possible_beyond_its_reach(self, mild: Brief, strong: TradeOff) -> None:
        assert best_at(mild, strong, strong.curve.stretches[-1].end.bound + 1e-4) is None
        assert strong.curve.at(strong.curve.stretches[-1].end.bound + 1e-4) is None

    def test_never_gets_better(self, strong: TradeOff) -> None:
        assert_monotone(strong)

    def test_every_bracket_is_closed(self, strong: TradeOff) -> None:
        assert strong.proven
        assert all(s.bracket is not None and s.bracket <= 2e-6 for s in strong.curve.stretches)

    def test_structure_is_that_of_an_independent_solve(self, mild: Brief, strong: TradeOff) -> None:
        for stretch in strong.curve.stretches:
            if stretch.width < 0.05:
                continue
            middle = 0.5 * (stretch.start.bound + stretch.end.bound)
            targets = {"mildness": Target(at_least=60.0), "active matter": Target(at_least=middle)}
            answer = check(mild.model_copy(update={"targets": targets}))
            used = {line.material for line in answer.formulas[0].lines if line.function == "surfactant"}
            assert {f"Active {name}" for name in used} == set(stretch.structure)


class TestMeans:
    def test_cost_against_mildness(self, plain: Brief) -> None:
        found = tradeoff(plain, "cost", "mildness")
        assert not found.straight
        assert_equals_solves(
            plain, found, [0.0, 0.05, 0.2, 0.33, 0.41, 0.52, 0.6, 0.71, 0.8, 0.9, 0.99], 1e-3
        )
        assert_monotone(found)
        assert all(s.bracket is not None and s.bracket <= 1e-3 for s in found.curve.stretches)

    def test_mildness_maximised_under_a_cost_that_moves(self, plain: Brief) -> None:
        found = tradeoff(plain, "mildness", "cost")
        assert (found.sense, found.side) == ("maximise", "at_most")
        assert_equals_solves(plain, found, [0.02, 0.3, 0.55, 0.7, 0.9, 0.97], 1e-3)
        assert_monotone(found)

    def test_both_ways_give_one_front(self, plain: Brief) -> None:
        one, other = tradeoff(plain, "cost", "mildness"), tradeoff(plain, "mildness", "cost")
        for share in (0.3, 0.5, 0.75, 0.9):
            bound = inside(one, share)
            cost = one.curve.at(bound)
            assert cost is not None
            reached = other.curve.at(cost + 2e-3)
            assert reached is not None
            assert reached >= bound - 1e-3

    def test_two_means(self, plain: Brief) -> None:
        found = tradeoff(plain, "mildness", "share:anionic", side="at_least")
        assert_equals_solves(plain, found, [0.05, 0.4, 0.6, 0.85], 1e-3)
        assert_monotone(found)

    def test_a_coarser_bracket_is_kept_as_well(self, plain: Brief) -> None:
        found = tradeoff(plain, "cost", "mildness", within=0.05)
        assert_equals_solves(plain, found, [0.1, 0.45, 0.66, 0.88], 0.05)


@pytest.fixture(scope="module")
def by_hand() -> TradeOff:
    # cheap: 100 % active, 1 EUR/kg, mildness 20; gentle: 100 % active, 5 EUR/kg, mildness 80; no least amounts
    library = library_of(
        {"cheap": (1.0, 100.0, 20.0, "anionic", 0.0), "gentle": (5.0, 100.0, 80.0, "nonionic", 0.0)}
    )
    targets = {"active matter": Target(at_least=10.0, at_most=10.0), "mildness": Target(at_least=50.0)}
    targets["cost"] = Target(at_most=0.4)
    return tradeoff(brief_of(library, targets=targets), "cost", "mildness")


class TestHandExample:
    """Two surfactants, 10 % active matter, one water: cost and mildness can be followed on paper."""

    def test_ends(self, by_hand: TradeOff) -> None:
        # all cheap: 10 % of 1 EUR/kg = 0.10; all gentle: 10 % of 5 EUR/kg = 0.50
        curve = by_hand.curve
        assert curve.stretches[0].start.bound == pytest.approx(20.0, abs=1e-5)
        assert curve.stretches[0].start.value == pytest.approx(0.10, abs=1e-6)
        assert curve.stretches[-1].end.bound == pytest.approx(80.0, abs=1e-5)
        assert curve.stretches[-1].end.value == pytest.approx(0.50, abs=1e-6)

    def test_slope(self, by_hand: TradeOff) -> None:
        # 60 points for 0.40 EUR/kg
        for bound in (20.0, 35.0, 50.0, 79.0):
            assert by_hand.curve.at(bound) == pytest.approx(0.1 + (bound - 20.0) * 0.4 / 60.0, abs=1e-3)

    def test_where_the_brief_stands(self, by_hand: TradeOff) -> None:
        assert by_hand.curve.here is not None
        assert by_hand.curve.here.value == pytest.approx(0.30, abs=1e-3)
        assert by_hand.curve.affords is not None
        assert by_hand.curve.affords.bound == pytest.approx(65.0, abs=0.2)  # 0.40 EUR/kg buys 45 points


class TestFreeAndKnees:
    def test_what_costs_nothing_is_named(self) -> None:
        # the cheapest surfactant is not the harshest: mildness is free up to its own index
        library = library_of(
            {
                "harsh": (3.0, 100.0, 20.0, "anionic", 0.0),
                "cheap": (1.0, 100.0, 50.0, "anionic", 0.0),
                "gentle": (2.0, 100.0, 60.0, "nonionic", 0.0),
                "dear": (20.0, 100.0, 90.0, "nonionic", 0.0),
            }
        )
        targets = {"active matter": Target(at_least=10.0, at_most=10.0)}
        found = tradeoff(brief_of(library, targets=targets), "cost", "mildness")
        assert len(found.curve.free) == 1
        assert found.curve.free[0].start == pytest.approx(20.0, abs=1e-5)
        assert found.curve.free[0].end == pytest.approx(50.0, abs=1e-5)
        # beyond 60 a point goes from 0.01 (10 % of 1 EUR per 10 points) to 0.06 (10 % of 18 EUR per 30 points)
        main = [knee for knee in found.curve.knees if knee.main]
        assert len(main) == 1
        assert main[0].bound == pytest.approx(60.0, abs=0.02)
        assert main[0].before == pytest.approx(0.01, rel=0.05)
        assert main[0].after == pytest.approx(0.06, rel=0.05)

    def test_a_jump_is_marked_with_the_change_of_structure(self, plain: Brief) -> None:
        one = plain.model_copy(update={"choose": (Choose(function="surfactant", at_least=1, at_most=1),)})
        found = tradeoff(one, "cost", "mildness")
        changes = [s for s in found.curve.stretches if s.change == "structure"]
        # one surfactant only: mildness is its index, so each one serves up to its own index
        assert found.curve.stretches[0].structure == ("Active harsh-one",)
        assert [round(s.start.bound, 3) for s in changes] == [30.0, 55.0, 75.0]
        # price of 1 % active matter: 8 for the middle one, 12 for the soft one, 15 for the softest; dear-soft-one: 23.2
        assert [s.structure for s in changes] == [
            (f"Active {name}",) for name in ("middle-one", "soft-one", "softest-one")
        ]
        prices = [1.2 / 0.7, 2.4 / 0.3, 3.6 / 0.3, 7.5 / 0.5]
        jumps = [0.08 * (after - before) for before, after in itertools.pairwise(prices)]
        assert [s.jump for s in changes] == pytest.approx(jumps, abs=1e-5)


class TestWhereMaterialsChange:
    """No least amounts, so materials fade in and out along a stretch; where they do can be said on paper."""

    def test_a_material_leaves_where_its_amount_ends_not_where_it_begins_to_fall(self) -> None:
        # 10 % of 20, 50 or 80 % glow at 1, 2 or 5 EUR/kg: 2 to 5 % glow is poor with middle, 5 to 8 % middle with rich
        library = tiny_library(
            [
                {"id": name, "function": "humectant", "price": price}
                for name, price in (("poor", 1.0), ("middle", 2.0), ("rich", 5.0))
            ],
            substances=[{"inci": "Glow"}, {"inci": "Rest"}],
            parts={
                "poor": {"Glow": 20.0, "Rest": 80.0},
                "middle": {"Glow": 50.0, "Rest": 50.0},
                "rich": {"Glow": 80.0, "Rest": 20.0},
            },
        )
        held = Include(function="humectant", at_least=10.0, at_most=10.0)
        brief = Brief(title="t", library=library, law="none", include=(held,), ranked=Ranked(differ_in=()))
        first, second = tradeoff(brief, "cost", "substance:Glow").curve.stretches
        assert [first.start.bound, first.end.bound, second.end.bound] == pytest.approx([2.0, 5.0, 8.0])
        assert (second.entered, second.left) == (("rich",), ("poor",))
        assert set(first.materials) == {"water", "poor", "middle"}

    def test_a_turn_of_a_mean_that_hardly_bends_is_still_located(self) -> None:
        # 10 % active matter of 20, 50 or 80 points at 1, 2.9999 or 5 EUR/kg: straight to 0.00001 EUR/kg
        library = library_of(
            {
                "cheap": (1.0, 100.0, 20.0, "anionic", 0.0),
                "between": (2.9999, 100.0, 50.0, "anionic", 0.0),
                "gentle": (5.0, 100.0, 80.0, "nonionic", 0.0),
            }
        )
        targets = {"active matter": Target(at_least=10.0, at_most=10.0)}
        found = tradeoff(brief_of(library, targets=targets, ranked=Ranked(differ_in=())), "cost", "mildness")
        (change,) = [stretch for stretch in found.curve.stretches if stretch.change]
        assert change.start.bound == pytest.approx(50.0, abs=0.01)
        assert (change.entered, change.left) == (("gentle",), ("cheap",))


class TestCounts:
    def test_cost_against_the_number_of_ingredients(self, plain: Brief) -> None:
        wide = plain.model_copy(
            update={"choose": (), "targets": {**plain.targets, "mildness": Target(at_least=60.0)}}
        )
        wide = wide.model_copy(update={"share": (Share(each="surfactant", at_most=50.0),)})
        found = tradeoff(wide, "cost", "ingredients")
        assert (found.side, found.sense) == ("at_most", "minimise")
        for count in (3, 4, 5, 6):
            read = found.curve.at(float(count))
            assert read == pytest.approx(best_at(wide, found, float(count)) or math.nan, abs=1e-6)

    def test_number_of_ingredients_against_mildness(self, plain: Brief) -> None:
        found = tradeoff(plain, "ingredients", "mildness")
        values = {round(knot.value, 6) for knot in found.curve.knots}
        assert values == {2.0}  # one surfactant and water are enough at every mildness that is reached
        assert found.proven


class TestFamilies:
    def test_each_curve_is_that_of_its_own_brief(self, plain: Brief) -> None:
        family = tradeoff(plain, "cost", "mildness", third=("active matter", [8.0, 10.0]), within=0.01)
        assert [curve.third.bound for curve in family.curves if curve.third] == [8.0, 10.0]
        for curve, bound in zip(family.curves, (8.0, 10.0), strict=True):
            targets = {"active matter": Target(at_least=bound, at_most=12.0)}
            alone = tradeoff(plain.model_copy(update={"targets": targets}), "cost", "mildness", within=0.01)
            for share in (0.0, 0.5, 0.95):
                assert curve.at(inside(alone, share)) == pytest.approx(
                    alone.curve.at(inside(alone, share)), abs=0.011
                )

    def test_a_member_without_any_formula_is_an_empty_curve(self, plain: Brief) -> None:
        family = tradeoff(
            plain, "cost", "mildness", third=("substance:Active harsh-one", [12.5, 3.0]), within=0.05
        )
        assert family.curves[0].stretches == ()
        assert family.curves[1].stretches


class TestBadInput:
    @pytest.mark.parametrize(
        ("of", "against", "words"),
        [
            ("cost", "mildnes", "did you mean 'mildness'"),
            ("csot", "mildness", "there is no measure 'csot'"),
            ("cost", "pH", "window"),
            ("cost", "cost", "different measures"),
        ],
    )
    def test_names_the_fault(self, plain: Brief, of: str, against: str, words: str) -> None:
        with pytest.raises(BadInput, match=words):
            tradeoff(plain, of, against)

    def test_names_every_fault_at_once(self, plain: Brief) -> None:
        with pytest.raises(BadInput) as bad:
            tradeoff(plain, "csot", "mildnes", third=("pH", [5.0]))
        assert [fault.place for fault in bad.value.faults] == ["--of", "--against", "--third"]
        with pytest.raises(BadInput) as bad:
            tradeoff(plain, "cost", "mildness", third=("active matter", [-1.0, 10.0, 13.0, 10.0]))
        words = ["out of range", "crosses the brief's own limit", "given twice"]
        assert all(word in fault.message for word, fault in zip(words, bad.value.faults, strict=True))

    def test_third_out_of_range_or_crossed(self, plain: Brief) -> None:
        with pytest.raises(BadInput, match="out of range"):
            tradeoff(plain, "cost", "mildness", third=("active matter", [-1.0]))
        with pytest.raises(BadInput, match="crosses"):
            tradeoff(plain, "cost", "mildness", third=("active matter", [13.0]))


class TestOtherEnds:
    def test_a_brief_that_cannot_be_met_is_a_conflict(self, plain: Brief) -> None:
        targets = {"active matter": Target(at_least=90.0)}
        found = tradeoff(plain.model_copy(update={"targets": targets}), "cost", "mildness")
        assert found.status == "conflict"
        assert found.conflict is not None
        assert any(item.measure == "active matter" for item in found.conflict.requirements)

    def test_the_limits_on_both_measures_do_not_cut_the_curve(self, plain: Brief) -> None:
        limited = {**plain.targets, "cost": Target(at_most=0.4), "mildness": Target(at_least=70.0)}
        free = tradeoff(plain, "cost", "mildness", within=0.01)
        cut = tradeoff(plain.model_copy(update={"targets": limited}), "cost", "mildness", within=0.01)
        assert cut.curve.stretches[0].start.bound == pytest.approx(
            free.curve.stretches[0].start.bound, abs=1e-6
        )
        assert cut.curve.stretches[-1].end.value == pytest.approx(
            free.curve.stretches[-1].end.value, abs=1e-6
        )
        assert cut.curve.here is not None
        assert cut.curve.here.bound == 70.0

    def test_stopped_in_time(self, plain: Brief) -> None:
        found = tradeoff(plain, "cost", "mildness", clock=Clock.of(1e-6))
        assert found.status == "stopped"
        assert not found.proven

    def test_the_same_twice(self, plain: Brief) -> None:
        one, other = (tradeoff(plain, "cost", "mildness", within=0.05) for _ in range(2))
        assert one.curves == other.curves

    def test_table_of_points(self, plain: Brief) -> None:
        found = tradeoff(plain, "cost", "mildness", within=0.05)
        assert len(found.points) == 2 * len(found.curve.stretches)
        assert "<table" in found.to_html() and "&lt;table" in found._repr_html_()


prices = st.integers(10, 90).map(lambda tenths: tenths / 10)
rows = st.tuples(
    prices,
    st.sampled_from([25.0, 40.0, 70.0]),
    st.integers(10, 95).map(float),
    st.sampled_from(["anionic", "nonionic"]),
    st.sampled_from([0.0, 1.0, 4.0]),
)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    st.lists(rows, min_size=2, max_size=4), st.sampled_from(["mildness", "active matter"]), st.integers(1, 3)
)
def test_any_tiny_library(
    drawn: list[tuple[float, float, float, str, float]], against: str, most: int
) -> None:
    library = library_of({f"s{place}": row for place, row in enumerate(drawn)})
    brief = brief_of(
        library,
        targets={"active matter": Target(at_most=14.0)} if against == "active matter" else
        {"active matter": Target(at_least=6.0, at_most=9.0)},
        choose=(Choose(function="surfactant", at_least=1, at_most=most),),
    )  # fmt: skip
    found = tradeoff(brief, "cost", against)
    if found.status == "conflict":
        assert check(brief).status == "conflict"
        return
    assert_monotone(found)
    shares = [float(share) for share in np.linspace(0.01, 0.99, 7)]
    assert_equals_solves(brief, found, shares, 0.0 if found.straight else 1e-3)
