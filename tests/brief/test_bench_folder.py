"""A brief that names its bench: what the folder taught is an ordinary measure of that brief."""

import csv

import numpy as np
import pytest

from optiform.brief.reading import brief_from
from optiform.faults import BadInput
from optiform.search.first_formula import first_of
from tests.taught import TERMS, TRIALS, TRUTH, library

SECOND = {"glucoside": 12.0, "pectin": 1.0}


def write(folder, passed="yes", second=False):
    """Write the invented trials as a bench folder: the viscosity of a known truth, and one gate."""
    folder.mkdir()
    washes = [dict(zip(TERMS, row, strict=True)) for row in TRIALS.tolist()] + [SECOND] * second
    with (folder / "weighed.csv").open("w", newline="") as out:
        table = csv.writer(out)
        table.writerow(["trial", "date", "block", "brief", "parent", "material", "grams"])
        for number, wash in enumerate(washes, 1):
            parts = {**wash, "water": 100.0 - sum(wash.values())}
            table.writerows([number, "", "", "", "", name, round(grams, 3)] for name, grams in parts.items())
    with (folder / "readings.csv").open("w", newline="") as out:
        table = csv.writer(out)
        table.writerow(["trial", "measure", "value"])
        for number, wash in enumerate(washes, 1):
            percents = [wash.get(name, 0.0) for name in TERMS]
            table.writerow(
                [number, "viscosity", round(float(10.0 ** (np.array(TRUTH["viscosity"]) @ percents)))]
            )
            table.writerow([number, "one phase", passed if number % 2 else "yes"])
    return folder


def wash(tmp_path, **targets):
    mapping = {
        "title": "nettle wash",
        "law": "none",
        "bench": "bench",
        "targets": targets,
        "include": [{"material": "nettle", "at_least": 1.0}],
    }
    return brief_from(mapping, library(), folder=tmp_path)


def test_what_the_bench_taught_is_a_target(tmp_path):
    write(tmp_path / "bench")
    brief = wash(tmp_path, viscosity={"at_least": 600.0, "sure": 0.9}, **{"one phase": {"reading": "yes"}})
    [taught] = brief.known.taught
    assert taught.base == {"foamer", "betaine", "gum"}
    found = first_of(brief)
    names = [material.id for material in library().materials]
    row = np.array([found.amounts[names.index(name)] for name in taught.materials])
    centre, _ = taught.knowledge.predicted(row)
    truth = np.array(
        [TRUTH["viscosity"][TERMS.index(name)] if name in TERMS else 0.0 for name in taught.materials]
    )
    assert truth @ row >= np.log10(600.0)
    assert centre >= np.log10(600.0)


def test_a_gate_counts_the_trials_that_passed(tmp_path):
    write(tmp_path / "bench", passed="no")
    [gate] = wash(tmp_path, **{"one phase": {"reading": "yes"}}).known.passed
    assert gate.passed.shape == (4, 5)
    assert gate.materials == TERMS


def test_the_base_with_the_most_trials_is_taken_and_told(tmp_path):
    write(tmp_path / "bench", second=True)
    brief = wash(tmp_path, viscosity={"at_least": 3000.0})
    assert [one.base for one in brief.known.taught] == [frozenset({"foamer", "betaine", "gum"})]
    assert any("of Betaine, Foamer, Gum (9 of 10 trials)" in note for note in brief.notes)


def test_a_bench_that_is_not_there_is_a_fault(tmp_path):
    with pytest.raises(BadInput):
        wash(tmp_path, cost={"at_most": 5.0})


def test_a_bench_that_cannot_be_read_is_the_only_fault(tmp_path):
    """What it would have taught is not missed as well."""
    folder = write(tmp_path / "bench")
    (folder / "readings.csv").write_text("trial,measure,value\n1,viscosity,3 Pa.s\n")
    with pytest.raises(BadInput) as told:
        wash(tmp_path, viscosity={"at_least": 600.0, "sure": 0.9})
    assert len(told.value.faults) == 1 and "3000" in str(told.value)


def test_a_doubtful_reading_is_named_wherever_its_bench_counts(tmp_path):
    folder = write(tmp_path / "bench")
    path = folder / "readings.csv"
    path.write_text(path.read_text().replace("2,viscosity,", "2,viscosity,99"))
    brief = wash(tmp_path, viscosity={"at_least": 600.0})
    assert any("a reading of trial 2" in note for note in brief.notes)
