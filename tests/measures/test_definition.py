"""One definition per measure: its value, row, price conversion and parts agree with each other."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.measures import Catalogue, Conditions, UnknownMeasure
from optiform.measures.amounts import Count, proportion
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated
from tests.measures.samples import with_water_demand

LIBRARY = with_water_demand()
CATALOGUE = Catalogue(LIBRARY, Conditions(pH_low=4.9, pH_high=5.2, ionic_strength=0.1))
LINEAR = (
    "cost", "active matter", "anionic", "amphoteric", "nonionic", "cationic", "mildness", "irritation load",
    "natural origin", "natural origin without water", "electrolyte", "emulsifier HLB", "required HLB", "acid demand",
    "mean iodine value", "substance:Sodium Chloride", "substance:Aqua", "tag:sulfate", "tag:mild", "tag:salt",
    "function:surfactant", "material:glycerin", "share:anionic", "share:tag:sulfate", "share:betaine",
    "share:Decyl Glucoside", "undissociated:Sodium Benzoate", "undissociated:Citric Acid",
)  # fmt: skip
KNOWN = [
    m.id for m in LIBRARY.materials if m.id not in ("newcomer", "mystery-extract", "glyceryl-oleate", "water")
]


def linear(name):
    """Return a measure as a linear form: uncharged acid at a pH, as its rows take it."""
    measure = CATALOGUE.find(name)
    return measure.at(5.2, 0.1) if isinstance(measure, Undissociated) else measure


def mix(lines):
    """Return the amounts of a formula, water to 100."""
    return LIBRARY.arrays.amounts([*lines.items(), ("water", 100.0 - sum(lines.values()))])


formulas = st.dictionaries(
    st.sampled_from(KNOWN), st.floats(0.01, 5.0, allow_nan=False), min_size=1, max_size=len(KNOWN)
).map(mix)


@settings(max_examples=40, deadline=None)
@given(amounts=formulas, bound=st.floats(0.0, 100.0))
@pytest.mark.parametrize("name", LINEAR)
def test_value_row_and_parts_agree(name, amounts, bound):
    """value >= L exactly where the row holds; the parts add up to the value; the row is off by scale * distance."""
    measure = linear(name)
    value = measure.value(amounts)
    if value is None:
        if measure.missing is not None and (measure.missing & (amounts > 0)).any():
            return
        assert measure.denominator is not None
        assert float(measure.denominator @ amounts) == 0
        assert not measure.contributions(amounts).any()
        return
    assert measure.contributions(amounts).sum() == pytest.approx(value - measure.offset, rel=1e-9, abs=1e-9)
    for side, sign in (("at_least", 1.0), ("at_most", -1.0)):
        row = measure.row(side, bound)
        assert row.side == side
        off = float(row.coefficients @ amounts) - row.bound
        assert off == pytest.approx(measure.scale(amounts, bound) * (value - bound), rel=1e-7, abs=1e-7)
        if abs(value - bound) > 1e-6:
            assert (sign * off > 0) == (sign * (value - bound) > 0)


@pytest.mark.parametrize("name", LINEAR)
def test_scale_is_the_derivative_of_the_row(name):
    """Chain rule against finite differences: d(row slack) / d(bound) is minus the scale."""
    amounts = mix({"ether-sulfate": 20.0, "betaine": 10.0, "glucoside": 4.0, "sunflower-oil": 1.0, "olive-oil": 2.0,
                   "polysorbate": 3.0, "citric-acid": 0.4, "sodium-benzoate": 0.5, "salt": 1.0})  # fmt: skip
    measure, bound, step = linear(name), 6.0, 1e-3

    def slack(at):
        row = measure.row("at_least", at)
        return float(row.coefficients @ amounts) - row.bound

    measured = -(slack(bound + step) - slack(bound - step)) / (2 * step)
    assert measured == pytest.approx(measure.scale(amounts, bound), rel=1e-6)


def test_pH_scale_is_the_derivative_of_its_row():
    measure = CATALOGUE.find("pH")
    amounts = mix(
        {"ether-sulfate": 20.0, "betaine": 10.0, "glucoside": 8.0, "citric-acid": 0.8, "sodium-benzoate": 0.5}
    )
    for bound in (3.0, 4.4, 5.2, 7.0, 9.5):
        step = 1e-5
        up, down = (
            float(measure.row("at_least", at).coefficients @ amounts) for at in (bound + step, bound - step)
        )
        assert (down - up) / (2 * step) == pytest.approx(measure.scale(amounts, bound), rel=1e-6)


@pytest.mark.parametrize(
    "name", ["mildness", "share:anionic", "emulsifier HLB", "required HLB", "mean iodine value"]
)
def test_a_mean_of_nothing_is_null(name):
    """d . x = 0: no value, no parts; never a zero and never an error."""
    measure = CATALOGUE.find(name)
    bare = mix({"glycerin": 3.0})
    assert measure.value(bare) is None
    assert not measure.contributions(bare).any()
    assert not CATALOGUE.find("natural origin without water").contributions(mix({})).any()


@pytest.mark.parametrize(
    ("name", "material"),
    [
        ("mildness", "newcomer"), ("irritation load", "newcomer"), ("natural origin", "mystery-extract"),
        ("natural origin without water", "mystery-extract"), ("acid demand", "mystery-extract"),
        ("required HLB", "olive-oil"),
    ],
)  # fmt: skip
def test_null_where_data_lack(name, material):
    """Absent is not zero: with one material that has no figure there is no value; without it there is."""
    measure = CATALOGUE.find(name)
    base = {"ether-sulfate": 10.0, "sunflower-oil": 1.0, "polysorbate": 1.0}
    assert measure.value(mix({**base, material: 1.0})) is None
    assert measure.missing is not None
    assert measure.missing[LIBRARY.arrays.material_index[material]]


def test_an_absent_figure_is_not_missed_where_it_plays_no_part():
    """The newcomer has no mildness, but nothing else lacks; the salt has no iodine value, but is no oil."""
    assert CATALOGUE.find("mildness").value(mix({"betaine": 10.0, "mystery-extract": 1.0})) == pytest.approx(
        70
    )
    assert CATALOGUE.find("mean iodine value").value(
        mix({"salt": 1.0, "sunflower-oil": 1.0, "olive-oil": 3.0})
    ) == (pytest.approx((130 + 3 * 82) / 4))


def test_counts_and_viscosity_have_no_row():
    for name, kind in (("ingredients", Count), ("viscosity", Viscosity)):
        measure = CATALOGUE.find(name)
        assert isinstance(measure, kind)
        with pytest.raises(NotImplementedError):
            measure.row("at_least", 1.0)
    assert CATALOGUE.find("ingredients").value(mix({"salt": 1.0, "glycerin": 2.0})) == 3


def test_a_misspelt_measure_comes_with_the_nearest_name():
    for wrong, right in (
        ("activ matter", "active matter"),
        ("substance:Sodium Cloride", "substance:Sodium Chloride"),
        ("tag:sulfat", "tag:sulfate"),
        ("share:anionik", "share:anionic"),
        ("material:betain", "material:betaine"),
        ("acid demmand", "acid demand"),
    ):
        with pytest.raises(UnknownMeasure) as caught:
            CATALOGUE.find(wrong)
        assert caught.value.nearest == right
        assert not CATALOGUE.known(wrong)


def test_only_totals_are_put_in_proportion():
    cost, mildness = CATALOGUE.find("cost"), CATALOGUE.find("mildness")
    with pytest.raises(ValueError, match="totals"):
        proportion(mildness, cost, "x", "g per g")
    ratio = proportion(
        CATALOGUE.find("material:glycerin"), CATALOGUE.find("material:salt"), "glycerin per salt", "g per g"
    )
    assert ratio.value(mix({"glycerin": 3.0, "salt": 0.5})) == pytest.approx(6)
    assert ratio.value(mix({"glycerin": 3.0})) is None
