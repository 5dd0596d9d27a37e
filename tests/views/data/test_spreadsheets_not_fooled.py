"""What a spreadsheet would calculate is a text in every table and workbook; numbers stay numbers.

Source of the marks: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return, and the wide forms), from memory.
"""

import csv
import io

import openpyxl
import pytest

from optiform.views.data.csv_table import table
from tests.fuzz.workshop import run, steering, write
from tests.library.on_disk import MATERIALS

MARKS = ("=1+1", "+1", "-1+1", "@x", "\uff1d1")


@pytest.mark.parametrize("text", [*MARKS, "\t=1", "\r=1"])
def test_a_text_is_guarded_and_a_number_is_not(text):
    ((head,), (cell,), (number,)) = csv.reader(io.StringIO(table((text,), [(text,), (-1.5,)])))
    assert head[0] == cell[0] == "'"
    assert steering(cell) == ""
    assert float(number) == -1.5


@pytest.mark.parametrize("mark", MARKS)
def test_no_name_becomes_a_formula(tmp_path, mark):
    materials = MATERIALS.replace("Nettle extract", f"{mark} nettle")
    write(tmp_path, {"lib/materials.csv": materials})
    command = ["sheet", "today.csv", "--batch", "1kg", "--library", "lib"]
    done = run(tmp_path, [*command, "--part", "batch", "--format", "csv", "--xlsx", "sheet.xlsx"])
    assert done.code == 0, done.err
    names = [row["name"] for row in csv.DictReader(io.StringIO(done.out))]
    assert f"'{mark} nettle" in names
    cells = [
        cell for sheet in openpyxl.load_workbook(tmp_path / "sheet.xlsx") for row in sheet for cell in row
    ]
    written = [cell for cell in cells if str(cell.value).startswith(mark)]
    assert written
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in written)
    grams = [row["grams"] for row in csv.DictReader(io.StringIO(done.out))]
    assert sum(map(float, grams)) == pytest.approx(1000.0)


def test_a_title_with_what_steers_a_terminal_comes_back_as_its_number(tmp_path):
    brief = 'title = "Nettle\\u001b[2J wash"\nlibrary = "lib"\n[[include]]\nmaterial = "nettle"\n'
    write(tmp_path, {"brief.toml": brief})
    for form in ("text", "md", "html", "csv", "json"):
        done = run(tmp_path, ["design", "brief.toml", "--format", form])
        assert (done.code, steering(done.out + done.err)) == (0, "")
