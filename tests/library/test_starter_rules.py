"""The rules of the starter library on whole formulas: what a formulator knows not to weigh, and what passes.

Oracles are facts of the trade: pKa and published phase behaviour where a source is named in library.toml, common
practice (no source) elsewhere. Each formula that breaks has a twin beside it that differs in that one thing and passes.
"""

from __future__ import annotations

import pytest

from optiform.answers.describe.house_notes import house_notes
from optiform.answers.evaluate.judging import Judge
from optiform.brief import Brief
from optiform.library import load_library
from optiform.library.waiving import guard_names, waive

LIBRARY = load_library()
WASH = {"coco-glucoside": 6.0, "cocamidopropyl-betaine-30": 12.0, "phenoxyethanol": 0.8, "ethylhexylglycerin": 0.08,
        "tetrasodium-glutamate-diacetate": 0.2, "citric-acid-50": 0.35}  # fmt: skip


JUDGE = Judge.of(Brief(title="x", library=LIBRARY))


def amounts_of(changes):
    """Return a plain wash with some amounts added or, by None, taken out."""
    named = {name.replace("_", "-"): value for name, value in changes.items()}
    lines = {name: value for name, value in {**WASH, **named}.items() if value is not None}
    return LIBRARY.arrays.amounts((*lines.items(), ("water", 100.0 - sum(lines.values()))))


def broken(**changes):
    """Return the titles and reasons of what such a wash breaks."""
    amounts = amounts_of(changes)
    found = JUDGE.breaks(JUDGE.program(amounts), amounts)
    return " | ".join(f"{item.requirement.title}: {item.requirement.why}" for item in found)


def test_the_plain_wash_breaks_nothing() -> None:
    assert broken() == ""


# (what is added, a word of the rule that it breaks, what added makes it pass)
CASES = {
    "glyceryl stearate alone carries no plant oil": (
        {"glyceryl_stearate": 1.0, "rapeseed_oil": 1.0, "gellan_gum": 0.3}, "emulsifier HLB", {"polysorbate_80": 0.4}),
    "a polysorbate alone carries no plant oil": (
        {"polysorbate_80": 1.0, "rapeseed_oil": 1.0}, "emulsifier HLB", {"sorbitan_oleate": 2.5, "gellan_gum": 0.3}),
    "droplets need structure": (
        {"sorbitan_oleate": 0.6, "polysorbate_80": 0.2, "rapeseed_oil": 1.0}, "structure", {"gellan_gum": 0.3}),
    "oil alone parts": ({"rapeseed_oil": 3.0, "tocopherol": 0.1}, "can carry", {"emulsifying_crosspolymer": 0.3}),
    "cocamide carries no oil": (
        {"rapeseed_oil": 3.0, "tocopherol": 0.1, "cocamide_mea": 2.0}, "can carry", {"cetearyl_glucoside_blend": 2.0}),
    "mica needs something that holds it": ({"mica_white": 0.2}, "holds", {"sclerotium_gum": 0.6, "glycerin": 3.0}),
    "little xanthan lets mica sink": (
        {"mica_white": 0.2, "xanthan_gum": 0.5, "glycerin": 5.0}, "1 % of xanthan", {"xanthan_gum": 1.0}),
    "scrub sinks in xanthan": (
        {"apricot_scrub": 1.0, "xanthan_gum": 1.2, "glycerin": 5.0}, "xanthan alone does not", {"gellan_gum": 0.3}),
    "sarcosinate alone falls out": (
        {"sodium_lauroyl_sarcosinate": 10.0, "cocamidopropyl_betaine_30": None, "citric_acid_50": 2.2},
        "no betaine", {"cocamidopropyl_betaine_30": 10.0}),
    "glycinate curdles": ({"sodium_cocoyl_glycinate": 6.0, "citric_acid_50": 1.2}, "curdled", {"citric_acid_50": 0.1}),
    "magnesium against the chelator": (
        {"magnesium_sulfate": 0.5, "sodium_laureth_sulfate_70": 10.0}, "chelator spends",
        {"tetrasodium_glutamate_diacetate": None}),
    "rust": ({"phenoxyethanol": None, "ethylhexylglycerin": None, "caprylyl_glycol_caprylhydroxamic_acid": 1.0,
              "iron_oxide_red": 0.1, "gellan_gum": 0.3}, "red-brown", {"iron_oxide_red": None}),
    "acyl amino acids without chelator": (
        {"disodium_cocoyl_glutamate": 10.0, "tetrasodium_glutamate_diacetate": None}, "binds that of soft water",
        {"disodium_edta": 0.1}),
    "hardly any water": ({"glycerin": 25.0, "sorbitol_70": 15.0, "urea": 10.0}, "concentrates", {"glycerin": 5.0}),
    "plant oil turns rancid": (
        {"rapeseed_oil": 6.0, "emulsifying_crosspolymer": 0.3}, "rancid", {"tocopherol": 0.05}),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_what_curdles_parts_or_settles_breaks_its_rule(case) -> None:
    lines, words, mended = CASES[case]
    assert words in broken(**lines)
    assert words not in broken(**{**lines, **mended})


def test_tocopherol_stays_at_what_is_usual() -> None:
    """0.05 to 0.2 %, common practice, no source."""
    material = LIBRARY.material["tocopherol"]
    assert (material.min_if_used, material.max_use) == (0.05, 0.2)


def test_every_system_with_a_range_keeps_a_margin_and_says_whose_figure_its_least_acid_is() -> None:
    for system in LIBRARY.systems:
        assert (system.margin == 0.3) == (system.pH is not None)
        assert system.source and system.trust
    held = {system.name: system.undissociated_at_least for system in LIBRARY.systems}
    # Anderson and Chow 1967: no growth at 0.065 % at pH 4.2, half of it uncharged (pKa 4.2): 0.032 %.
    assert held["benzoate with sorbate"]["Sodium Benzoate"] == pytest.approx(0.065 / 2, abs=0.003)
    assert held["gluconolactone with sodium benzoate"]["Sodium Benzoate"] >= 0.065 / 2
    # 600 ppm of sorbic acid at pH 4.5 (PMC3550862), pKa 4.76: half of what is uncharged.
    assert held["benzoate with sorbate"]["Potassium Sorbate"] == pytest.approx(
        0.5 * 0.06 / (1 + 10 ** (4.5 - 4.76)), abs=0.002
    )


def test_a_tenth_per_cent_of_chelator_answers_for_soft_water_alone() -> None:
    """0.1 % of a 47 % glutamate diacetate, 351.1 g/mol: 1.3 mmol/kg; 7 German degrees: 7 x 0.1783 mmol/L of calcium."""
    (part,) = [
        p for p in LIBRARY.composition["tetrasodium-glutamate-diacetate"] if p.inci.startswith("Tetra")
    ]
    chelator = 0.1 * 10 * part.percent / 100 / 351.1 * 1000
    assert chelator == pytest.approx(1.3, abs=0.05)
    assert chelator == pytest.approx(7 * 0.1783, rel=0.1)
    assert chelator / 10 < 0.1 * 15 * 0.1783  # diluted tenfold in use: under a tenth of hard tap water


NOTES = {
    "phenoxyethanol with a cellulose ether": ({"hydroxyethylcellulose": 1.0}, "cellulose ethers"),
    "phenoxyethanol with an ethoxylate": ({"peg_7_glyceryl_cocoate": 1.0}, "ethoxylates"),
    "benzoate with a polysorbate": (
        {"phenoxyethanol": None, "ethylhexylglycerin": None, "sodium_benzoate": 0.4, "potassium_sorbate": 0.2,
         "polysorbate_20": 1.0}, "polysorbates take up"),
    "scent in worm-like micelles": ({"lavender_oil": 0.2}, "read viscosity with the scent"),
    "the monosodium grade": ({"sodium_cocoyl_glutamate": 5.0}, "hazy below"),
}  # fmt: skip


@pytest.mark.parametrize("case", NOTES)
def test_what_is_worth_knowing_is_told_and_forbids_nothing(case) -> None:
    lines, words = NOTES[case]
    assert any(words in note for note in house_notes(LIBRARY, amounts_of(lines)))
    assert not any(words in note for note in house_notes(LIBRARY, amounts_of({})))


def test_a_brief_for_a_concentrate_may_say_so() -> None:
    assert "water from all materials" in guard_names(LIBRARY)
    names = {rule.name for rule in waive(LIBRARY, ["water from all materials"]).rules.linear}
    assert "water from all materials" not in names


def test_a_wash_holds_surfactant_whatever_a_brief_leaves_out() -> None:
    """A rule that slept without surfactant let a way out take all of it away."""
    name = "active matter of a wash"
    assert name in broken(coco_glucoside=None, cocamidopropyl_betaine_30=None, citric_acid_50=0.02)
    assert name in broken(coco_glucoside=2.0, cocamidopropyl_betaine_30=6.0, citric_acid_50=0.1)
    assert name in guard_names(LIBRARY)
    assert name not in {rule.name for rule in waive(LIBRARY, [name]).rules.linear}
