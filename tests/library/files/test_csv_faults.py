"""Every fault of a CSV file is named with its place, and all of them at once."""

from dataclasses import replace

import pytest

from optiform.faults import Faults
from optiform.library import load_library
from optiform.library.files.csv_tables import read_csv
from optiform.library.reading import table_columns
from tests.library.on_disk import COMPOSITION, MATERIALS, SUBSTANCES, faults_in, only_fault, write_folder


def test_the_sound_library_loads(tmp_path):
    library = load_library(write_folder(tmp_path))
    assert [material.id for material in library.materials] == ["water", "nettle", "betaine", "gum", "acid"]
    assert library.substance["Citric Acid"].pka == (3.128, 4.761, 6.396)
    assert library.material["betaine"].tags == ("coconut", "palm?")
    assert library.composition["betaine"][0].high == 32.0
    assert library.material["nettle"].pH_min is None


def test_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    marked = b"\xef\xbb\xbf" + MATERIALS.replace("\n", "\r\n").encode()
    assert load_library(write_folder(tmp_path, materials=marked)).material["gum"].price == 14.0


def test_blank_rows_are_left_out_and_do_not_shift_the_row_numbers(tmp_path):
    text = MATERIALS.replace("nettle,Nettle", ",,,,,,,,\n\nnettle,Nettle").replace(
        "extract,8,", "extract,cheap,"
    )
    fault = only_fault(write_folder(tmp_path, materials=text))
    assert fault.place == "row 5, column price"


def test_cell_that_is_no_number(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace("extract,8,", "extract,dear,")))
    assert fault.file.endswith("materials.csv")
    assert fault.place == "row 3, column price"
    assert "'dear'" in fault.message
    assert fault.allowed == "a number from 0 to 1e+09"


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1_000", "1e999", "0x10", "1 000", "٣"])
def test_numbers_are_plain_finite_decimals(tmp_path, text):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace("extract,8,", f"extract,{text},")))
    assert fault.place == "row 3, column price"
    assert "not a number" in fault.message


@pytest.mark.parametrize(("text", "nearest"), [("8,5", "8.5"), ("1.234,5", "1234.5")])
def test_decimal_comma_is_recognised(tmp_path, text, nearest):
    fault = only_fault(
        write_folder(tmp_path, materials=MATERIALS.replace("extract,8,", f'extract,"{text}",'))
    )
    assert "decimal comma" in fault.message
    assert fault.nearest == nearest


def test_number_out_of_its_range(tmp_path):
    text = MATERIALS.replace("extract,8,", "extract,-8,").replace("14,0.1,2", "14,0.1,200")
    low, high = faults_in(write_folder(tmp_path, materials=text))
    assert (low.place, low.message, low.allowed) == (
        "row 3, column price",
        "'-8' is not allowed",
        "a number from 0 to 1e+09",
    )
    assert high.place == "row 5, column max_use"
    assert high.allowed == "a number above 0, up to 100"


def test_unknown_function_names_the_nearest(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace(",surfactant,", ",surfactent,")))
    assert fault.place == "row 4, column function"
    assert fault.nearest == "surfactant"
    assert "thickener" in fault.allowed


def test_unknown_further_function_and_handling_words(tmp_path):
    text = MATERIALS.replace("id,name,", "id,also,handling,name,")
    text = "\n".join(
        line if line.startswith("id") else line.replace(",", ",,,", 1) for line in text.splitlines()
    ).replace("gum,,,", "gum,humectant chelater,slurry sprinkel,")
    also, handling = faults_in(write_folder(tmp_path, materials=text))
    assert (also.place, also.nearest) == ("row 5, column also", "chelator")
    assert (handling.place, handling.nearest) == ("row 5, column handling", "sprinkle")


def test_bad_id(tmp_path):
    faults = faults_in(
        write_folder(tmp_path, materials=MATERIALS.replace("nettle,Nettle", "Nettle Leaf,Nettle"))
    )
    assert faults[0].place == "row 3, column id"
    assert "lower case" in faults[0].allowed


def test_empty_cell_where_one_is_needed(tmp_path):
    fault = only_fault(write_folder(tmp_path, materials=MATERIALS.replace("extract,8,", "extract,,")))
    assert (fault.place, fault.message) == ("row 3, column price", "the cell is empty")


def test_missing_and_misspelt_columns(tmp_path):
    text = MATERIALS.replace("price,", "prise,").replace(",tags", ",colour")
    missing_price = faults_in(write_folder(tmp_path, materials=text))
    assert [(f.place, f.message, f.nearest) for f in missing_price] == [
        ("row 1", "unknown column 'prise'", "price"),
        ("row 1", "unknown column 'colour'", ""),
        ("row 1", "column 'price' is missing", ""),
    ]
    assert "max_use" in missing_price[1].allowed


def test_repeated_column(tmp_path):
    fault = only_fault(write_folder(tmp_path, composition=COMPOSITION.replace(",low,high", ",low,low")))
    assert fault.message == "column 'low' appears 2 times"


def test_ragged_rows(tmp_path):
    text = COMPOSITION.replace("gum,Xanthan Gum,100,,", "gum,Xanthan Gum,100").replace("70,,", "70,,,,")
    long, short = faults_in(write_folder(tmp_path, composition=text))
    assert (long.place, short.place) == ("row 6", "row 7")
    assert "7 cells, but the header has 5 columns" in long.message
    assert "3 cells" in short.message


def test_faulty_rows_bring_no_further_faults_about_their_names(tmp_path):
    """A material whose own row is wrong is not unknown to its composition."""
    text = MATERIALS.replace("gum,Xanthan gum,thickener,14,0.1,2,,,gum", "gum,Xanthan gum,thickener,14")
    fault = only_fault(write_folder(tmp_path, materials=text))
    assert fault.place == "row 5"


def test_all_faults_of_all_files_are_raised_together_in_order(tmp_path):
    folder = write_folder(
        tmp_path,
        toml='name = "Quay"\ncurency = "EUR"\n',
        materials=MATERIALS.replace("extract,8,", "extract,dear,").replace("0.1,2,", "0.1,lots,"),
        substances=SUBSTANCES.replace(",80,", ",180,"),
        composition=COMPOSITION.replace("betaine,Aqua,70", "betaine,Aqa,70"),
    )
    places = [(fault.file.rsplit("/", 1)[-1], fault.place) for fault in faults_in(folder)]
    assert places == [
        ("library.toml", "key curency"),
        ("materials.csv", "row 3, column price"),
        ("materials.csv", "row 5, column max_use"),
        ("substances.csv", "row 4, column mildness"),
        ("composition.csv", "row 6, column inci"),
    ]


def test_wrong_encoding_names_byte_and_row_and_reads_on(tmp_path):
    text = MATERIALS.replace("Nettle extract", "Nettle extrait, pr\xe9").replace(
        ",extract,8", ",extract,dear"
    )
    text = text.replace("Nettle extrait, pr\xe9", '"Nettle, s\xe9ch\xe9e"')
    encoding, number = faults_in(write_folder(tmp_path, materials=text.encode("cp1252")))
    assert encoding.place == "row 3"
    assert "byte 18 of the row (0xE9, perhaps 'é')" in encoding.message
    assert "UTF-8" in encoding.allowed
    assert number.place == "row 3, column price"


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"PK\x03\x04rest", "workbook"),
        (b"%PDF-1.7\n", "PDF"),
        ("id,name".encode("utf-16"), "UTF-16"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "password-protected"),
        (b"id,name\n\x00\x01", "NUL"),
        (b"", "empty"),
        (b"\n\n \n", "empty"),
        (b"Dear suppliers,\nthanks for the prices\n", "not the materials table"),
        (b"\x93\x81\xfe\xd2 binary", "not the materials table"),
    ],
)
def test_files_of_another_kind_are_refused(tmp_path, data, what):
    fault = only_fault(write_folder(tmp_path, materials=data))
    assert fault.file.endswith("materials.csv")
    assert what in fault.message


def test_nul_byte_far_down_names_its_row(tmp_path):
    row = b"gum,Xanthan Gum,100,,\n"
    data = COMPOSITION.encode() + 5000 * row + b"gum,Xanthan\x00Gum,1,,\n"
    fault = only_fault(write_folder(tmp_path, composition=data))
    assert fault.place == f"row {COMPOSITION.count(chr(10)) + 5001}"
    assert "NUL" in fault.message


def test_large_file_of_another_kind_is_refused_before_it_is_read(tmp_path):
    folder = write_folder(tmp_path)
    with (folder / "composition.csv").open("wb") as out:
        out.write(b"nothing like a table\n")
        out.truncate(100_000_000)
    assert only_fault(folder).message == "100 MB is too large"


def test_semicolons_are_one_fault_with_the_decimal_commas_that_come_with_them(tmp_path):
    text = MATERIALS.replace(",", ";").replace("3.4", "3,4").replace("0.05", "0,05")
    fault = only_fault(write_folder(tmp_path, materials=text))
    assert fault.place == "row 1"
    assert "semicolons" in fault.message


def test_other_faults_of_a_semicolon_file_are_found_too(tmp_path):
    text = MATERIALS.replace(",surfactant,", ",surfactent,").replace(",", ";")
    separator, function = faults_in(write_folder(tmp_path, materials=text))
    assert "semicolons" in separator.message
    assert function.place == "row 4, column function"


def test_unclosed_quote_is_named_and_the_rows_after_it_are_judged(tmp_path):
    text = MATERIALS.replace("Nettle extract", '"Nettle extract').replace("14,0.1", "fourteen,0.1")
    quote, number = faults_in(write_folder(tmp_path, materials=text))
    assert quote.place == "row 3"
    assert "never closed" in quote.message
    assert number.place == "row 5, column price"


def test_stray_quote(tmp_path):
    faults = faults_in(
        write_folder(tmp_path, materials=MATERIALS.replace("Nettle extract", '"Nettle" extract'))
    )
    assert faults[0].place == "row 3"
    assert "stray quote" in faults[0].message


def test_quoted_commas_and_line_breaks_are_part_of_a_text(tmp_path):
    library = load_library(
        write_folder(tmp_path, materials=MATERIALS.replace("Nettle extract", '"Nettle,\nleaf ""A"""'))
    )
    assert library.material["nettle"].name == 'Nettle,\nleaf "A"'


def test_cells_beside_the_table_are_a_fault_and_empty_ones_are_not(tmp_path):
    lines = COMPOSITION.splitlines()
    assert load_library(write_folder(tmp_path / "a", composition="\n".join(line + "," for line in lines)))
    beside = [line + ("," if i != 2 else ",note") for i, line in enumerate(lines)]
    fault = only_fault(write_folder(tmp_path / "b", composition="\n".join(beside)))
    assert (fault.place, fault.message) == ("row 3", "'note' stands below no heading")


def test_missing_tables_and_misspelt_file_names(tmp_path):
    folder = write_folder(tmp_path, substances=None)
    (folder / "substance.csv").write_text(SUBSTANCES)
    unknown, missing = faults_in(folder)
    assert (unknown.message, unknown.nearest) == ("unknown file substance.csv", "substances.csv")
    assert missing.message == "the file substances.csv is missing"


def test_missing_toml_is_a_fault_beside_the_others(tmp_path):
    toml, price = faults_in(
        write_folder(tmp_path, toml=None, materials=MATERIALS.replace("act,8,", "act,dear,"))
    )
    assert toml.file.endswith("library.toml")
    assert "missing" in toml.message
    assert price.place == "row 3, column price"


def test_no_such_library_names_the_nearest(tmp_path):
    write_folder(tmp_path / "quayside")
    fault = only_fault(tmp_path / "quaiside")
    assert fault.nearest == str(tmp_path / "quayside")


def test_file_that_is_no_library(tmp_path):
    (tmp_path / "notes.txt").write_text("hello")
    assert "neither a folder nor an .xlsx" in only_fault(tmp_path / "notes.txt").message


def test_long_list_of_unknown_names_is_listed_whole(tmp_path):
    rows = "".join(f"nettlee-{i},Aqua,100,,\n" for i in range(3000))
    faults = faults_in(write_folder(tmp_path, composition=COMPOSITION + rows))
    assert sum("no material" in fault.message for fault in faults) == 3000


@pytest.mark.parametrize(
    ("table", "most"), [("materials", 100_000), ("substances", 100_000), ("packs", 1_000_000)]
)
def test_a_table_is_as_long_as_it_says_and_no_longer(tmp_path, table, most):
    """The limits are our choice; the page on reliability states them."""
    columns = table_columns(table)
    assert columns.most == most
    path, faults = tmp_path / "short.csv", Faults()
    short = replace(columns, most=3)
    line = ",".join("x" for _ in columns.known) + "\n"
    for rows in (3, 4):
        path.write_text(",".join(columns.known) + "\n" + line * rows, encoding="utf-8")
        read_csv(path, short, faults)
    assert [fault.message for fault in faults.found] == ["the table has 4 rows"]
