"""A break that the typed figures' own rounding explains is none; one digit more of it is one, and the law is exact."""

import pytest

from optiform.answers.evaluate import evaluate
from optiform.answers.evaluate.typed_formula import rounding_of
from optiform.brief.models import Brief, Include, Target
from optiform.library.formulas import TypedFormula
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [{"id": "soft", "function": "surfactant"}, {"id": "phenoxyethanol", "function": "preservative"}],
    [{"inci": "Soft", "charge_class": "nonionic", "mildness": 90.0}],
    {"soft": {"Soft": 30.0}, "phenoxyethanol": {"Phenoxyethanol": 100.0}},
)
ACTIVE = Brief(title="t", library=LIBRARY, targets={"active matter": Target(at_least=10.0)}, law="none")


def judged(brief, **lines):
    rest = round(100.0 - sum(lines.values()), 6)
    typed = TypedFormula(name="t", lines=(*lines.items(), ("water", rest)), total=100.0)
    answer = evaluate(typed, LIBRARY, brief)
    return [item.requirement.title for item in answer.formulas[0].breaks], answer.notes


@pytest.mark.parametrize(
    ("percent", "breaks"),
    [
        # 10 / 0.30 = 33.33...: 33.33 is it in two decimals, 33.333 in three; 33.32 and 33.332 are not
        (33.33, False),
        (33.333, False),
        (33.32, True),
        (33.332, True),
        (33.3333333, True),
    ],
)
def test_half_of_the_last_decimal_is_forgiven(percent, breaks):
    broken, notes = judged(ACTIVE, soft=percent)
    assert bool(broken) is breaks
    if percent == 33.33:
        assert any("Within the rounding" in note and "active matter at least 10" in note for note in notes)


def test_few_decimals_do_not_forgive_more():
    """A typed 2 is 2.00 and not anything from 1.5 to 2.5."""
    brief = Brief(
        title="t",
        library=LIBRARY,
        law="none",
        include=(Include(material="soft", at_least=2.02, at_most=9.0),),
    )
    assert judged(brief, soft=2.0)[0]
    assert rounding_of(LIBRARY.arrays.amounts((("soft", 2.0), ("water", 98.0)))).tolist() == pytest.approx(
        [0.005 if m.id in ("soft", "water") else 0.0 for m in LIBRARY.materials]
    )


@pytest.mark.parametrize(
    ("grams", "batch", "breaks"),
    [
        # 10 / 0.30 = 33.33... %: of 1 kg 333.3 g in one decimal, of 3 kg exactly 1000 g
        (333.3, 1000.0, False),
        (333.2, 1000.0, True),
        (333.33, 1000.0, False),
        (333.330001, 1000.0, True),
        (999.9, 3000.0, True),
        # whole grams forgive no more than two decimals of a percent do: 166.6 of 500 g is 33.32 %
        (333.0, 1000.0, True),
        (167.0, 501.0, False),
    ],
)
def test_figures_in_grams_are_forgiven_as_percents_are(grams, batch, breaks):
    lines = (("soft", 100.0 * grams / batch), ("water", 100.0 * (batch - grams) / batch))
    typed = TypedFormula(name="t", lines=lines, total=100.0, grams=batch)
    (formula,) = evaluate(typed, LIBRARY, ACTIVE).formulas
    assert bool(formula.breaks) is breaks


def test_the_law_is_held_by_the_figures_as_typed():
    """Annex V/29: phenoxyethanol 1.0 %; 1.004 is above it, though it would round to 1.00."""
    brief = Brief(title="t", library=LIBRARY, law="EU")
    assert not [title for title in judged(brief, phenoxyethanol=1.0)[0] if "Annex V/29" in title]
    assert [title for title in judged(brief, phenoxyethanol=1.004)[0] if "Annex V/29" in title]


def test_a_total_off_a_hundred_is_told_all_the_same():
    typed = TypedFormula(name="t", lines=(("soft", 33.34), ("water", 66.65)), total=99.99)
    (formula,) = evaluate(typed, LIBRARY, ACTIVE).formulas
    assert [str(item.requirement.key) for item in formula.breaks] == ["balance"]
