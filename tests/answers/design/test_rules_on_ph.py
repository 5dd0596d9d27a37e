"""Every pH rule of a library holds, with a pH target or without, and uncharged acid means one thing.

Oracles: optimality (a brief without a pH target is a relaxation of the same brief with one), the full
charge balance at each formula's own ionic strength, and Henderson and Hasselbalch with the
Debye-Hueckel term of specific ion interaction (1.5 in its denominator, after Scatchard), worked out here.
"""

from __future__ import annotations

import math

import pytest

from optiform.answers.check.feasibility import check
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.answers.evaluate.judging import Recheck, pairs_of
from optiform.brief import brief_from
from optiform.brief.guards import missing_guards
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.library.models import Rules, When
from optiform.measures.uncharged import works_up_to
from optiform.program import build
from tests.answers.random_briefs import possible

WASH = {
    "title": "Nettle wash of the quay",
    "targets": {"active matter": {"at_least": 9.0, "at_most": 12.0}, "mildness": {"at_least": 55.0}},
    "share": [{"of": "anionic", "at_least": 30.0, "at_most": 65.0}, {"each": "surfactant", "at_most": 65.0}],
    "choose": [{"function": "surfactant", "at_least": 2, "at_most": 3}],
    "ranked": {"how_many": 1},
}
SAFE = {"exclude": [{"tag": "sulfate"}]}
GUM = {"include": [{"material": "xanthan-gum", "at_least": 0.4}]}


def asked(pH=None, library=None, **more):
    targets = {**WASH["targets"], **({} if pH is None else {"pH": pH}), **more.pop("targets", {})}
    return brief_from({**WASH, **more, "targets": targets}, library or load_library(None))


def guarded(**changes):
    """Return the starter library with its benzoate system alone, without margin and least acid but as changed."""
    library = load_library(None)
    system = next(s for s in library.systems if s.name == "benzoate with sorbate")
    plain = {"margin": None, "undissociated_at_least": {}}
    return library.model_copy(update={"systems": (system.model_copy(update={**plain, **changes}),)})


def typed(formula):
    lines = tuple((line.material, line.percent) for line in formula.lines)
    return TypedFormula("typed", lines, math.fsum(percent for _, percent in lines))


LACTONE = {"include": [{"material": "gluconolactone-sodium-benzoate"}]}
ACID = {"targets": {"undissociated:Sodium Benzoate": {"at_least": 0.06}}}


@pytest.mark.parametrize(
    "more", [{}, SAFE, GUM, LACTONE, ACID], ids=["plain", "no sulfate", "gum", "lactone", "acid"]
)
def test_no_target_never_costs_more_than_any_window(more):
    free = check(asked(**more)).formulas[0]
    for low, high in ((4.0, 4.5), (4.0, 4.6), (4.5, 4.9), (5.0, 5.5), (5.0, 6.0), (6.0, 7.5)):
        held = check(asked({"at_least": low, "at_most": high}, **more))
        assert not held.formulas or free.cost <= held.formulas[0].cost + 1e-6


def test_a_preservative_that_needs_an_acid_wash_is_had_without_a_target():
    answer = check(asked(include=[{"material": "sodium-benzoate"}]))
    assert answer.status == "solved"
    formula = answer.formulas[0]
    system = next(s for s in load_library(None).systems if s.name == formula.system)
    low, high = system.working_pH
    assert low - 1e-6 <= formula.acidity.pH <= high + 1e-6
    assert Recheck().broken(answer.brief, pairs_of(formula.lines)) == ""


def test_a_margin_narrows_the_window_and_is_named_where_it_binds():
    brief = asked({"at_least": 4.0, "at_most": 5.5}, guarded(margin=0.3))
    formula = design(brief).formulas[0]
    assert formula.acidity.pH <= 4.7 + 1e-6
    title = "pH at most 4.7, for benzoate with sorbate: 5 less a margin of 0.3"
    told = next(item.requirement for item in formula.binding if item.requirement.title == title)
    assert told.origin == "library"
    assert "margin of benzoate with sorbate" in told.why
    waived = asked(
        {"at_least": 4.0, "at_most": 5.5},
        guarded(margin=0.3),
        waive=[{"rule": "margin of benzoate with sorbate"}],
    )
    assert design(waived).formulas[0].acidity.pH == pytest.approx(5.0, abs=1e-5)


def test_a_bench_pH_lies_inside_the_narrowed_range():
    library = guarded(margin=0.3)
    assert check(asked({"at_least": 4.4, "at_most": 4.7, "set": "bench"}, library)).status == "solved"
    assert check(asked({"at_least": 4.4, "at_most": 4.8, "set": "bench"}, library)).status == "conflict"


def uncharged(formula, pH):
    """Return the uncharged benzoic acid in % w/w: Henderson and Hasselbalch, pKa 4.202 less one activity term."""
    root = math.sqrt(formula.acidity.ionic_strength)
    term = 0.509 * root / (1.0 + 1.5 * root)
    grams = next(item.percent for item in formula.ingredients if item.inci == "Sodium Benzoate")
    acid = grams * 122.12 / 144.11
    return acid / (1.0 + 10.0 ** (pH - (4.202 - term)))


@pytest.mark.parametrize("high", [4.6, 5.5])
def test_the_least_acid_holds_at_the_highest_pH_that_brief_and_system_allow(high):
    library = guarded(margin=0.3, undissociated_at_least={"Sodium Benzoate": 0.095})
    formula = design(asked({"at_least": 4.0, "at_most": high}, library)).formulas[0]
    assert uncharged(formula, min(high, 4.7)) == pytest.approx(0.095, abs=2e-4)
    place = f"in benzoate with sorbate at pH {min(high, 4.7)}"
    title = f"undissociated Sodium Benzoate at least 0.095 % w/w as acid, {place}"
    assert any(item.requirement.title == title for item in formula.binding)
    figure = next(f for f in formula.figures if f.measure == "undissociated:Sodium Benzoate")
    assert figure.value == pytest.approx(uncharged(formula, min(high, 4.7)), rel=1e-3)


@pytest.mark.parametrize(
    "pH", [None, {"at_least": 4.2, "at_most": 6.5}, {"at_least": 4.5, "at_most": 4.9, "set": "bench"}]
)
def test_a_target_on_uncharged_acid_is_met_as_it_is_printed_and_as_it_is_judged(pH):
    """It used to be priced at a pH that the chosen system forbids."""
    brief = asked(pH, targets={"undissociated:Sodium Benzoate": {"at_least": 0.06}})
    answer = design(brief)
    assert answer.status == "solved"
    for formula in answer.formulas:
        figure = next(f for f in formula.figures if f.measure == "undissociated:Sodium Benzoate")
        again = evaluate(typed(formula), brief.library, brief).formulas[0]
        same = next(f for f in again.figures if f.measure == "undissociated:Sodium Benzoate")
        assert figure.value >= 0.06 - 1e-6
        assert same.value == pytest.approx(figure.value, abs=1e-9)
        assert not [item for item in again.breaks if "undissociated" in item.requirement.title]
        system = next(s for s in brief.library.systems if s.name == formula.system)
        ends = [end for end in (system.working_pH[1], (pH or {}).get("at_most")) if end is not None]
        assert figure.value == pytest.approx(uncharged(formula, min(ends)), rel=2e-3)


@pytest.mark.parametrize(("least", "pH"), [(0.04, 4.7), (0.03, 4.8)])
def test_a_wash_without_a_target_is_made_for_the_highest_pH_that_its_acid_allows(least, pH):
    """By hand: 1 % of the blend holds 0.21 % of benzoic acid, of which a fifth is uncharged at 4.7."""
    library = load_library(None)
    lactone = next(s for s in library.systems if s.name == "gluconolactone with sodium benzoate")
    changed = lactone.model_copy(update={"undissociated_at_least": {"Sodium Benzoate": least}})
    library = library.model_copy(update={"systems": (changed,)})
    brief = asked(library=library)
    formula = design(brief).formulas[0]
    assert uncharged(formula, pH) >= least > uncharged(formula, pH + 0.1)
    amounts = library.arrays.amounts(pairs_of(formula.lines))
    assert pH <= works_up_to(library, changed, amounts) < pH + 0.1
    assert uncharged(formula, works_up_to(library, changed, amounts)) == pytest.approx(least, rel=0.03)
    assert Recheck().broken(brief, pairs_of(formula.lines)) == ""


def test_the_upper_ends_to_choose_from_do_not_follow_a_bound_that_may_move_in_place():
    low, high = (
        [choice.ends.tolist() for choice in build(asked({"at_least": end}, **LACTONE)).upper_ends]
        for end in (4.3, 4.9)
    )
    assert low == high
    assert any(len(ends) > 1 and min(ends) < 4.9 for ends in high)


def test_a_typed_formula_above_the_range_is_measured_at_its_own_pH():
    lines = (("water", 89.5), ("decyl-glucoside", 10.0), ("sodium-benzoate", 0.4), ("potassium-sorbate", 0.1))
    formula = evaluate(TypedFormula("today", lines, 100.0), guarded()).formulas[0]
    assert formula.acidity.pH > 8
    figure = next(f for f in formula.figures if f.measure == "undissociated:Sodium Benzoate")
    assert figure.value == pytest.approx(uncharged(formula, formula.acidity.pH), rel=1e-2, abs=1e-7)
    assert {"benzoate with sorbate only at a pH from 4 to 5", "finished wash between pH 4 and 8"} <= {
        item.requirement.title for item in formula.breaks
    }


def test_a_finished_wash_stands_between_4_and_8_soap_excepted():
    library = load_library(None)
    alkaline = {"at_least": 9.0, "at_most": 10.5}
    more = {"exclude": [{"tag": "soap"}], "include": [{"material": "water", "at_least": 40.0}]}
    assert not possible(asked(alkaline, **more))
    waived = asked(alkaline, waive=[{"rule": "finished wash between pH 4 and 8"}], **more)
    assert check(waived).status == "solved"
    soap = next(
        m.id
        for m in library.materials
        if "soap" in m.tags
        or any("soap" in library.substance[p.inci].tags for p in library.composition[m.id])
    )
    assert "finished wash between pH 4 and 8" not in [
        item.requirement.title
        for item in evaluate(TypedFormula("soap", (("water", 80.0), (soap, 20.0)), 100.0), library)
        .formulas[0]
        .breaks
    ]


def test_a_finished_wash_without_added_water_is_no_way_round_its_pH():
    """The rule hangs on what washes: neither a dry wash nor one with soap in it is told by its water."""
    alkaline = {"targets": {"active matter": {"at_least": 8.0}, "pH": {"at_least": 9.0, "at_most": 10.5}}}
    dry = {"exclude": [{"material": "water"}, {"tag": "soap"}], "choose": [], "share": []}
    paste = [{"rule": "water from all materials"}]
    assert not possible(asked(**alkaline, **dry, waive=paste))
    waived = check(asked(**alkaline, **dry, waive=[*paste, {"rule": "finished wash between pH 4 and 8"}]))
    assert waived.formulas and "water" not in {line.material for line in waived.formulas[0].lines}
    soap = {"include": [{"material": "potassium-cocoate", "at_least": 10.0}], "choose": [], "share": []}
    assert check(asked(**alkaline, **soap)).status == "solved"


def test_a_wash_whose_water_has_another_name_stands_between_4_and_8():
    library = load_library(None)
    materials = tuple(
        m.model_copy(update={"id": "aqua" if m.id == "water" else m.id}) for m in library.materials
    )
    parts = tuple(
        p.model_copy(update={"material": "aqua" if p.material == "water" else p.material})
        for p in library.parts
    )
    renamed = library.model_copy(update={"materials": materials, "parts": parts})
    alkaline = {"pH": {"at_least": 9.0, "at_most": 10.5}, "exclude": [{"tag": "soap"}]}
    assert not possible(asked(library=renamed, **alkaline))


def test_a_rule_of_the_brief_on_pH_holds_without_a_target():
    plain = asked(include=[{"material": "xanthan-gum"}])
    rule = When(material="xanthan-gum", measure="pH", at_least=6.2, at_most=6.4)
    ruled = plain.model_copy(update={"rules": Rules(when=(rule,))})
    assert 6.2 - 1e-6 <= check(ruled).formulas[0].acidity.pH <= 6.4 + 1e-6


def test_a_brief_that_asks_for_nothing_about_pH_is_told_so():
    assert any(note.startswith("Nothing is asked of the pH") for note in missing_guards(asked()))
    assert not any(
        note.startswith("Nothing is asked of the pH") for note in missing_guards(asked({"at_most": 6.0}))
    )


def test_the_price_of_the_upper_end_counts_the_acid_that_is_counted_there():
    """A re-solve with the end moved by 0.01 says the same: the window and the least acid move together."""
    library = guarded(undissociated_at_least={"Sodium Benzoate": 0.095})
    here = design(asked({"at_least": 4.0, "at_most": 4.6}, library)).formulas[0]
    there = design(asked({"at_least": 4.0, "at_most": 4.59}, library)).formulas[0]
    assert here.structure == there.structure
    told = [item for item in here.binding if str(item.requirement.key) == "targets/pH/at_most"]
    priced = told[0].marginal_cost if told else 0.0
    assert priced * 0.01 == pytest.approx(there.cost - here.cost, abs=5e-5)
