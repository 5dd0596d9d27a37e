"""The bench card: weaker solutions, drops and solutions to make, by hand; one page for every shipped problem."""

from __future__ import annotations

import pytest

from optiform.api import sheet
from optiform.library import load_library
from optiform.sheets.record.batch import weigh
from optiform.sheets.record.card import instead_of
from optiform.views.forms import result_of
from tests.views.first.screens import SOLVED, designed

STARTER = load_library(None)
PAGE = 60


def instead(material: str, percent: float, batch_g: float = 60.0, balance_g: float = 0.01):
    """Return what the card offers for one material in water."""
    lines = [("water", 100.0 - percent), (material, percent)]
    batch = weigh(lines, STARTER, batch_g, balance_g)
    assert batch.line(material).too_light
    return instead_of(batch.line(material), batch, STARTER)


def test_an_acid_too_light_is_the_weaker_solution_of_the_library():
    """0.4 % of 60 g is 0.24 g at 50 %: 0.24 x 50 / 20 = 0.6 g at 20 %, 0.36 g of it more water; 0.25 g is the least."""
    found = instead("citric-acid-50", 0.4)
    assert found.name == STARTER.material["citric-acid-20"].name
    assert found.grams == pytest.approx(0.6) and found.water_g == pytest.approx(0.36)
    assert found.drops is None and found.strength is None


def test_a_liquid_too_light_is_counted_in_drops():
    """0.3 % of 60 g is 0.18 g; 20 drops to the mL at its own density."""
    material = STARTER.material["phenoxyethanol"]
    found = instead("phenoxyethanol", 0.3)
    assert found.drops == pytest.approx(0.18 / material.density * 20.0)


def test_a_crystal_is_no_liquid_whatever_water_it_holds():
    """Trisodium citrate is a dihydrate, an eighth of it water: 0.12 g are 1.2 g of a 10 % solution."""
    found = instead("trisodium-citrate", 0.2)
    assert found.drops is None and found.strength == 10.0
    assert found.grams == pytest.approx(1.2) and found.water_g == pytest.approx(1.08)


def test_what_rounds_to_nothing_is_still_offered():
    """0.02 % of 20 g is 0.004 g, shown as 0.00 g: 0.004 x 100 / 1 = 0.4 g of a 1 % solution."""
    found = instead("trisodium-citrate", 0.02, batch_g=20.0)
    assert found.grams == pytest.approx(0.4) and found.strength == 1.0


@pytest.mark.parametrize("material", ["xanthan-gum", "ethylhexylglycerin", "tocopherol"])
def test_what_does_not_dissolve_in_water_makes_no_solution(material):
    """A gum swells; a glyceryl ether and tocopherol hardly dissolve (common practice, no source)."""
    assert instead(material, 0.1) is None


@pytest.mark.parametrize("mass", ["60 g", "1 kg"])
@pytest.mark.parametrize("name", SOLVED)
def test_a_card_is_one_page(name, mass):
    card = sheet(designed(name).formulas[0], mass, parts=["card"])
    told = result_of(card).to_text()
    lines = told.splitlines()
    assert len(lines) <= PAGE and max(map(len, lines)) <= 80
    weighed = told.split("Weigh, together")[1].splitlines()[1 : len(card.card.record.batch.lines) + 1]
    for row, line in zip(weighed, card.card.record.batch.lines, strict=True):
        assert line.name.split()[0] in row
    assert "Read" in told and "after a night" in told and "safety assessment" in told


def test_a_card_alone_is_the_card_in_every_form():
    card = sheet(designed("nettle-gel-oily-skin-brief").formulas[0], "1 kg", parts=["card"])
    assert card.batch is None and card.label is None
    assert "bench card, 1000\N{NO-BREAK SPACE}g" in card.to_html() and 'class="light"' in card.to_html()
    assert card.to_text() == card.to_text(full=True)
