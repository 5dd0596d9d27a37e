"""Answers that hold for every lot or for a share of lots, against corners and an independent draw."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from optiform.answers.check import check
from optiform.answers.describe.drawn_lots import draw, lots_drawn
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.model import Answer
from optiform.answers.tradeoff import tradeoff
from optiform.brief.models import Brief, Certainty, Choose, Prefer, Ranked, Target
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.measures import Catalogue, Side
from optiform.program.windows import windows_of
from tests.builders import tiny_library
from tests.program.rows.lots import extreme_lots, library_at, with_windows
from tests.program.rows.test_certainty_rows import wash

STRONG = {"active matter": Target(at_least=6.0, at_most=12.0)}
LIMITS = {"active matter": Target(at_least=8.0, at_most=10.0), "mildness": Target(at_least=62.0)}


def brief_of(library: Library, lots: float | str | None, **fields: object) -> Brief:
    certainty = None if lots is None else Certainty(lots=lots)  # type: ignore[arg-type]
    kept = {
        "title": "t",
        "law": "none",
        "targets": LIMITS,
        "ranked": Ranked(how_many=2, differ_in=("surfactant",)),
    }
    return Brief(**{"library": library, "certainty": certainty, **kept, **fields})  # type: ignore[arg-type]


def amounts_of(library: Library, answer: Answer, rank: int = 0) -> np.ndarray:
    return library.arrays.amounts((line.material, line.percent) for line in answer.formulas[rank].lines)


@pytest.fixture(scope="module")
def answers() -> dict[object, Answer]:
    return {lots: design(brief_of(wash(), lots)) for lots in (None, 0.9, "all")}


class TestEveryLot:
    def test_holds_at_every_corner(self, answers: dict[object, Answer]) -> None:
        library = wash()
        windows = windows_of(library)
        assert windows is not None
        names = [library.materials[i].id for i in windows.materials]
        lots = [list(extreme_lots(low, high)) for low, high in zip(windows.low, windows.high, strict=True)]
        nearest = {"active matter": np.inf, "mildness": np.inf}
        for rank in range(len(answers["all"].formulas)):
            amounts = amounts_of(library, answers["all"], rank)
            for lot in itertools.product(*lots):
                catalogue = Catalogue(library_at(library, dict(zip(names, lot, strict=True))))
                for name, target in LIMITS.items():
                    value = catalogue.find(name).value(amounts)
                    assert value is not None
                    assert value >= (target.at_least or 0.0) - 1e-6
                    assert value <= (target.at_most or np.inf) + 1e-6
                    if rank == 0:
                        nearest[name] = min(nearest[name], value - (target.at_least or 0.0))
        # and no more than that: the best formula is at its worst lot exactly on a limit
        assert min(nearest.values()) == pytest.approx(0.0, abs=1e-6)

    def test_all_drawn_lots_hold(self, answers: dict[object, Answer]) -> None:
        for formula in answers["all"].formulas:
            assert formula.lots is not None
            assert formula.lots.all_held == formula.lots.drawn == 10_000

    def test_certainty_costs_more_the_more_there_is_of_it(self, answers: dict[object, Answer]) -> None:
        typical, most, every = (answers[lots].formulas[0].cost for lots in (None, 0.9, "all"))
        assert typical < most < every

    def test_what_it_costs_is_told(self, answers: dict[object, Answer]) -> None:
        told = answers["all"].certainty
        assert told.aim_with == answers["all"].formulas[0].aim
        assert told.aim_without == pytest.approx(answers[None].formulas[0].aim)
        assert told.costs == pytest.approx(told.aim_with - told.aim_without)
        assert any("What that certainty costs" in note for note in answers["all"].notes)

    def test_limits_too_narrow_for_any_lot_are_a_conflict(self) -> None:
        narrow = {"active matter": Target(at_least=8.4, at_most=8.6)}
        answer = check(brief_of(wash(), "all", targets=narrow))
        assert answer.status == "conflict"
        assert answer.conflict is not None
        assert {item.measure for item in answer.conflict.requirements} == {"active matter"}
        assert any("typical composition alone" in note for note in answer.notes)
        assert any("was asked to hold for every lot" in note for note in answer.notes)
        assert not any("holds for every lot" in note for note in answer.notes)

    def test_that_soft_wishes_count_at_typical_lots_is_said(self) -> None:
        wish = Prefer(measure="active matter", at_least=9.5, worth=0.01)
        for lots in ("all", None):
            notes = " ".join(check(brief_of(wash(), lots, prefer=(wish,))).notes)
            assert ("Soft wishes are counted at the typical" in notes) is (lots == "all")

    def test_a_library_without_windows_is_answered_as_it_is(self) -> None:
        bare = wash().model_copy(
            update={
                "parts": tuple(part.model_copy(update={"low": None, "high": None}) for part in wash().parts)
            }
        )
        sure, plain = check(brief_of(bare, "all")), check(brief_of(bare, None))
        assert sure.formulas[0].lines == plain.formulas[0].lines
        assert any("No material has a specification range" in note for note in sure.notes)


def own_draw(library: Library, count: int) -> np.ndarray:
    """Draw lots by a generator and a loop of the test's own, shape (count, materials, parts)."""
    generator = np.random.Generator(np.random.MT19937(99))
    windows = windows_of(library)
    assert windows is not None
    lots = np.repeat(windows.typical[None], count, axis=0)
    for lot in lots:
        for place in range(len(windows.materials)):
            free = [k for k in range(windows.parts) if windows.high[place, k] - windows.low[place, k] > 1e-12]
            for part in free:
                low, peak, high = (
                    windows.low[place, part],
                    windows.typical[place, part],
                    windows.high[place, part],
                )
                if part != windows.balance[place]:
                    lot[place, part] = generator.triangular(low, peak, high)
            others = sum(lot[place, k] for k in range(windows.parts) if k != windows.balance[place])
            lot[place, windows.balance[place]] = 1.0 - others
    return lots


class TestShareOfLots:
    def test_holds_in_that_share_of_an_independent_draw(self, answers: dict[object, Answer]) -> None:
        library, count = wash(), 2000
        lots = own_draw(library, count)
        names = [library.materials[i].id for i in windows_of(library).materials]  # type: ignore[union-attr]
        for rank in range(len(answers[0.9].formulas)):
            amounts = amounts_of(library, answers[0.9], rank)
            held = 0
            for lot in lots:
                catalogue = Catalogue(library_at(library, dict(zip(names, lot, strict=True))))
                values = {name: catalogue.find(name).value(amounts) or 0.0 for name in LIMITS}
                held += all(
                    (target.at_least or 0.0) - 1e-6 <= values[name] <= (target.at_most or np.inf) + 1e-6
                    for name, target in LIMITS.items()
                )
            # three standard deviations of a count of 2,000 at 0.9 are 0.020
            assert held / count >= 0.9 - 0.02
            drawn = answers[0.9].formulas[rank].lots
            assert drawn is not None
            assert drawn.share >= 0.9
            assert held / count == pytest.approx(drawn.share, abs=0.025)

    def test_the_method_is_told(self, answers: dict[object, Answer]) -> None:
        assert any("at least 90 % of lots" in note and "not proven" in note for note in answers[0.9].notes)
        assert 0.0 < answers[0.9].certainty.windows_drawn_in_to < 1.0

    def test_no_more_certainty_is_bought_than_asked_for(self) -> None:
        for seed in range(1, 4):
            answer = check(brief_of(wash(), 0.9, certainty=Certainty(lots=0.9, seed=seed)))
            lots = answer.formulas[0].lots
            assert lots is not None
            # within 1/128 of the narrowest windows, and 1/64 more where fresh lots fall short by chance
            assert 0.9 <= lots.share <= 0.925

    def test_the_same_seed_gives_the_same_answer(self, answers: dict[object, Answer]) -> None:
        again = design(brief_of(wash(), 0.9))
        assert again.formulas == answers[0.9].formulas

    def test_a_share_that_typical_formulas_hold_anyway(self) -> None:
        answer = check(brief_of(wash(), 0.01))
        assert answer.certainty.windows_drawn_in_to == 0.0
        assert answer.certainty.costs == pytest.approx(0.0, abs=1e-9)


class TestAlongACurve:
    @pytest.mark.parametrize("against", ["active matter", "substance:Salt"])
    @pytest.mark.parametrize("side", ["at_least", "at_most"])
    def test_a_bounded_total_holds_for_every_lot(self, against: str, side: Side) -> None:
        brief = brief_of(wash(), "all", targets={"mildness": LIMITS["mildness"], **STRONG})
        found = tradeoff(brief, "cost", against, side=side)
        assert found.straight
        assert found.status == "solved"
        curve = found.curve
        for share in (0.1, 0.5, 0.9):
            bound = curve.loosest + share * (curve.tightest - curve.loosest)
            own = brief.targets.get(against, Target()).model_copy(update={side: bound})
            alone = check(brief.model_copy(update={"targets": {**brief.targets, against: own}}))
            assert curve.at(bound) == pytest.approx(alone.formulas[0].aim, abs=1e-6)

    def test_that_a_mean_is_bounded_at_typical_lots_is_said(self) -> None:
        found = tradeoff(brief_of(wash(), "all"), "cost", "mildness", within=0.05)
        assert any("Only mildness is bounded at the typical composition" in note for note in found.notes)

    def test_what_a_share_of_lots_means_along_a_curve_is_said(self) -> None:
        found = tradeoff(brief_of(wash(), 0.9), "cost", "active matter")
        assert any("90 % of lots; other formulas were not counted" in note for note in found.notes)


class TestDrawnLots:
    def test_every_lot_is_within_its_windows(self) -> None:
        windows = windows_of(wash())
        assert windows is not None
        lots = draw(windows, 3000, 5)
        assert lots.sum(axis=2) == pytest.approx(np.ones((3000, len(windows.materials))))
        assert np.all(lots >= windows.low - 1e-12)
        assert np.all(lots <= windows.high + 1e-12)

    def test_the_distribution_is_triangular(self) -> None:
        windows = windows_of(wash())
        assert windows is not None
        active = draw(windows, 40_000, 5)[:, 2, 0]  # 48 to 52 %, peak 50 %
        # variance of a triangular distribution: (a^2 + b^2 + c^2 - ab - ac - bc) / 18
        assert active.mean() == pytest.approx(0.50, abs=2e-4)
        assert active.var() == pytest.approx(0.04**2 / 24, rel=0.03)

    def test_a_lot_that_cannot_add_up_is_drawn_back(self) -> None:
        library = tiny_library([{"id": "pair"}], parts={"pair": {"A": 60.0, "B": 40.0}})
        windows = windows_of(
            with_windows(library, {("pair", "A"): (40.0, 80.0), ("pair", "B"): (38.0, 42.0)})
        )
        assert windows is not None
        lots = draw(windows, 2000, 1)
        assert np.all(lots >= windows.low - 1e-12)
        assert np.all(lots <= windows.high + 1e-12)

    def test_a_material_has_the_same_lots_in_every_formula(self) -> None:
        one, both = (windows_of(wash(), names) for names in (["blend"], ["blend", "glucoside"]))
        assert one is not None
        assert both is not None
        assert np.array_equal(draw(one, 50, 3)[:, 0], draw(both, 50, 3)[:, 0])
        assert not np.array_equal(draw(one, 50, 3), draw(one, 50, 4))

    def test_a_limit_met_exactly_at_the_peak_holds_in_half_of_the_lots(self) -> None:
        library = wash()
        amounts = library.arrays.amounts([("glucoside", 16.0), ("water", 84.0)])
        brief = Brief(title="t", library=library, law="none", targets={"active matter": Target(at_least=8.0)})
        found = lots_drawn(brief, amounts)
        assert found is not None
        assert found.materials == ("glucoside",)
        (limit,) = found.limits
        assert (limit.low, limit.value, limit.high) == pytest.approx((7.68, 8.0, 8.32))
        assert limit.held == pytest.approx(5000, abs=150)  # three standard deviations of 10,000 at a half

    def test_none_where_nothing_varies(self) -> None:
        library = wash()
        assert (
            lots_drawn(Brief(title="t", library=library), library.arrays.amounts([("water", 100.0)])) is None
        )


class TestEvaluate:
    def test_a_typed_formula_reports_its_lots(self) -> None:
        library = wash()
        lines = (("glucoside", 16.0), ("water", 84.0))
        brief = Brief(
            title="t",
            library=library,
            law="none",
            targets={"active matter": Target(at_least=8.0), "mildness": Target(at_least=60.0)},
            certainty=Certainty(seed=7),
            choose=(Choose(function="surfactant", at_least=1),),
        )
        answer = evaluate(TypedFormula(name="typed", lines=lines, total=100.0), library, brief)
        formula = answer.formulas[0]
        assert formula.breaks == ()  # judged at the typical composition
        assert formula.lots is not None
        assert formula.lots.seed == 7
        assert {limit.requirement.measure for limit in formula.lots.limits} == {"active matter"}
        assert 0 < formula.lots.all_held < 10_000

    def test_an_exact_demand_is_counted_not_refused(self) -> None:
        library = wash()
        targets = {"active matter": Target(at_least=8.0, at_most=8.0)}
        brief = Brief(title="t", library=library, law="none", targets=targets, certainty=Certainty())
        answer = evaluate(
            TypedFormula(name="typed", lines=(("glucoside", 16.0), ("water", 84.0)), total=100.0),
            library,
            brief,
        )
        assert answer.formulas[0].lots is not None
        assert answer.formulas[0].lots.all_held == 0


class TestDoses:
    def test_the_acid_follows_the_lot(self) -> None:
        # invented: an alkaline surfactant whose alkali is a part of its own, set with a strong acid
        library = tiny_library(
            [
                {"id": "soapy", "function": "surfactant", "price": 2.0},
                {"id": "acid-10", "function": "acid", "price": 0.1, "max_use": 20.0},
            ],
            substances=[
                {
                    "inci": "Soft",
                    "charge_class": "nonionic",
                    "mildness": 70.0,
                    "charge_acid_form": 0.0,
                    "strong_charge": 0.0,
                },
                {
                    "inci": "Sodium Hydroxide",
                    "molar_mass": 39.997,
                    "charge_acid_form": 0.0,
                    "strong_charge": 1.0,
                },
                {"inci": "Strong Acid", "molar_mass": 100.0, "charge_acid_form": 0.0, "strong_charge": -1.0},
            ],
            parts={"soapy": {"Soft": 30.0, "Sodium Hydroxide": 0.4}, "acid-10": {"Strong Acid": 10.0}},
        )
        library = with_windows(library, {("soapy", "Sodium Hydroxide"): (0.2, 0.6)})
        targets = {
            "active matter": Target(at_least=6.0, at_most=6.0),
            "pH": Target(at_least=6.5, at_most=7.0),
        }
        brief = Brief(title="t", library=library, law="none", targets=targets, certainty=Certainty())
        answer = check(brief)
        assert answer.status == "solved"
        lots = answer.formulas[0].lots
        assert lots is not None
        (dose,) = lots.doses
        # in 100 g: 20 g with 0.2 to 0.6 % alkali of 39.997 g/mol; 1 g of the acid as sold is 1 mmol
        low, high = (20.0 * alkali / 100.0 / 39.997 * 1000.0 for alkali in (0.2, 0.6))
        assert low <= dose.low <= 1.1 * low
        assert 0.9 * high <= dose.high <= high + 1e-6
        assert dose.within_use


def test_formulas_of_another_seed_differ_only_in_their_counts() -> None:
    one, other = (check(brief_of(wash(), "all", certainty=Certainty(seed=seed))) for seed in (1, 2))
    assert replace(one.formulas[0], lots=None) == replace(other.formulas[0], lots=None)
