"""The worst lot of each row against every extreme lot, and what cannot be asked of lots."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.brief.models import Brief, Certainty, Include, Ratio, Share, Target
from optiform.faults import BadInput
from optiform.library.models import Incompatible, Library, LinearRule, Rules, Term, When
from optiform.measures import Catalogue
from optiform.program import build
from optiform.program.rows.certainty_rows import WorstCase
from optiform.program.rows.moves import MeasureMove, WhenMove
from optiform.program.windows import narrowed, windows_of
from tests.builders import tiny_library
from tests.program.rows.lots import extreme_lots, library_at, with_windows


def wash() -> Library:
    """Three surfactants of 30, 30 and 50 % active, each within 2 points; one of them a blend. Invented."""
    library = tiny_library(
        [
            {"id": "anionic-one", "function": "surfactant", "price": 2.0},
            {"id": "blend", "function": "surfactant", "price": 4.0},
            {"id": "glucoside", "function": "surfactant", "price": 6.0},
            {"id": "glycerin-86", "function": "humectant", "price": 1.5},
            {"id": "acid", "function": "acid", "price": 1.0},
        ],
        substances=[
            {"inci": "Anionic", "charge_class": "anionic", "mildness": 40.0},
            {"inci": "Amphoteric", "charge_class": "amphoteric", "mildness": 70.0},
            {"inci": "Glucoside", "charge_class": "nonionic", "mildness": 85.0},
        ],
        parts={
            "anionic-one": {"Anionic": 30.0, "Salt": 2.0},
            "blend": {"Amphoteric": 25.0, "Anionic": 5.0, "Salt": 5.0},
            "glucoside": {"Glucoside": 50.0},
            "glycerin-86": {"Glycerin": 86.0},
        },
    )
    return with_windows(
        library,
        {
            ("anionic-one", "Anionic"): (28.0, 32.0),
            ("blend", "Amphoteric"): (23.0, 27.0),
            ("blend", "Anionic"): (4.0, 6.0),
            ("glucoside", "Glucoside"): (48.0, 52.0),
        },
    )


def brief_of(library: Library, **fields: object) -> Brief:
    return Brief(**{"title": "t", "law": "none", "library": library, "certainty": Certainty(), **fields})  # type: ignore[arg-type]


def worst(brief: Brief, measure: str, side: str) -> WorstCase:
    program = build(brief)
    for key, moves in program.moves.items():
        for _, move in moves:
            held = getattr(move, "measure", None)
            if isinstance(held, WorstCase) and held.name == measure and move.side == side:
                assert program.requirements[key].bound is not None
                return held
    raise AssertionError(measure)


class TestPublishedArithmetic:
    def test_active_matter_of_three_materials_within_two_points(self) -> None:
        # worked by hand (invented figures): 8.5 % active from 3.400 / 2.975 / 2.125 at 30 / 30 / 50 %,
        # 25.5 % as supplied; windows of +-2 points on each active give 7.99 to 9.01 %
        library = tiny_library(
            [{"id": name, "function": "surfactant"} for name in ("one", "two", "three")],
            substances=[
                {"inci": f"Active {name}", "charge_class": "anionic"} for name in ("one", "two", "three")
            ],
            parts={"one": {"Active one": 30.0}, "two": {"Active two": 30.0}, "three": {"Active three": 50.0}},
        )
        ends = {"one": (28.0, 32.0), "two": (28.0, 32.0), "three": (48.0, 52.0)}
        library = with_windows(library, {(name, f"Active {name}"): end for name, end in ends.items()})
        held = worst(
            brief_of(library, targets={"active matter": Target(at_least=8.0)}), "active matter", "at_least"
        )
        lines = [("one", 3.4 / 0.3), ("two", 2.975 / 0.3), ("three", 2.125 / 0.5)]
        amounts = library.arrays.amounts(lines)
        assert held.value(amounts) == pytest.approx(8.5)
        assert held.furthest(amounts, least=True) == pytest.approx(7.99, abs=5e-3)
        assert held.furthest(amounts, least=False) == pytest.approx(9.01, abs=5e-3)
        assert held.furthest(amounts, least=True) == pytest.approx(8.5 - 0.02 * sum(x for _, x in lines))


class TestWindows:
    def test_water_takes_the_balance(self) -> None:
        windows = windows_of(wash())
        assert windows is not None
        names = [windows.library.materials[i].id for i in windows.materials]
        assert names == ["anionic-one", "blend", "glucoside"]
        blend = names.index("blend")
        parts = [part.inci for part in windows.library.composition["blend"]]
        assert parts == ["Amphoteric", "Anionic", "Salt", "Aqua"]
        assert windows.low[blend] == pytest.approx([0.23, 0.04, 0.05, 0.0])
        assert windows.high[blend] == pytest.approx([0.27, 0.06, 0.05, 1.0])
        assert windows.balance[blend] == parts.index("Aqua")

    def test_without_water_the_largest_part_without_a_window_balances(self) -> None:
        library = tiny_library(
            [{"id": "paste"}], parts={"paste": {"Active": 40.0, "Oil": 45.0, "Glycol": 15.0, "Aqua": 0.0}}
        )
        library = with_windows(library, {("paste", "Active"): (38.0, 41.0), ("paste", "Aqua"): (0.0, 1.0)})
        windows = windows_of(library)
        assert windows is not None
        assert [part.inci for part in library.composition["paste"]][int(windows.balance[0])] == "Oil"

    def test_parts_that_all_have_windows_compensate_each_other(self) -> None:
        library = tiny_library([{"id": "pair"}], parts={"pair": {"A": 60.0, "B": 40.0}})
        library = with_windows(library, {("pair", "A"): (55.0, 70.0), ("pair", "B"): (38.0, 50.0)})
        windows = windows_of(library)
        assert windows is not None
        # A alone could be 70 %, but then B would be 30 %: B is at least 38 %
        most = windows.extreme(np.array([[1.0, 0.0]]), least=False)
        assert most[0] == pytest.approx([0.62, 0.38])

    def test_a_composition_that_cannot_vary_has_no_window(self) -> None:
        library = with_windows(tiny_library([{"id": "pure"}]), {("pure", "Pure"): (98.0, 100.0)})
        assert windows_of(library) is None

    def test_a_missing_end_is_the_natural_one_and_is_told(self) -> None:
        library = tiny_library([{"id": "salted"}], parts={"salted": {"Salt": 1.0}})
        windows = windows_of(with_windows(library, {("salted", "Salt"): (None, 3.0)}))
        assert windows is not None
        assert windows.low[0][0] == 0.0
        assert windows.open_ended == ("salted",)

    def test_narrowed(self) -> None:
        half = windows_of(narrowed(wash(), 0.5))
        assert half is not None
        assert half.low[2][0] == pytest.approx(0.49)
        assert half.high[2][0] == pytest.approx(0.51)
        assert windows_of(narrowed(wash(), 0.0)) is None


parts_drawn = st.integers(2, 5).flatmap(
    lambda size: st.tuples(
        st.lists(st.integers(1, 60), min_size=size, max_size=size),
        st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=size, max_size=size),
        st.lists(st.floats(-5, 5), min_size=size, max_size=size),
    )
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(parts_drawn)
def test_the_knapsack_is_the_best_corner(
    drawn: tuple[list[int], list[tuple[float, float]], list[float]],
) -> None:
    weights, rooms, counts = drawn
    percents = [100.0 * weight / sum(weights) for weight in weights]
    names = [f"P{place}" for place in range(len(percents))]
    library = tiny_library([{"id": "m"}], parts={"m": dict(zip(names, percents, strict=True))})
    ends = {
        ("m", name): (percent * down, percent + (100.0 - percent) * up)
        for name, percent, (down, up) in zip(names, percents, rooms, strict=True)
    }
    windows = windows_of(with_windows(library, ends))
    if windows is None:
        return
    counted = np.zeros((1, windows.parts))
    counted[0, : len(counts)] = counts
    corners = [float(lot @ counted[0]) for lot in extreme_lots(windows.low[0], windows.high[0])]
    for least, end in ((True, min(corners)), (False, max(corners))):
        lot = windows.extreme(counted, least=least)[0]
        assert lot.sum() == pytest.approx(1.0)
        assert np.all(lot >= windows.low[0] - 1e-12)
        assert np.all(lot <= windows.high[0] + 1e-12)
        assert float(lot @ counted[0]) == pytest.approx(end, abs=1e-9)


EVERYTHING = {
    "targets": {
        "active matter": Target(at_least=8.0, at_most=12.0),
        "mildness": Target(at_least=60.0),
        "electrolyte": Target(at_most=3.0),
        "substance:Anionic": Target(at_most=4.0),
        "natural origin without water": Target(at_most=100.0),
    },
    "share": (Share(of="anionic", at_least=20.0, at_most=60.0), Share(each="surfactant", at_most=70.0)),
    "ratio": (Ratio(of="substance:Glycerin", to="active matter", at_least=0.1),),
    "rules": Rules(
        when=(When(material="glycerin-86", measure="share:amphoteric", at_least=10.0),),
        linear=(
            LinearRule(
                name="sum",
                terms=(Term(measure="anionic"), Term(material="glucoside", times=0.5)),
                at_most=6.0,
            ),
        ),
        incompatible=(Incompatible(one="acid", other="glucoside"),),
    ),
}


@pytest.fixture(scope="module")
def everything() -> Brief:
    return brief_of(wash(), **EVERYTHING)


def corner_libraries(library: Library) -> list[Library]:
    """Return the library at every combination of the extreme lots of its materials."""
    windows = windows_of(library)
    assert windows is not None
    names = [library.materials[i].id for i in windows.materials]
    lots = [list(extreme_lots(low, high)) for low, high in zip(windows.low, windows.high, strict=True)]
    return [library_at(library, dict(zip(names, lot, strict=True))) for lot in itertools.product(*lots)]


def test_every_kind_of_row_is_the_worst_over_all_corners(everything: Brief) -> None:
    """Each row's coefficient of a material is the extreme of what a program over a corner has there."""
    program = build(everything)
    corners = [
        build(everything.model_copy(update={"library": one, "certainty": None}))
        for one in corner_libraries(wash())
    ]
    size, compared = program.size, set()
    for index, moves in program.moves.items():
        requirement = program.requirements[index]
        if requirement.bound is None:
            continue
        for _place, (_, move) in enumerate(moves):
            if not isinstance(move, (MeasureMove, WhenMove)):
                continue
            name = move.measure.name
            found = []
            for corner in corners:
                twins = corner.moves[corner.index_of[requirement.key]]
                twin = next(t for _, t in twins if t.side == move.side and t.measure.name == name)  # type: ignore[attr-defined]
                found.append(twin.measure.row(move.side, requirement.bound).coefficients)  # type: ignore[attr-defined]
            ends = np.min(found, axis=0) if move.side == "at_least" else np.max(found, axis=0)
            row = move.measure.row(move.side, requirement.bound).coefficients
            assert row[:size] == pytest.approx(ends[:size], abs=1e-9), requirement.title
            if isinstance(move.measure, WorstCase):
                compared.add((requirement.key.section, move.side))
    assert {
        ("targets", "at_least"),
        ("targets", "at_most"),
        ("share", "at_most"),
        ("ratio", "at_least"),
    } <= compared
    assert {("brief", "at_most"), ("brief", "at_least")} <= compared


def test_furthest_is_the_extreme_value_over_all_corners(everything: Brief) -> None:
    library = wash()
    lines = [("anionic-one", 9.0), ("blend", 15.0), ("glucoside", 6.0), ("glycerin-86", 2.0), ("water", 68.0)]
    amounts = library.arrays.amounts(lines)
    for name in ("active matter", "mildness", "share:anionic"):
        brief = brief_of(library, targets={name: Target(at_least=1.0)})
        held = worst(brief, name, "at_least")
        values = [Catalogue(one).find(name).value(amounts) for one in corner_libraries(library)]
        assert held.furthest(amounts, least=True) == pytest.approx(
            min(v for v in values if v is not None), rel=1e-7
        )
        assert held.furthest(amounts, least=False) == pytest.approx(
            max(v for v in values if v is not None), rel=1e-7
        )


def test_scale_is_the_derivative_of_the_worst_row(everything: Brief) -> None:
    library = wash()
    amounts = library.arrays.amounts([("anionic-one", 9.0), ("blend", 15.0), ("glucoside", 6.0)])
    held = worst(brief_of(library, targets={"mildness": Target(at_least=60.0)}), "mildness", "at_least")
    step = 1e-4
    rows = [float(held.row("at_least", 60.0 + end).coefficients @ amounts) for end in (-step, step)]
    assert held.scale(amounts, 60.0) == pytest.approx((rows[0] - rows[1]) / (2 * step), rel=1e-6)


class TestExactDemands:
    @pytest.mark.parametrize(
        "fields",
        [
            {"targets": {"active matter": Target(at_least=8.5, at_most=8.5)}},
            {"targets": {"mildness": Target(at_least=60.0, at_most=60.0)}},
            {"include": (Include(substance="Glucoside", at_least=3.0, at_most=3.0),)},
            {"share": (Share(of="anionic", at_least=40.0, at_most=40.0),)},
        ],
    )
    def test_are_refused_by_name_where_lots_matter(self, fields: dict[str, object]) -> None:
        with pytest.raises(BadInput, match=r"cannot hold for every lot.*(anionic-one|glucoside)"):
            build(brief_of(wash(), **fields))

    def test_every_one_is_named(self) -> None:
        targets = {
            "active matter": Target(at_least=8.5, at_most=8.5),
            "mildness": Target(at_least=60.0, at_most=60.0),
        }
        with pytest.raises(BadInput) as bad:
            build(brief_of(wash(), targets=targets))
        assert len(bad.value.faults) == 2
        assert bad.value.faults[0].place == "[targets] active matter"

    @pytest.mark.parametrize("of_library", [True, False])
    def test_a_rule_is_named_where_it_is_written(self, of_library: bool) -> None:
        terms = (Term(measure="active matter", times=1.0), Term(material="water", times=-0.1))
        rules = Rules(linear=(LinearRule(name="tenth", terms=terms, at_least=0.0, at_most=0.0),))
        library = wash().model_copy(update={"rules": rules}) if of_library else wash()
        fields = {"file": "exact.toml"} if of_library else {"file": "exact.toml", "rules": rules}
        with pytest.raises(BadInput) as bad:
            build(brief_of(library, **fields))
        (fault,) = bad.value.faults
        assert (fault.file, fault.place) == ("library.toml" if of_library else "exact.toml", "[linear] 1")

    def test_one_material_varies_and_several_vary(self) -> None:
        one = (Include(substance="Glucoside", at_least=3.0, at_most=3.0),)
        with pytest.raises(BadInput, match="glucoside varies in composition"):
            build(brief_of(wash(), include=one))

    @pytest.mark.parametrize(
        "fields",
        [
            {"include": (Include(material="glucoside", at_least=3.0, at_most=3.0),)},
            {"targets": {"cost": Target(at_least=0.3, at_most=0.3)}},
            {"include": (Include(substance="Glycerin", at_least=3.0, at_most=3.0),)},
        ],
    )
    def test_stay_where_no_lot_matters(self, fields: dict[str, object]) -> None:
        build(brief_of(wash(), **fields))

    def test_the_acid_may_follow_the_lot(self) -> None:
        exact = LinearRule(
            name="acid meets anionic",
            terms=(Term(measure="anionic", times=0.1), Term(material="acid", times=-1.0)),
            at_least=0.0,
            at_most=0.0,
        )
        build(brief_of(wash(), rules=Rules(linear=(exact,))))
        without = exact.model_copy(
            update={"terms": (Term(measure="anionic"), Term(material="glycerin-86", times=-1.0))}
        )
        with pytest.raises(BadInput, match="acid meets anionic"):
            build(brief_of(wash(), rules=Rules(linear=(without,))))

    def test_what_no_formula_may_hold_does_not_matter(self) -> None:
        targets = {"substance:Glucoside": Target(at_least=0.0, at_most=0.0)}
        from optiform.brief.models import Exclude

        with pytest.raises(BadInput):
            build(brief_of(wash(), targets=targets))
        build(brief_of(wash(), targets=targets, exclude=(Exclude(material="glucoside"),)))


def test_without_certainty_nothing_changes(everything: Brief) -> None:
    plain = build(everything.model_copy(update={"certainty": None}))
    closed = build(everything.model_copy(update={"library": narrowed(wash(), 0.0)}))
    assert np.array_equal(plain.form.values, closed.form.values)
    assert not any(
        isinstance(getattr(move, "measure", None), WorstCase)
        for moves in plain.moves.values()
        for _, move in moves
    )
