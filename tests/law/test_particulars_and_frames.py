"""Blanks of a label, and the ceilings of frame formulations."""

import pytest

from optiform.faults import BadInput
from optiform.law.frames import exceeded
from optiform.law.shipped import particulars, shipped_frames


@pytest.mark.parametrize("jurisdiction", ["EU", "UK"])
def test_article_19_has_all_seven_letters(jurisdiction):
    letters = [
        item.provision.split("19(1)(")[1][0]
        for item in particulars(jurisdiction)
        if "19(1)(" in item.provision
    ]
    assert letters == list("abcdefg")


def test_the_responsible_person_sits_in_the_place_of_sale():
    assert "Union" in particulars("EU")[0].title
    assert "United Kingdom" in particulars("UK")[0].title


def test_the_us_asks_about_foaming_baths_without_prescribing():
    by_key = {item.key: item for item in particulars("US")}
    assert by_key["foaming bath"].is_check
    assert by_key["foaming bath"].provision == "21 CFR 740.17"
    assert not by_key["content"].is_check


def test_no_law_no_blanks():
    assert particulars("none") == ()
    with pytest.raises(BadInput):
        particulars("US of A")


def test_ceilings_of_the_shampoo_frame():
    """Frame formulation 10.1-2013: anionic 30, amphoteric 20, preservatives 1.5 % w/w."""
    assert exceeded("hair", {"anionic": 30.0, "amphoteric": 20.0, "preservative": 1.5}) == ()
    ((found, _),) = exceeded("hair", {"anionic": 30.1})
    assert (found.number, found.max_percent) == ("10.1", 30.0)


def test_a_frame_total_adds_its_classes():
    """Frame formulation 2.2-2013: nonionic and amphoteric together 20 % w/w."""
    assert exceeded("face", {"nonionic": 12.0, "amphoteric": 8.0}) == ()
    ((found, percent),) = exceeded("face", {"nonionic": 12.0, "amphoteric": 8.5})
    assert found.totals == ("nonionic", "amphoteric")
    assert percent == 20.5


def test_every_area_has_a_frame():
    assert {area for frame in shipped_frames() for area in frame.area} == {"face", "hair", "body", "hands"}
