"""Commands that change, weigh and correct a formula: every form, exit codes, files, faults."""

import csv
import io
import json
import re
from pathlib import Path

import pytest

from optiform.answers.bench.readings import Addition
from optiform.brief import load_brief
from optiform.cli import main
from optiform.cli.changing import _addition
from optiform.cli.materials import asking
from optiform.library.adding import copy_starter
from tests.answers.rework.today import STARTER_TODAY
from tests.builders import tiny_library


@pytest.fixture
def today(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("NO_COLOR", "1")
    Path("today.csv").write_text(
        "material,percent\n" + "\n".join(f"{n},{v}" for n, v in STARTER_TODAY) + "\n"
    )
    return Path("today.csv")


def run(capsys, *words):
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def test_reformulate_from_a_formula_writes_the_brief_that_it_used(today, capsys):
    words = ("reformulate", "--from", "today.csv", "--aim", "without:disodium-edta", "--write", "new.toml")
    words = (*words, "--full")
    code, out, err = run(capsys, *words)
    assert code == 0 and "Wrote new.toml" in err
    headings = ("What it brings", "Step by step", "Line by line", "Changed without being asked", "Cautions")
    tables = ("Measure by measure", "Substance by substance", "What each further new material buys")
    for heading in (*headings, *tables):
        assert heading in out
    assert "challenge test" in " ".join(out.split())
    assert load_brief("new.toml").baseline.lines == STARTER_TODAY
    again, text, _ = run(capsys, "reformulate", "new.toml", "--format", "json")
    answer = json.loads(text)
    assert again == 0 and answer["question"] == "reformulate"
    assert answer["baseline"]["cost"] > 0 and answer["formulas"][0]["rank"] == 1
    changes = answer["changes"]
    assert sum(step["saving"] for step in changes["steps"]) == pytest.approx(changes["saving"])
    assert changes["lines"] and changes["measures"] and changes["substances"] and changes["ladder"]


def test_the_brief_is_not_written_over_another_file(today, capsys):
    Path("new.toml").write_text("precious")
    code, _, err = run(
        capsys, "reformulate", "--from", "today.csv", "--aim", "cheaper", "--write", "new.toml"
    )
    assert code == 2 and "exists already" in err and Path("new.toml").read_text() == "precious"


def test_what_leaves_no_room_is_a_conflict(today, capsys):
    Path("tight.toml").write_text(
        'title = "t"\n[[exclude]]\ntag = "sulfate"\n[targets]\nmildness = { at_least = 10 }\n'
        '[baseline]\nformula = "today.csv"\nkeep = ["sodium-laureth-sulfate-70"]\n'
    )
    code, out, _ = run(capsys, "reformulate", "tight.toml", "--full")
    assert code == 3 and "sodium laureth sulfate as today" in out and "Today" in out
    code, out, _ = run(capsys, "reformulate", "tight.toml")
    assert code == 3 and "sodium laureth sulfate as today" in out and "cannot be met" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("reformulate",), "--from FORMULA"),
        (("reformulate", "--from", "today.csv"), "--aim"),
        (("reformulate", "--from", "today.csv", "--aim", "cheeper"), "did you mean 'cheaper'"),
        (("reformulate", "--from", "none.csv", "--aim", "cheaper"), "none.csv"),
        (("weigh", "today.csv", "--batch", "-3"), "above 0"),
        (("weigh", "today.csv", "--batch", "250"), "could be grams or kilograms; allowed: 250g or 250kg"),
        (
            ("lot", "today.csv", "--material", "a", "--material", "b", "--active", "9"),
            "--material: given 2 times",
        ),
        (("weigh", "today.csv", "--batch", "nan"), "above 0"),
        (("lot", "today.csv", "--material", "citric", "--active", "90"), "holds no|no material"),
        (("bench", "today.csv", "--batch", "500g", "--add", "citric-acid"), "cannot be read"),
        (("bench", "today.csv", "--batch", "500g", "--add", "citrc-acid=3g"), "did you mean 'citric-acid'"),
        (("bench", "today.csv", "--add", "citric-acid=3g"), "how much was made"),
        (
            ("bench", "today.csv", "--batch", "500g", "--add", "citric-acid=3.6@10"),
            "could be grams or kilograms",
        ),
        (("weigh", "today.csv", "--batch", "500g", "--balance", "0.01"), "allowed: 0.01g or 0.01kg"),
        (("weigh", "today.csv", "--batch", "500g", "--balance", "2kg"), "2000 g; allowed: 1e-06 to 1000 g"),
    ],
)
def test_bad_words_are_faults_without_a_traceback(today, capsys, words, said):
    code, out, err = run(capsys, *words)
    assert code == 2 and out == "" and re.search(said, " ".join(err.split())) and "Traceback" not in err


def test_weigh_in_every_form(today, capsys):
    code, out, _ = run(capsys, "weigh", "today.csv", "--batch", "500g", "--balance", "0.01g")
    assert code == 0 and "356.60 " in out and "together" in out
    _, text, _ = run(capsys, "weigh", "today.csv", "--batch", "250g", "--format", "json")
    found = json.loads(text)["formulas"][0]["weighable"]
    assert found["batch_g"] == 250 and sum(line["grams"] for line in found["lines"]) == pytest.approx(250)
    _, text, _ = run(capsys, "weigh", "today.csv", "--batch", "250g", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sum(float(row["grams"]) for row in rows) == pytest.approx(250)
    for form in ("md", "html"):
        assert run(capsys, "weigh", "today.csv", "--batch", "250g", "--format", form)[0] == 0


def test_drops_are_those_of_ones_own_dropper_and_no_empty_column_stands_where_there_are_none(today, capsys):
    words = ("weigh", "today.csv", "--batch", "250g")
    assert "20 to the mL" in run(capsys, *words)[1]
    _, text, _ = run(capsys, *words, "--drops-per-mL", "32")
    assert "32 to the mL" in text
    assert re.search(r"about \d+ of a 10 % solution", text)
    assert "drops" not in run(capsys, "weigh", "today.csv", "--batch", "5000g", "--balance", "0.1g")[1]
    code, _, err = run(capsys, *words, "--drops-per-mL", "0")
    assert code == 2 and "above 0" in err


def test_what_cannot_be_weighed_has_exit_code_3_and_ways_out(today, capsys):
    code, out, _ = run(capsys, "weigh", "today.csv", "--batch", "50g")
    assert code == 3 and "A way out: a balance that reads 0.002 g" in " ".join(out.split())


def test_lot_in_every_form(today, capsys):
    words = (
        "lot",
        "today.csv",
        "--material",
        "cocamidopropyl-betaine-38",
        "--active",
        "36.5",
        "--batch",
        "1000g",
    )
    code, out, _ = run(capsys, *words)
    assert code == 0 and "72.88 g instead of 70.00 g" in out
    found = json.loads(run(capsys, *words, "--format", "json")[1])
    assert found["after"] == pytest.approx(7 * 38 / 36.5) and found["holds"] is True
    rows = {
        row["material"]: float(row["percent"])
        for row in csv.DictReader(io.StringIO(run(capsys, *words, "-f", "csv")[1]))
    }
    assert sum(rows.values()) == pytest.approx(100) and rows["cocamidopropyl-betaine-38"] == pytest.approx(
        found["after"]
    )


def test_bench_notes_the_alkali_in_a_library_of_ones_own(today, capsys):
    copy_starter("mine")
    words = (
        "bench",
        "today.csv",
        "--library",
        "mine",
        "--batch",
        "500g",
        "--add",
        "citric-acid=3.6g@10",
        "--pH",
        "4.9",
    )
    code, out, err = run(capsys, *words, "--note", "--out", "now.txt")
    assert code == 0 and out == "" and "materials.csv" in err and "503.6 g" in Path("now.txt").read_text()
    _, text, _ = run(capsys, *words[:4], "--batch", "500g", "--add", "citric-acid=3.6g@10", "--format", "csv")
    Path("now.csv").write_text(text)
    _, text, _ = run(capsys, "evaluate", "now.csv", "--library", "mine", "--format", "json")
    assert json.loads(text)["formulas"][0]["acidity"]["pH"] == pytest.approx(4.9, abs=1e-4)


def test_the_alkali_is_not_noted_in_the_starter_library(today, capsys):
    code, out, err = run(capsys, "bench", "today.csv", "--pH", "4.9", "--note")
    assert code == 2 and out == "" and "starter library" in err


def test_bench_records_its_reading_in_a_bench_folder(today, capsys):
    code, out, err = run(capsys, "bench", "today.csv", "--batch", "500g", "--pH", "4.9", "--bench", "tried")
    assert code == 0 and "measured" in out and "Recorded: pH 4.9 of trial 1 in tried." in err
    assert Path("tried/readings.csv").read_text().splitlines()[1].startswith("1,pH,4.9,")


class Terminal(io.StringIO):
    def isatty(self):
        return True


def asked_at_the_bench(monkeypatch, typed, made_g=None):
    monkeypatch.setattr("sys.stdin", Terminal(typed))
    library = tiny_library([{"id": "citric-acid", "function": "acid"}])
    return asking.ask_for_additions(made_g, library, _addition)


def test_each_addition_is_asked_for_and_the_ph_after_it(capsys, monkeypatch):
    """What cannot be read is told and asked for again."""
    typed = "500\n500g\n5,3\ncitric-acidd=2g@10\ncitric-acid=2g@10\n\ncitric-acid=1.6g\n49\n4,9\n\n"
    added = (Addition("citric-acid", 2.0, 10.0), Addition("citric-acid", 1.6))
    assert asked_at_the_bench(monkeypatch, typed) == (500.0, added, 4.9)
    told = capsys.readouterr().err
    for wrong in ("500g or 500kg", "did you mean 'citric-acid'", "'49' is no pH"):
        assert wrong in told


def test_a_ph_before_the_last_addition_is_not_that_of_the_wash(monkeypatch):
    assert asked_at_the_bench(monkeypatch, "5.3\ncitric-acid=2g\n\n\n", 200.0)[2] is None
    assert asked_at_the_bench(monkeypatch, "\n5.3\n") == (None, (), 5.3)


def test_the_bench_asks_on_a_terminal_where_no_option_says_anything(today, capsys, monkeypatch):
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    monkeypatch.setattr("sys.stdin", Terminal("\n4.9\n"))
    code, out, err = run(capsys, "bench", "today.csv")
    assert code == 0 and "How much was made" in err and "measured" in out.casefold()
