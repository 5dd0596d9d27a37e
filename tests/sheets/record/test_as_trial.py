"""A filled batch record becomes a trial: what was really weighed, its lots, what was read; and nothing by guess."""

from __future__ import annotations

import datetime
import io
import json
import re
import zipfile

import pytest

from optiform import sheet
from optiform.faults import BadInput
from optiform.page.records import begun
from optiform.sheets.record.as_trial import add_record
from optiform.sheets.record.filled import is_filled
from optiform.trials.models import Reading, Trial
from optiform.trials.reading import load_bench
from optiform.views.data.sheet_xlsx import workbook
from tests.builders import tiny_library
from tests.trials.benches import bench_at, wash_house

LIBRARY = wash_house()
WASH = {"water": 83.0, "glucoside": 12.0, "betaine": 4.0, "gum": 1.0}
GIVEN = Trial("", ())
WEIGHED = {"water": "166.02", "glucoside": "23.97", "betaine": "8.01", "gum": "2.00"}
READ = {
    "identity/batch number": "N-7",
    "identity/made on": "2026-11-28",
    "in process/pH before": "11.2",
    "in process/pH after": "5,05",
    "in process/pH day 1": "5.1 (meter 2, 21 C)",
    "in process/viscosity day 0": "4100 mPa.s",
    "in process/viscosity day 1": "3200 (spindle 3, 20/min, 22 C)",
    "in process/appearance": "clear, pale",
}


@pytest.fixture(scope="module")
def record():
    return sheet(WASH, "200 g", parts=["batch"], library=LIBRARY).batch


def saved(folder, record, weighed=WEIGHED, **entries):
    """Write the file that the page keeps, with these blanks filled in."""
    kept = json.loads(begun(record.model_dump_json(), "wash.csv", "2026-11-28"))
    kept["filled"] |= {f"weigh/{name}/actual": grams for name, grams in weighed.items()} | entries
    path = folder / "one.batch.json"
    path.write_text(json.dumps(kept), encoding="utf-8")
    return path


def test_the_page_s_record_goes_into_the_bench_as_it_is(tmp_path, record):
    lots = {"weigh/gum/lot": "L-77", "weigh/water/lot": " "}
    path = saved(tmp_path, record, **READ, **lots)
    added = add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    trial = load_bench(tmp_path / "bench", LIBRARY).trial["N-7"]
    assert dict(trial.lines) == {name: float(grams) for name, grams in WEIGHED.items()}
    assert trial.lots == (("gum", "L-77"),)
    assert (trial.date, trial.parent) == ("2026-11-28", "")
    assert [(one.measure, one.number, one.hours, one.temperature_C) for one in trial.readings] == [
        ("pH", 5.05, 0, None), ("pH", 5.1, 24, 21), ("viscosity", 4100, 0, None), ("viscosity", 3200, 24, 22),
    ]  # fmt: skip
    assert trial.readings[3].instrument == "spindle 3, 20/min, 22 C"
    assert trial.readings[0].note == "clear, pale"
    assert trial.value("viscosity") == 3200  # the sheet's own words: the reading of the next day counts
    assert "unfinished" in added.notes[0]  # 11.2 is the pH of another composition: the wash before its acid


def test_the_weighing_table_as_csv_does_too(tmp_path, record):
    text = sheet(WASH, "200 g", parts=["batch"], library=LIBRARY).to_csv()
    path = tmp_path / "batch.csv"
    lines = text.splitlines()
    place, lot = lines[0].split(",").index("actual_g"), lines[0].split(",").index("lot")
    filled = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        cells[place], cells[lot] = WEIGHED[cells[1]] + " g", "L" + cells[1]
        filled.append(",".join(cells))
    path.write_text("\n".join(filled), encoding="utf-8")
    given = Trial("", (), (Reading("viscosity", 3000.0, hours=20.0),), block="friday", parent="1")
    add_record(bench_at(tmp_path / "bench"), LIBRARY, path, given)
    trial = load_bench(tmp_path / "bench", LIBRARY).trial["3"]
    assert dict(trial.lines) == {name: float(grams) for name, grams in WEIGHED.items()}
    assert dict(trial.lots)["gum"] == "Lgum"
    assert (trial.parent, trial.block, trial.value("viscosity")) == ("1", "friday", 3000)


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        ({"weigh/gum/actual": ""}, "Weigh, Gum: nothing is filled in for what was weighed"),
        ({"weigh/gum/actual": "20.0"}, "20 g instead of 2 g; allowed: --checked.*did you mean '2'"),
        ({"weigh/gum/actual": "a spoon"}, "'a spoon' is not a number"),
        ({"weigh/water/actual": "1,660"}, "'1,660' could be 1660 or 1.660"),
        ({"weigh/water/actual": "155"}, "adds up to 188.98 g, and the batch was to be 200 g"),
        ({"in process/viscosity day 1": "thick"}, "viscosity, day 1: 'thick' does not begin with a figure"),
        ({"in process/viscosity day 1": "3.2 Pa.s"}, "did you mean '3200'"),
        ({"in process/pH day 1": "51"}, "a pH of 51 is not allowed"),
    ],
)
def test_every_fault_of_a_record_is_told_and_nothing_is_written(tmp_path, record, changed, part):
    path = saved(tmp_path, record, **{**READ, **changed})
    with pytest.raises(BadInput, match=part):
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    assert not (tmp_path / "bench").exists()


def test_all_faults_are_told_at_once(tmp_path, record):
    path = saved(tmp_path, record, **{**READ, "weigh/gum/actual": "", "in process/pH day 1": "51"})
    with pytest.raises(BadInput) as told:
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    assert len(told.value.faults) == 2


def test_a_weight_that_was_asked_about_and_is_right_is_taken(tmp_path, record):
    path = saved(tmp_path, record, **{**READ, "weigh/gum/actual": "2.4"})
    with pytest.raises(BadInput, match=r"2\.4 g instead of 2 g"):
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    added = add_record(tmp_path / "bench", LIBRARY, path, GIVEN, checked=True)
    assert added.trial.total_g == pytest.approx(200.4)


def test_one_record_is_one_trial(tmp_path, record):
    """A second of the same batch number is refused, and so is one of the same grams on the same day."""
    bench = tmp_path / "bench"
    add_record(bench, LIBRARY, saved(tmp_path, record, **READ), GIVEN)
    other = saved(tmp_path, record, WEIGHED | {"gum": "2.10"}, **READ)
    with pytest.raises(BadInput, match="there is a trial 'N-7' already"):
        add_record(bench, LIBRARY, other, GIVEN)
    nameless = saved(tmp_path, record, **{**READ, "identity/batch number": ""})
    with pytest.raises(BadInput, match="trial N-7 has the same grams of the same day already"):
        add_record(bench, LIBRARY, nameless, GIVEN)
    assert add_record(bench, LIBRARY, nameless, Trial("again", ())).trials == 2


def test_what_was_dosed_by_the_meter_may_stand_under_dose_used(tmp_path, acid_record):
    library, record = acid_record
    weighed = WEIGHED | {"acid": ""}
    path = saved(tmp_path, record, weighed, **{**READ, "in process/dose used": "0.9"})
    added = add_record(tmp_path / "bench", library, path, GIVEN)
    assert dict(load_bench(tmp_path / "bench", library).trial[added.trial.name].lines)["acid"] == 0.9
    twice = saved(tmp_path, record, weighed | {"acid": "0.6"}, **{**READ, "in process/dose used": "0.9"})
    with pytest.raises(BadInput, match=r"0\.6 g under Weigh, 0\.9 g under acid or base used"):
        add_record(tmp_path / "other", library, twice, GIVEN)


@pytest.fixture(scope="module")
def acid_record():
    library = wash_house_with_acid()
    wash = {**WASH, "water": 82.5, "acid": 0.5}
    return library, sheet(wash, "200 g", parts=["batch"], library=library).batch


def wash_house_with_acid():
    held = wash_house()
    return tiny_library(
        [*({"id": m.id, "function": m.function} for m in held.materials if m.id != "water"),
         {"id": "acid", "function": "acid"}],
    )  # fmt: skip


@pytest.mark.parametrize("text", ["", "{}", '{"record": 1}', "[1]"])
def test_what_is_no_record_is_told(tmp_path, text):
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match="batch record"):
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)


def calculated(content, values):
    """Return a workbook as a spreadsheet program saves it: beside each formula the value of its cell, or no text."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name.startswith("xl/worksheets/"):
                text = re.sub(
                    rb'<c r="(\w+)"([^>]*)><f>(.*?)</f><v\s*/?>(?:</v>)?</c>',
                    lambda m: cell_with_value(m, values),
                    text,
                )
            new.writestr(name, text)
    return out.getvalue()


def cell_with_value(found, values):
    place, style, formula = (group.decode() for group in found.groups())
    if place in values:
        return f'<c r="{place}"{style}><f>{formula}</f><v>{values[place]}</v></c>'.encode()
    return f'<c r="{place}"{style} t="str"><f>{formula}</f><v></v></c>'.encode()


def workbook_of(folder, weighed=WEIGHED, blanks=(), calculate=True):
    """Write the workbook of `sheet --xlsx` with its blanks filled in, as a spreadsheet program saves it."""
    from openpyxl import load_workbook

    made = sheet(WASH, "200 g", parts=["batch"], library=LIBRARY)
    book, values, path = load_workbook(io.BytesIO(workbook(made))), {}, folder / "batch.xlsx"
    page = book["Weigh"]
    heads = {cell.value: cell.column for cell in page[7]}
    for row, line in enumerate(made.batch.batch.lines, 8):
        values[f"F{row}"] = line.grams
        page.cell(row, heads["actual g"]).value = weighed.get(line.material)
        page.cell(row, heads["lot"]).value = f"L{line.material}"
    for title, text in blanks:
        row = next(cell.row for cell in book["Record"]["B"] if str(cell.value).startswith(title))
        book["Record"].cell(row, 4).value = text
    deviations = next(cell.row for cell in book["Record"]["A"] if str(cell.value).startswith("Deviations"))
    book["Record"].cell(deviations + 2, 2).value = "stirred by hand"
    saved_as = io.BytesIO()
    book.save(saved_as)
    path.write_bytes(calculated(saved_as.getvalue(), values) if calculate else saved_as.getvalue())
    return path


GRAMS = {name: float(grams) for name, grams in WEIGHED.items()}
TYPED = (
    ("Batch number", "N-7"), ("Date of making", datetime.date(2026, 11, 28)), ("pH after", 5.05),
    ("Viscosity, day 1", 3200), ("Look", "clear, pale"),
)  # fmt: skip


def test_the_workbook_does_too_with_all_that_was_read(tmp_path):
    """Cells hold numbers and dates, as a spreadsheet makes them of what is typed."""
    path = workbook_of(tmp_path, GRAMS, TYPED)
    add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    trial = load_bench(tmp_path / "bench", LIBRARY).trial["N-7"]
    assert dict(trial.lines) == GRAMS
    assert dict(trial.lots)["gum"] == "Lgum" and trial.date == "2026-11-28"
    read = [(one.measure, one.number, one.hours) for one in trial.readings]
    assert read == [("pH", 5.05, 0), ("viscosity", 3200, 24)]
    assert trial.readings[0].note == "clear, pale; stirred by hand"


def test_what_is_wrong_in_a_workbook_is_told_by_its_cell(tmp_path):
    path = workbook_of(tmp_path, {**GRAMS, "gum": None, "betaine": 80.1})
    with pytest.raises(BadInput) as told:
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    wrong = {fault.place: fault for fault in told.value.faults}
    lines = sheet(WASH, "200 g", parts=["batch"], library=LIBRARY).batch.batch.lines
    cell = {line.material: f"sheet Weigh, row {row}, column actual g" for row, line in enumerate(lines, 8)}
    assert set(wrong) == {cell["gum"], cell["betaine"]}
    assert wrong[cell["betaine"]].nearest == "8.01"


def test_a_workbook_that_nothing_calculated_is_refused(tmp_path):
    path = workbook_of(tmp_path, GRAMS, TYPED, calculate=False)
    with pytest.raises(BadInput, match="never calculated"):
        add_record(tmp_path / "bench", LIBRARY, path, GIVEN)
    assert not (tmp_path / "bench").exists()


def test_a_filled_workbook_is_not_taken_for_the_formula_as_designed(tmp_path, monkeypatch, capsys):
    from optiform.cli import main

    monkeypatch.chdir(workbook_of(tmp_path, GRAMS).parent)
    assert main(["trial", "add", "bench", "--formula", "batch.xlsx"]) == 2
    assert "--record batch.xlsx" in capsys.readouterr().err
    assert not is_filled(workbook_of(tmp_path, {}))
