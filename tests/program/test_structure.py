"""Formulas differ by substances: grades of one substance are one choice, and the list is the judge's all the same."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiform.brief.models import Ranked
from optiform.library.models import PreservativeSystem
from optiform.program.structure import roles
from optiform.search.ionic_strength import prepare
from optiform.search.narrow.screening import screen
from optiform.search.ranking import Candidate
from tests.builders import tiny_library
from tests.naive import Naive
from tests.program.comparing import assert_same_ranking
from tests.program.samples import PARTS, SPECS, SUBSTANCES, SYSTEMS, wash

GRADES = {
    "anion-strong": ("anion", {"Anion": 70.0, "Salt": 0.5}),
    "zwitter-strong": ("zwitter", {"Zwitterion": 38.0, "Salt": 6.0}),
    "blend": ("zwitter", {"Zwitterion": 15.0, "Anion": 20.0}),
    "gum-solution": ("xanthan", {"Gum": 20.0, "Glycerin": 1.0}),
}


def graded(*names, prices=None, systems=()):
    """Return a shelf with further grades of its materials."""
    specs = []
    for name in names:
        spec = SPECS[GRADES[name][0]] if name in GRADES else SPECS[name]
        changed = {} if prices is None or name not in prices else {"price": prices[name]}
        specs.append({"id": name, **spec, **changed})
    parts = {name: GRADES[name][1] if name in GRADES else PARTS[name] for name in names}
    return tiny_library(specs, SUBSTANCES, parts, systems=systems)


def test_roles_are_the_substances_that_serve():
    """A surfactant serves by its classed substances, a gum by what is not water; a residue under a tenth is none."""
    library = graded("anion", "anion-strong", "blend", "xanthan", "gum-solution")
    assert roles(library, "surfactant") == {
        "anion": ("Anion",),
        "anion-strong": ("Anion",),
        "blend": ("Anion", "Zwitterion"),
    }
    assert roles(library, "thickener") == {"xanthan": ("Gum",), "gum-solution": ("Gum",)}


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    prices=st.fixed_dictionaries(
        {
            name: st.integers(2, 60).map(lambda n: n / 10)
            for name in ("anion", "zwitter", "glucoside", *GRADES)
        }
    ),
    kept=st.sets(st.sampled_from([*GRADES, "xanthan", "preserver"]), min_size=2, max_size=4),
    low=st.sampled_from([45.0, 60.0, 75.0]),
)
def test_the_list_of_structures_is_the_judges(prices, kept, low):
    """Every set of substances that can be, each at its best grade, in order: every set of materials is tried."""
    systems: tuple[PreservativeSystem, ...] = SYSTEMS[:1] if "preserver" in kept else ()
    library = graded("anion", "zwitter", "glucoside", *sorted(kept), prices=prices, systems=systems)
    assert_same_ranking(wash(library, targets={"mildness": {"at_least": low}}))


def test_screening_lists_the_same(monkeypatch):
    """The list that is ranked among few materials and then proven is the judge's too."""
    monkeypatch.setattr("optiform.search.narrow.screening.MANY", 0)
    names = ("anion", "anion-strong", "zwitter", "zwitter-strong", "glucoside", "blend", "salt")
    prices = {"anion-strong": 3.4, "zwitter-strong": 2.2, "blend": 2.1}
    brief = wash(
        graded(*names, prices=prices), targets={"mildness": {"at_least": 60.0}}, ranked=Ranked(how_many=6)
    )
    expected = [best.objective for best in Naive(brief).ranking()[:6]]
    found = [item for item in screen(prepare(brief), 6).ranking(6) if isinstance(item, Candidate)]
    assert [item.objective for item in found] == pytest.approx(expected, abs=2e-6)
