"""Trials and families are shown with what the command line says of them, and name nothing outside the folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.page.bench import BRIEF

EVENINGS = Path(__file__).parents[2] / "problems" / "three-evenings" / "bench"
PLAN = 'title = "One shelf"\nminimise = "cash"\n[[product]]\nbrief = "{brief}"\nbatch = "1kg"\n'


@pytest.fixture
def evenings(bench):
    for file in EVENINGS.glob("*.csv"):
        bench.write(f"evenings/{file.name}", file.read_text(encoding="utf-8"))
    bench.write("a.toml", BRIEF)
    return bench


def test_trials_are_listed_with_what_they_taught(evenings):
    assert 'href="/trials/evenings"' in evenings.get("/").text
    shown = evenings.get("/trials/evenings").text
    assert "viscosity" in shown and "Xanthan gum" in shown
    assert "Trials in evenings" in shown and str(evenings.root) not in shown
    assert "<svg" in shown, "each fit is drawn"


def test_a_bench_that_leads_outside_is_refused(evenings, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "weighed.csv"
    outside.write_text((EVENINGS / "weighed.csv").read_text())
    (evenings.root / "led").mkdir()
    (evenings.root / "led" / "weighed.csv").symlink_to(outside)
    assert evenings.get("/trials/led").status in (404, 422)


def test_a_family_is_shown_on_its_shelf(evenings):
    evenings.write("shared.toml", PLAN.format(brief="a.toml"))
    assert 'href="/family/shared.toml"' in evenings.get("/").text
    shown = evenings.get("/family/shared.toml").text
    assert "One shelf" in shown and "Plain quince wash" in shown and "The shelf" in shown
    assert 'href="/records/shared.toml"' in shown
    made = evenings.get("/records/shared.toml").text
    assert "One shelf: batch records" in made and "Weigh" in made and 'href="/family/shared.toml"' in made


def test_a_family_of_a_brief_outside_is_refused(evenings):
    evenings.write("shared.toml", PLAN.format(brief="../../else.toml"))
    answer = evenings.get("/family/shared.toml")
    assert answer.status == 422 and "outside this folder" in answer.text
