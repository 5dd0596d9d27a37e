"""What a baseline fixes: kept amounts, held windows, how many may be new or dropped."""

import pytest

from optiform.brief.models import Baseline, Brief, Target
from optiform.faults import BadInput
from optiform.program import Key, build, held_brief
from optiform.search.ranking import Candidate, rank
from tests.answers.rework.today import STARTER_TODAY, TODAY, brief_of, starter
from tests.tried import tried


def best(brief):
    program = build(brief)
    found = next(iter(rank(program, 1)))
    if not isinstance(found, Candidate):
        return None
    amounts = found.values[: program.size]
    return {m.id: float(a) for m, a in zip(program.library.materials, amounts, strict=True) if a > 1e-7}


def test_a_kept_material_stays_to_the_last_digit_and_a_kept_function_admits_no_other():
    found = best(brief_of(keep=("leaf", "function:preservative", "function:thickener"), hold={}))
    assert found["leaf"] == pytest.approx(5.0, abs=1e-6)
    assert found["gum"] == pytest.approx(0.5, abs=1e-6) and "guar" not in found
    assert found["benzoate"] == pytest.approx(0.5, abs=1e-6) and "phenoxy" not in found


def test_a_kept_substance_stays_as_a_total_over_its_materials():
    found = best(brief_of(keep=("substance:Decyl Glucoside",), hold={}))
    assert found["glucoside"] == pytest.approx(12.0, abs=1e-6)


def test_a_kept_tag_keeps_each_of_its_materials():
    requirements = {str(r.key): r for r in build(brief_of(keep=("tag:palm",))).requirements}
    assert "keep/tag:palm/no-other" in requirements and requirements["keep/tag:palm/no-other"].subject == (
        "amide",
    )


@pytest.mark.parametrize("new", [0, 1, 2])
def test_new_materials_are_counted_water_acids_and_bases_not(new):
    found = best(brief_of(keep=(), hold={"active matter": 0.1, "mildness": 0.0}, at_most_new=new))
    assert len(found.keys() - dict(TODAY).keys()) <= new


@pytest.mark.parametrize("dropped", [0, 1, 3])
def test_dropped_materials_are_counted(dropped):
    found = best(brief_of(keep=(), hold={}, at_most_dropped=dropped))
    assert len(dict(TODAY).keys() - {"water"} - found.keys()) == dropped


def test_a_held_count_of_ingredients():
    found = best(brief_of(keep=(), hold={"ingredients": 1.0}))
    assert len(TODAY) - 1 <= len(found) <= len(TODAY) + 1


def test_a_held_ph_is_a_window_of_charge_and_gates_what_depends_on_it():
    brief = brief_of(STARTER_TODAY, library=starter(), keep=(), hold={"pH": 0.2})
    target = held_brief(brief).targets["pH"]
    assert target.at_most - target.at_least == pytest.approx(0.4)
    program = build(brief)
    assert program.acid_rows and Key("targets", ("pH",), "at_most") in program.index_of


def test_a_held_ph_beside_a_target_adds_rows_of_its_own():
    brief = brief_of(
        STARTER_TODAY,
        library=starter(),
        keep=(),
        hold={"pH": 0.05},
        targets={"pH": {"at_least": 4.0, "at_most": 5.2}},
    )
    keys = build(brief).index_of
    assert {"targets/pH/at_least", "targets/pH/at_most", "hold/pH/at_least", "hold/pH/at_most"} <= set(
        map(str, keys)
    )
    assert len([row for row in build(brief).acid_rows if not row.asked]) == 4


def test_a_ph_left_to_the_bench_is_not_held_and_that_is_said():
    brief = brief_of(
        STARTER_TODAY,
        library=starter(),
        keep=(),
        hold={"pH": 0.05},
        targets={"pH": {"at_least": 4.5, "at_most": 5.0, "set": "bench"}},
    )
    assert any("left to the bench" in note for note in build(brief).notes)


def test_a_held_viscosity_uses_the_trials_of_the_target_base():
    base = next(t.base for t in starter().trials if t.material == "xanthan-gum")
    library = tried(starter(), base)
    brief = Brief(
        title="b",
        library=library,
        targets={"viscosity": Target(at_least=100.0, at_most=9000.0, base=base)},
        baseline=Baseline(formula="t", lines=STARTER_TODAY, hold={"viscosity": 50.0}),
    )
    assert Key("hold", ("viscosity",)) in build(brief).index_of


def test_a_measure_that_the_baseline_lacks_cannot_be_held():
    lines = (("water", 95.0), ("leaf", 5.0))
    with pytest.raises(BadInput, match="no value of it"):
        build(brief_of(lines, keep=(), hold={"mildness": 1.0}))


def test_the_bounds_of_a_baseline_move():
    program = build(brief_of(at_most_new=1, at_most_dropped=2))
    for key in (
        Key("baseline", ("at_most_new",)),
        Key("baseline", ("at_most_dropped",)),
        Key("keep", ("leaf",), "equal"),
        Key("hold", ("mildness",), "at_least"),
    ):
        index = program.index_of[key]
        assert program.requirements[index].origin == "brief" and program.moves[index]
    ((row, move),) = program.moves[program.index_of[Key("baseline", ("at_most_dropped",))]]
    assert move.row(3).lower == program.form.row_lower[row] - 1.0
