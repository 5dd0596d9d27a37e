"""What trials taught, against least squares, against priors by hand, and as the order and the units must leave it."""

import math

import numpy as np
import pytest

from optiform.faults import BadInput
from optiform.library.models import Trial as TriedThickener
from optiform.library.models import Trust
from optiform.trials.doubts import doubts
from optiform.trials.expected import expected
from optiform.trials.learned import ladder_slopes, learned, learned_measures
from optiform.trials.models import Bench, Reading, Trial
from tests.trials.benches import wash_house

LIBRARY = wash_house()
BASE = frozenset({"glucoside", "betaine", "gum"})
SLOPES = {"water": 0.0, "glucoside": 0.04, "betaine": 0.06, "gum": 1.6, "glycerin": 0.02}


def wash(name, *, gum=1.0, glycerin=0.0, betaine=10.0, off=0.0, measure="viscosity", **fields):
    held = {"glucoside": 12.0, "betaine": betaine, "gum": gum, "glycerin": glycerin}
    held = {"water": 100.0 - sum(held.values()), **{key: value for key, value in held.items() if value}}
    log = 0.2 + sum(SLOPES[key] * value for key, value in held.items()) + off
    value = 10.0**log if measure == "viscosity" else log
    return Trial(
        name, tuple((key, 2 * value) for key, value in held.items()), (Reading(measure, value),), **fields
    )


def bench(*trials):
    return Bench("bench", tuple(trials))


EIGHT = [
    wash(str(i), gum=gum, glycerin=glycerin, betaine=betaine, off=0.02 * math.cos(7 * i))
    for i, (gum, glycerin, betaine) in enumerate(
        [
            (0.6, 2, 8),
            (1.4, 2, 8),
            (0.6, 5, 12),
            (1.4, 5, 12),
            (1, 3, 10),
            (1, 3, 10),
            (0.8, 4, 9),
            (1.2, 4, 11),
        ]
    )
]


def test_many_trials_overrule_the_library():
    """With the same washes a hundred times over, values are those of least squares on log10."""
    found = learned(bench(*(EIGHT * 100)), LIBRARY, "viscosity", BASE)
    rows = np.array([found.row(trial.percents) for trial in EIGHT])
    logs = [trial.value("viscosity", logarithm=True) for trial in EIGHT]
    fitted, *_ = np.linalg.lstsq(rows, logs, rcond=None)
    assert np.allclose(rows @ found.knowledge.mean, rows @ fitted, atol=0.002)
    assert found.materials == (
        "water",
        "glucoside",
        "betaine",
        "gum",
        "glycerin",
    )  # in the order of the library
    assert found.scale == "log10" and found.unit == "mPa.s"


def test_what_is_expected_of_each_material_is_the_nearest_line():
    """Of the shipped lines: water 0 +- 0.005, a surfactant 0.05 +- 0.05, a thickener 1.5 +- 1, others 0 +- 0.1."""
    found = learned(bench(EIGHT[0]), LIBRARY, "viscosity", BASE)
    assert found.before.mean == pytest.approx([0, 0.05, 0.05, 1.5, 0])
    spreads = np.sqrt(found.before.residual_variance * np.diag(found.before.inverse))
    assert spreads == pytest.approx([0.005, 0.05, 0.05, 1.0, 0.1])
    assert found.before.residual_variance == pytest.approx(0.1**2)
    assert found.before.degrees_of_freedom == 4


def test_an_interval_narrows_with_trials_and_is_told_as_a_meter_shows_it():
    new = wash("new", gum=1.1, glycerin=4, betaine=9).percents
    widths = []
    for count in (1, 4, 8):
        value, low, high = learned(bench(*EIGHT[:count]), LIBRARY, "viscosity", BASE).interval(new)
        assert low < value < high
        widths.append(math.log10(high / low))
    assert widths[0] > widths[1] > widths[2]
    truth = wash("new", gum=1.1, glycerin=4, betaine=9).value("viscosity")
    assert low < truth < high


def test_a_material_that_was_in_no_trial_has_no_value():
    found = learned(bench(*EIGHT), LIBRARY, "viscosity", BASE)
    assert found.row({"water": 76, "glucoside": 12, "betaine": 10, "gum": 1, "salt": 1}) is None
    assert found.interval({"water": 50, "salt": 50}) is None


def test_other_bases_teach_nothing_of_this_one():
    other = Trial("x", (("water", 80.0), ("glucoside", 20.0)), (Reading("viscosity", 50.0),))
    found = learned(bench(*EIGHT, other), LIBRARY, "viscosity", BASE)
    assert [trial.name for trial in found.trials] == [trial.name for trial in EIGHT]
    both = learned_measures(bench(*EIGHT, other), LIBRARY)
    assert [(one.name, one.base) for one in both] == [
        ("viscosity", BASE),
        ("viscosity", frozenset({"glucoside"})),
    ]
    assert learned(bench(*EIGHT), LIBRARY, "viscosity", frozenset({"betaine"})) is None


def test_a_wash_that_parted_is_not_fitted():
    parted = Trial("p", EIGHT[0].lines, (*EIGHT[0].readings, Reading("one phase", passed=False, hours=100)))
    found = learned(bench(parted, *EIGHT[1:]), LIBRARY, "viscosity", BASE)
    assert "p" not in [trial.name for trial in found.trials]


def test_a_measure_of_which_nothing_is_expected_starts_wide_and_learns():
    """Foam reads 2 + 0.05 per % of betaine in the same unit, whatever that is; scaling it scales everything."""
    blends = zip((2, 2, 5, 5, 3, 3, 4, 4), (8, 12, 8, 12, 10, 10, 9, 11), strict=True)
    washes = [wash(str(i), glycerin=g, betaine=b, measure="foam") for i, (g, b) in enumerate(blends)]
    found = learned(bench(*washes), LIBRARY, "foam", BASE)
    assert not any(found.known)
    new = wash("new", glycerin=4, betaine=10.5, measure="foam")
    value, low, high = found.interval(new.percents)
    assert low < new.value("foam") < high
    assert value == pytest.approx(new.value("foam"), abs=0.1)
    tenfold = [Trial(one.name, one.lines, (Reading("foam", 10 * one.value("foam")),)) for one in washes]
    scaled = learned(bench(*tenfold), LIBRARY, "foam", BASE).interval(new.percents)
    assert scaled == pytest.approx([10 * value, 10 * low, 10 * high])


def test_a_peak_of_salt_is_fitted_as_a_square():
    """An invented hump: salt .5 to 3 % reads 2.70 3.30 3.70 3.85 3.70 3.35; least squares 2.000357 s - .496429 s2.

    The betaine brings electrolyte too, 5 % of itself: it counts.
    """
    logs = dict(zip((0.5, 1, 1.5, 2, 2.5, 3), (2.70, 3.30, 3.70, 3.85, 3.70, 3.35), strict=True))
    trials = [
        Trial(
            str(salt),
            (("water", 88.0 - salt), ("glucoside", 12.0), ("salt", salt)),
            (Reading("viscosity", 10**log),),
        )
        for salt, log in logs.items()
    ]
    base = frozenset({"glucoside"})
    found = learned(bench(*(trials * 200)), LIBRARY, "viscosity", base, "quadratic")
    assert found.terms[-1] == "electrolyte squared"
    assert found.electrolyte == (0.0, 0.0, 1.0)
    assert found.knowledge.mean[-1] == pytest.approx(-0.496429, abs=0.003)
    slope = found.knowledge.mean[2] - found.knowledge.mean[0]
    assert slope == pytest.approx(2.000357, abs=0.01)
    assert slope / 2 / 0.496429 == pytest.approx(2.014748, abs=0.01)
    with_betaine = learned(bench(*EIGHT), LIBRARY, "viscosity", BASE, "quadratic")
    assert with_betaine.electrolyte == (0.0, 0.0, 0.05, 0.0, 0.0)


def test_a_reading_past_a_peak_is_not_doubted():
    """Of the invented hump, 0.5, 1.5 twice and 3 %: a line through the first three predicts ten times the last."""
    trials = [
        Trial(
            str(place),
            (("water", 88.0 - salt), ("glucoside", 12.0), ("salt", salt)),
            (Reading("viscosity", 10**log),),
        )
        for place, (salt, log) in enumerate(((0.5, 2.70), (1.5, 3.70), (1.5, 3.70), (3.0, 3.35)))
    ]
    assert doubts(bench(*trials), LIBRARY) == ()
    lines = learned(bench(*trials[:3]), LIBRARY, "viscosity", frozenset({"glucoside"}), "linear")
    assert lines.interval(trials[3].percents, 0.95)[1] > 10**3.35


def test_repeats_are_found_within_what_a_spoon_can_do():
    found = learned(
        bench(*EIGHT, wash("again", gum=1.002, glycerin=3.0, betaine=10.01)), LIBRARY, "viscosity", BASE
    )
    assert found.repeats == (0, 1, 2, 3, 4, 4, 5, 6, 4)


def test_the_librarys_own_trials_of_a_thickener_are_its_prior():
    """log10 2, 2.5, 3 at 0.5, 1, 1.5 % is a slope of 1.0; without scatter the spread is a tenth of it, times three."""
    ladder = [
        TriedThickener(base="old", material="gum", percent=percent, mPa_s=10.0**log)
        for percent, log in ((0.5, 2.0), (1.0, 2.5), (1.5, 3.0), (2.0, 2.4))
    ]
    library = wash_house(trials=tuple(ladder))
    assert ladder_slopes(library, BASE) == {"gum": (pytest.approx(1.0), pytest.approx(0.3))}
    assert ladder_slopes(library, frozenset({"glucoside"})) == {}
    found = learned(bench(EIGHT[0]), library, "viscosity", BASE)
    assert found.before.mean[3] == pytest.approx(1.0)
    invented = wash_house(trials=tuple(t.model_copy(update={"trust": Trust.INVENTED}) for t in ladder))
    assert ladder_slopes(invented, BASE) == {}


def with_expected(folder, text):
    (folder / "expected.csv").write_text("measure,of,value,spread,source\n" + text)
    return LIBRARY.model_copy(update={"folder": str(folder)})


def test_a_library_says_what_it_expects(tmp_path):
    library = with_expected(
        tmp_path, "viscosity,gum,2,0.2,ours\nfoam,function:surfactant,3,1,ours\nfoam,other,0,1,\n"
    )
    lines = expected(library)
    assert lines.own == 3
    assert lines.material("viscosity", "gum", library) == (2, 0.2)
    assert lines.material("viscosity", "betaine", library) == (0.05, 0.05)
    assert lines.material("foam", "betaine", library) == (3, 1)
    assert lines.material("foam", "glycerin", library) == (0, 1)
    assert lines.noise("viscosity") == 0.1 and lines.noise("foam") is None


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("viscosity,gumm,2,0.2,", "row 2, column of"),
        ("viscosity,gum,2,,", "row 2, column spread: the cell is empty"),
        ("viscosity,gum,2,0,", "row 2, column spread: '0' is not allowed"),
        ("viscosity,gum,much,1,", "row 2, column value: 'much' is not a number"),
    ],
)
def test_what_is_wrong_with_expected_is_told(tmp_path, line, part):
    with pytest.raises(BadInput, match=part):
        expected(with_expected(tmp_path, line + "\n"))
