"""A library in one workbook reads like a folder, and its faults name sheet, row and column."""

import datetime
import zipfile

import openpyxl
import pytest

from optiform.library import load_library
from tests.library.on_disk import (
    COMPOSITION,
    MATERIALS,
    SUBSTANCES,
    TOML,
    as_rows,
    faults_in,
    only_fault,
    write_folder,
    write_xlsx,
)


def sheets(**changed):
    tables = {"materials": MATERIALS, "substances": SUBSTANCES, "composition": COMPOSITION}
    rows = {name: as_rows(text) for name, text in tables.items()}
    return {**rows, **changed}


def write_book(folder, **changed):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "library.toml").write_text(TOML, encoding="utf-8")
    return write_xlsx(folder / "quay.xlsx", sheets(**changed))


def changed_cell(text, row, column, value):
    rows = as_rows(text)
    rows[row - 1][rows[0].index(column)] = value
    return rows


def test_workbook_reads_like_the_folder(tmp_path):
    book = load_library(write_book(tmp_path / "book"))
    folder = load_library(write_folder(tmp_path / "folder"))
    assert book.model_copy(update={"folder": ""}) == folder.model_copy(update={"folder": ""})


def test_folder_that_holds_one_workbook_and_no_tables(tmp_path):
    write_book(tmp_path)
    assert len(load_library(tmp_path).materials) == 5


def test_toml_must_stand_beside_the_workbook(tmp_path):
    path = write_book(tmp_path)
    (tmp_path / "library.toml").unlink()
    assert only_fault(path).file == str(tmp_path / "library.toml")


def test_faults_name_sheet_row_and_column(tmp_path):
    path = write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "price", "dear"))
    fault = only_fault(path)
    assert fault.file == str(path)
    assert fault.place == "sheet materials, row 3, column price"


def test_numbers_typed_as_text_with_a_comma(tmp_path):
    fault = only_fault(write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "price", "8,5")))
    assert fault.nearest == "8.5"


@pytest.mark.parametrize("value", [True, datetime.date(2024, 5, 2)])
def test_cells_of_another_kind_are_no_numbers(tmp_path, value):
    fault = only_fault(write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "price", value)))
    assert "is not a number" in fault.message


def test_error_cell(tmp_path):
    path = write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "max_use", "#DIV/0!"))
    fault = only_fault(path)
    assert fault.place == "sheet materials, row 3, column max_use"
    assert "#DIV/0!" in fault.message


def test_formula_that_was_never_calculated(tmp_path):
    path = write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "max_use", "=5+5"))
    fault = only_fault(path)
    assert fault.place == "sheet materials, row 3, column max_use"
    assert "never calculated" in fault.message


def test_formula_gives_the_value_last_calculated(tmp_path):
    """The cached value of a formula cell, as a spreadsheet program saves it, is put in by hand."""
    path = write_book(tmp_path, materials=changed_cell(MATERIALS, 3, "max_use", "=5+7"))
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = next(name for name, data in parts.items() if b"<f>5+7</f>" in data)
    for empty in (b"<v></v>", b"<v />", b"<v/>"):
        parts[sheet] = parts[sheet].replace(b"<f>5+7</f>" + empty, b"<f>5+7</f><v>12</v>")
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    assert load_library(path).material["nettle"].max_use == 12.0


def test_other_sheets_are_left_alone_but_near_misses_are_not(tmp_path):
    assert load_library(write_book(tmp_path / "a", notes=[["whatever", "#REF!"]]))
    fault = only_fault(write_book(tmp_path / "b", trial=[["base"]]))
    assert (fault.message, fault.nearest) == ("unknown sheet trial", "trials")


def test_blank_rows_and_columns_around_the_table(tmp_path):
    rows = as_rows(COMPOSITION)
    rows = [row + [None] * 3 for row in rows[:3]] + [[None] * 8] + rows[3:] + [[None]] * 5
    assert len(load_library(write_book(tmp_path, composition=rows)).parts) == 7


def test_files_that_are_no_workbook(tmp_path):
    path = write_book(tmp_path)
    path.write_bytes(b"id,name\n")
    assert "no workbook" in only_fault(path).message
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
    assert "password-protected" in only_fault(path).message
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("hello.txt", "hello")
    assert "no workbook" in only_fault(path).message


def test_damaged_workbook(tmp_path):
    path = write_book(tmp_path)
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("xl/workbook.xml", "<broken")
    assert "damaged" in only_fault(path).message


def test_missing_sheet(tmp_path):
    path = write_book(tmp_path)
    book = openpyxl.load_workbook(path)
    del book["substances"]
    book.save(path)
    assert [fault.message for fault in faults_in(path)] == ["the sheet substances is missing"]
