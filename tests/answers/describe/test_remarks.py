"""What is said of a formula beside its numbers: frames, extracts, what an exclusion let in, law to come."""

from datetime import date

import pytest

from optiform.answers.describe.remarks import body, remarks
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief, Exclude
from optiform.library.formulas import TypedFormula
from optiform.library.reading import load_library

LIBRARY = load_library()
DAY = date(2026, 11, 25)


def told(lines, **fields):
    brief = Brief(title="typed", library=LIBRARY, **{"on": DAY, **fields})
    return remarks(brief, LIBRARY, LIBRARY.arrays.amounts(lines.items()))


def test_two_percent_of_an_extract_with_five_percent_solids_is_a_tenth():
    """By hand: 2 % of a liquid that holds 5 % nettle leaf extract is 2 * 0.05 = 0.10 % of extract proper."""
    (note,) = told({"nettle-extract": 2.0, "water": 98.0})
    assert note == (
        "Extract proper: 0.1 % Urtica Dioica Leaf Extract (in 2 % Nettle leaf extract in glycerin and water)."
    )


def test_a_powder_that_is_all_extract_needs_no_telling():
    assert told({"aloe-powder": 0.2, "water": 99.8}) == ()


def test_a_ceiling_of_the_frame_formulation_is_a_note_and_no_break():
    """Frame formulation 2.2-2013: preservatives 2 % w/w; 10.1-2013 (shampoo): 1.5 %."""
    lines = {"sodium-benzoate": 1.0, "phenoxyethanol": 0.8, "water": 98.2}
    assert told(lines, area="face") == ()
    (note,) = told(lines, area="hair")
    assert "10.1" in note and "preservative 1.8 %, ceiling 1.5 %" in note
    assert told(lines, area="hair", law="US") == ()
    typed = TypedFormula(name="t", lines=tuple(lines.items()), total=100.0)
    (formula,) = evaluate(typed, LIBRARY, Brief(title="t", library=LIBRARY, area="hair", on=DAY)).formulas
    assert note in formula.notes
    assert not any("frame" in item.requirement.title for item in formula.breaks)


@pytest.mark.parametrize(("unknown", "said"), [("allow", True), ("exclude", False)])
def test_what_an_exclusion_let_in_is_named(unknown, said):
    lines = {"calendula-extract": 1.0, "water": 99.0}
    notes = told(lines, exclude=(Exclude(tag="palm", unknown=unknown),))
    assert any("May contain palm" in note and "Calendula" in note for note in notes) is said


def test_a_limit_that_is_published_but_does_not_hold_yet_is_named_with_its_day():
    """Regulation (EU) 2026/909: benzyl salicylate 0.5 % in what is rinsed off, from 1 January 2027."""
    oil = next(
        m.id
        for m in LIBRARY.materials
        if any(p.inci == "Benzyl Salicylate" for p in LIBRARY.composition[m.id])
    )
    share = next(p.percent for p in LIBRARY.composition[oil] if p.inci == "Benzyl Salicylate")
    lines = {oil: 0.6 / share * 100.0}
    (note,) = [note for note in told(lines) if note.startswith("From 2027-01-01")]
    assert "benzyl salicylate, at most 0.5 % w/w (EU Annex III/75); here 0.6." in note
    assert not [note for note in told(lines, law="UK") if note.startswith("From")]


def test_a_thickener_without_trials_of_ones_own_is_told_without_a_number():
    """Cellulose and gum grades differ by a factor of ten in what they do (common practice, no source)."""
    amounts = LIBRARY.arrays.amounts({"xanthan-gum": 0.6, "glycerin": 2.4, "water": 97.0}.items())
    assert body(LIBRARY, amounts) == ("Xanthan gum thickens; how much only a trial tells.",)


def test_salt_is_told_as_the_thickener_that_it_is():
    """The salt curve rises, and falls past its top (common practice, no source)."""
    amounts = LIBRARY.arrays.amounts({"sodium-chloride": 1.0, "water": 99.0}.items())
    (told,) = body(LIBRARY, amounts)
    assert told.endswith("thickens, and too much of it thins again; how much only a trial tells.")
    assert body(LIBRARY, LIBRARY.arrays.amounts({"glycerin": 3.0, "water": 97.0}.items())) == ()
