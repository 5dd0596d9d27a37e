"""Every kind of rule: it bites on a tiny library, and the ranking under it is that of the slow judge."""

import pytest

from optiform.brief.models import Aim, Include, Ranked, Share
from optiform.library.models import (
    PreservativeSystem,
    Trial,
)
from tests.naive import Naive
from tests.program.comparing import assert_same_ranking
from tests.program.rows.rule_cases import ACID_CASES, CASES, MORE_ACID, PRESERVED
from tests.program.samples import SYSTEMS, WASH, shelf, wash
from tests.tried import tried


@pytest.mark.parametrize("case", CASES)
def test_a_rule_binds_and_the_ranking_is_the_judges(case):
    with_rule, without = CASES[case]
    ruled_, plain = assert_same_ranking(with_rule), Naive(without).ranking()
    assert [(b.structure, round(b.objective, 6)) for b in ruled_] != [
        (b.structure, round(b.objective, 6)) for b in plain
    ]
    if ruled_:
        assert ruled_[0].objective >= plain[0].objective - 1e-9


@pytest.mark.parametrize("case", ACID_CASES)
def test_rules_on_pH(case):
    brief, _ = ACID_CASES[case]
    expected = assert_same_ranking(brief)
    if case in ("dosed, a material out of its window", "bench, a when on pH"):
        assert all("cationic-gum" not in b.support or "xanthan" not in b.support for b in expected)
    if case == "no pH, every system is open":
        assert {b.system for b in expected} == {system.name for system in SYSTEMS}
    if case.endswith(("asks for a lower pH", "asks for a lower one")):
        assert {b.system for b in expected} == {system.name for system in MORE_ACID}
    if case == "bench, a margin":
        assert {b.system for b in expected} == {"alcohol alone", "both"}
    if case == "dosed, no system fits but one":
        assert {b.system for b in expected} == {"alcohol alone"}
    if case.startswith("unknown charge stays"):
        assert expected == []
    if case.startswith("unknown charge is let in"):
        assert expected[0].support >= {"riddle"}


def test_a_system_never_lets_its_members_be_used_alone():
    """Preservatives come through the chosen system, whole and inside its window, or not at all."""
    brief = wash(
        shelf(*PRESERVED, systems=SYSTEMS), targets={"pH": {"at_least": 4.5, "at_most": 5.0, "set": "bench"}}
    )
    expected = assert_same_ranking(brief)
    assert {b.system for b in expected} == {s.name for s in SYSTEMS}
    include = wash(
        shelf(*PRESERVED, systems=SYSTEMS[:1]),
        targets={"pH": {"at_least": 4.5, "at_most": 5.0, "set": "bench"}},
        include=(Include(material="preserver", at_least=0.55),),
    )
    assert assert_same_ranking(include)
    too_much = include.model_copy(update={"include": (Include(material="preserver", at_least=0.7),)})
    assert assert_same_ranking(too_much) == []


def test_a_system_is_never_traded_for_cost():
    """However dear, exactly one; a stray preservative beside it is allowed only where no system owns it."""
    dear = shelf(*PRESERVED, systems=SYSTEMS[1:2], change={"alcohol": {"price": 900.0}})
    expected = assert_same_ranking(wash(dear))
    assert {b.system for b in expected} == {"alcohol alone"}
    assert expected[0].objective > 7


def test_an_optional_member_of_a_system_may_stay_away():
    """A window that starts at 0 asks for nothing."""
    systems = (PreservativeSystem(name="boosted", members={"alcohol": (0.8, 1.0), "preserver": (0.0, 0.4)}),)
    from tests.program.comparing import candidates

    brief = wash(shelf(*PRESERVED, systems=systems))
    program, found = candidates(brief, 1)
    index = program.library.arrays.material_index
    assert found[0].values[index["preserver"]] == pytest.approx(0.0, abs=1e-12)


SALT_TRIALS = tuple(
    Trial(base="plain", material=material, percent=percent, mPa_s=mPa_s)
    for material, percent, mPa_s in (
        ("salt", 0.5, 300.0),
        ("salt", 1.0, 2000.0),
        ("salt", 2.0, 9000.0),
        ("salt", 2.5, 4000.0),
        ("xanthan", 0.4, 500.0),
        ("xanthan", 0.8, 3000.0),
        ("xanthan", 1.2, 7000.0),
    )
)


@pytest.mark.parametrize(
    "ends",
    [
        {"at_least": 2500.0, "at_most": 6000.0},
        {"at_least": 8000.0},
        {"at_most": 400.0},
        {"at_least": 20_000.0},
    ],
)
def test_viscosity_is_held_by_one_tried_thickener(ends):
    library = shelf(*WASH, "cationic-gum", trials=SALT_TRIALS)
    brief = wash(
        library,
        targets={"viscosity": {**ends, "base": "plain"}},
        ranked=Ranked(differ_in=("surfactant", "thickener", "salt")),
    )
    expected = assert_same_ranking(brief)
    for best in expected:
        assert len(best.support & {"salt", "xanthan"}) == 1
        assert "cationic-gum" not in best.support
    assert bool(expected) == (ends != {"at_least": 20_000.0})


AIMS = {
    "mildness": Aim(measure="mildness", sense="maximise"),
    "active matter": Aim(measure="active matter", sense="maximise"),
    "irritation load": Aim(measure="irritation load"),
    "electrolyte": Aim(measure="electrolyte"),
    "ingredients": Aim(measure="ingredients"),
    "most ingredients": Aim(measure="ingredients", sense="maximise"),
    "natural origin": Aim(measure="natural origin", sense="maximise"),
    "natural origin without water": Aim(measure="natural origin without water", sense="maximise"),
    "share:anionic": Aim(measure="share:anionic"),
    "harshest": Aim(measure="mildness", sense="minimise"),
}


@pytest.mark.parametrize("name", AIMS)
def test_any_measure_may_be_the_aim(name):
    """Totals, counts and means (by Dinkelbach's iteration), smallest and largest, against the judge."""
    targets = {"mildness": None, "cost": {"at_most": 0.55}}
    assert assert_same_ranking(wash(aim=AIMS[name], targets=targets))


def test_a_count_of_preservatives_counts_members_and_water():
    """Ingredients are materials: water, each member of the system, everything."""
    brief = wash(
        shelf("anion", "zwitter", "glucoside", "preserver", "alcohol", systems=SYSTEMS),
        targets={
            "pH": {"at_least": 4.5, "at_most": 5.0, "set": "bench"},
            "ingredients": {"at_most": 4.0},
            "mildness": {"at_least": 60.0},
        },
        share=(Share(each="surfactant", at_most=70.0),),
    )
    expected = assert_same_ranking(brief)
    assert {b.system for b in expected} == {"preserver alone", "alcohol alone"}
    five = brief.model_copy(
        update={
            "targets": {
                **brief.targets,
                "ingredients": brief.targets["ingredients"].model_copy(update={"at_most": 5.0}),
            }
        }
    )
    assert "both" in {b.system for b in assert_same_ranking(five)}


def test_a_viscosity_keeps_the_surfactants_inside_the_base_that_was_tried():
    """Beside the amount of the thickener, the window holds the blend to what the trials were made in."""
    ends = {"at_least": 2500.0, "at_most": 6000.0}
    library = tried(shelf(*WASH, trials=SALT_TRIALS), "plain")
    narrow = library.bases[0].model_copy(update={"active": (9.0, 12.0)})
    brief = wash(
        library.model_copy(update={"bases": (narrow,)}), targets={"viscosity": {**ends, "base": "plain"}}
    )
    from tests.program.comparing import candidates

    program, found = candidates(brief, 1)
    amounts = found[0].values[: program.size]
    assert program.catalogue.find("active matter").value(amounts) >= 9.0 - 1e-6
    value = program.catalogue.find("viscosity").value(amounts)
    assert value is not None and 2500 - 0.01 <= value <= 6000 + 0.01
    loose, free = candidates(
        wash(shelf(*WASH, trials=SALT_TRIALS), targets={"viscosity": {**ends, "base": "plain"}}), 1
    )
    assert loose.catalogue.find("active matter").value(free[0].values[: loose.size]) < 9.0
    assert any("not described" in note for note in loose.notes)
