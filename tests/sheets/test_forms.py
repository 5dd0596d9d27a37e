"""Every form of a sheet says the same: text, Markdown, page, JSON, CSV and workbook, read back."""

import csv
import io
import itertools
import json
import re
from functools import cache
from html.parser import HTMLParser

import pytest
from openpyxl import load_workbook

from optiform.brief.models import Brief
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.sheets import Make, Offer, Supplier, make_sheet, shopping, unit_from
from optiform.views.data import csv_table
from optiform.views.data.json_document import document
from optiform.views.data.sheet_xlsx import shopping_workbook, workbook
from optiform.views.render import markdown, page, text
from optiform.views.results.sheet import plan_blocks, sheet_blocks
from optiform.views.results.sheet_rows import sheet_rows, shopping_rows
from optiform.views.words.blocks import Heading, Table
from tests.sheets.live import value
from tests.sheets.test_sheet import GEL

SPRING = {"title": "Spring"}

STARTER = load_library()
UNIT = unit_from({"unit": {
    "contents_ml": 200, "density": 1.02, "labour_h": 3, "labour_rate": 18, "shelf_price": 14.0, "batches_g": [5000.0],
    "packaging": [{"name": "bottle", "price": 0.98, "rejects_percent": 2}], "tests_per_batch": 60.0,
}})  # fmt: skip
PARTS = ("batch", "label", "cost", "shopping")


@pytest.fixture(scope="module")
def sheet():
    return make_sheet(GEL, STARTER, 2500.0, unit=UNIT)


@pytest.fixture(scope="module")
def book(sheet):
    return load_workbook(io.BytesIO(workbook(sheet)))


def rows_of(written):
    return list(csv.DictReader(io.StringIO(written)))


@cache
def one(part):
    return make_sheet(GEL, STARTER, 2500.0, unit=UNIT, parts=(part,))


def test_json_is_the_sheet_to_the_last_digit(sheet):
    read = json.loads(document("sheet", (sheet, ())))
    assert read["question"] == "sheet"
    assert read["schema"] == 2
    batch = read["sheet"]["batch"]["batch"]
    assert {line["material"]: line["grams"] for line in batch["lines"]} == {
        line.material: line.grams for line in sheet.batch.batch.lines
    }
    assert read["sheet"]["cost"]["total"] == sheet.cost.total
    assert read["sheet"]["shopping"]["cash"] == sheet.shopping.cash
    assert [line["name"] for line in read["sheet"]["label"]["lines"]] == [
        line.name for line in sheet.label.lines
    ]
    assert tuple(read["cautions"]) == sheet.cautions


def test_the_csv_of_each_part_reads_back(sheet):
    batch = rows_of(csv_table.table(*sheet_rows(one("batch"))))
    assert {row["material"]: float(row["grams"]) for row in batch} == {
        line.material: line.grams for line in sheet.batch.batch.lines
    }
    assert sum(float(row["weighed_percent"]) for row in batch) == pytest.approx(100.0)
    assert all(
        row[blank] == ""
        for row in batch
        for blank in ("lot", "expiry", "actual_g", "weighed_by", "checked_by")
    )
    label = rows_of(csv_table.table(*sheet_rows(one("label"))))
    assert [(row["name"], float(row["percent"])) for row in label] == [
        (n.name, n.percent) for n in sheet.label.lines
    ]
    cost = rows_of(csv_table.table(*sheet_rows(one("cost"))))
    assert cost[-1]["part"] == "total"
    assert float(cost[-1]["per_unit"]) == sheet.cost.total
    assert sum(float(row["per_unit"]) for row in cost[:-1]) == pytest.approx(sheet.cost.total)
    bought = rows_of(csv_table.table(*sheet_rows(one("shopping"))))
    assert sum(float(row["cash"]) for row in bought) == pytest.approx(sheet.shopping.cash)
    assert sum(float(row["left_value"]) for row in bought) == pytest.approx(sheet.shopping.left_value)


def test_the_csv_of_all_parts_names_part_item_and_field(sheet):
    rows = rows_of(csv_table.table(*sheet_rows(sheet)))
    assert {row["part"] for row in rows} == {*PARTS, "cautions"}
    assert tuple(row["value"] for row in rows if row["part"] == "cautions") == sheet.cautions
    found = {(row["part"], row["item"], row["field"]): row["value"] for row in rows}
    assert float(found["batch", "xanthan-gum", "grams"]) == sheet.batch.batch.line("xanthan-gum").grams
    assert float(found["cost", "total", "per_unit"]) == sheet.cost.total


def weigh_rows(page):
    for row in range(8, page.max_row + 1):
        if page.cell(row, 2).value:
            yield row


def test_the_workbook_weighs_as_the_json_does(sheet, book):
    page = book["Weigh"]
    grams = {page.cell(row, 2).value: value(page, f"F{row}") for row in weigh_rows(page)}
    assert grams == {line.material: pytest.approx(line.grams, abs=1e-6) for line in sheet.batch.batch.lines}
    total = max(weigh_rows(page)) + 1
    assert value(page, f"F{total}") == pytest.approx(2500.0)
    assert value(page, f"D{total}") == pytest.approx(100.0)
    assert value(book["Record"], "A2") == ""


@pytest.mark.parametrize(("batch_g", "balance_g"), [(5000, 0.01), (333, 0.01), (250, 0.1), (1234.5, 0.5)])
def test_another_batch_size_recalculates_every_gram(sheet, batch_g, balance_g):
    book = load_workbook(io.BytesIO(workbook(sheet)))
    page = book["Weigh"]
    page["B2"], page["B3"] = batch_g, balance_g
    lines = {line.material: line for line in sheet.batch.batch.lines}
    grams = {page.cell(row, 2).value: value(page, f"F{row}") for row in weigh_rows(page)}
    assert sum(grams.values()) == pytest.approx(batch_g)
    for name, weighed in grams.items():
        assert weighed / balance_g == pytest.approx(round(weighed / balance_g), abs=1e-6)
        if name != "water":
            assert weighed == pytest.approx(
                lines[name].weighed_percent * batch_g / 100, abs=balance_g / 2 + 1e-6
            )
    light = [page.cell(row, 2).value for row in weigh_rows(page) if value(page, f"G{row}") == "too light"]
    assert light == [name for name, weighed in grams.items() if weighed < balance_g / 2 / 0.02]
    assert "make a new sheet" in value(book["Record"], "A2")


def cells(page):
    return [cell.value for row in page.iter_rows() for cell in row if cell.value is not None]


def test_label_cost_and_shopping_of_the_workbook_are_those_of_the_sheet(sheet, book):
    assert sheet.label.listed.text in cells(book["Label"])
    percents = {
        row[1]: row[4] for row in book["Label"].iter_rows(values_only=True) if isinstance(row[0], int)
    }
    assert percents == {line.name: pytest.approx(line.percent, rel=1e-14) for line in sheet.label.lines}
    costs = {row[0]: row[1] for row in book["Unit cost"].iter_rows(values_only=True)}
    assert costs["total"] == pytest.approx(sheet.cost.total, rel=1e-14)
    assert costs["contents"] == pytest.approx(sheet.cost.parts[0].per_unit, rel=1e-14)
    page = book["Shopping"]
    place = next(row for row in range(1, page.max_row + 1) if page.cell(row, 2).value == "total")
    assert value(page, f"J{place}") == pytest.approx(sheet.shopping.cash)
    assert value(page, f"L{place}") == pytest.approx(sheet.shopping.left_value)


def seen(book):
    """The names of the worksheets that a reader sees."""
    return [page.title for page in book.worksheets if page.sheet_state == "visible"]


def test_every_worksheet_and_every_form_carries_the_cautions(sheet, book):
    for name in seen(book):
        assert set(sheet.cautions) <= set(map(str, cells(book[name]))), name
    shown = " ".join(text.render(sheet_blocks(sheet)).split())
    marked = markdown.render(sheet_blocks(sheet)).replace("\\", "")
    html = page.render(sheet_blocks(sheet), sheet.title).replace("\N{NO-BREAK SPACE}", " ")
    for caution in sheet.cautions:
        assert caution in shown
        assert caution in marked
        assert caution in html
    for part in PARTS:
        assert "Before you start" in text.render(sheet_blocks(one(part)))


def test_the_record_in_the_workbook_has_steps_and_blanks(sheet, book):
    told = " ".join(map(str, cells(book["Record"])))
    for step in sheet.batch.procedure.steps:
        assert step.what in told
    for part in (*sheet.batch.before, *sheet.batch.after):
        assert part.title in told


def test_a_workbook_is_the_same_on_every_run_and_holds_no_foreign_formula(sheet):
    assert workbook(sheet) == workbook(sheet)
    evil = [m.model_copy(update={"name": "=1+1"}) if m.id == "glycerin" else m for m in STARTER.materials]
    library = STARTER.model_copy(update={"materials": tuple(evil)})
    book = load_workbook(io.BytesIO(workbook(make_sheet(GEL, library, 1000.0))))
    for name in book.sheetnames:
        for row in book[name].iter_rows():
            for cell in row:
                assert cell.value != "=1+1" or cell.data_type == "s"


def test_text_fits_eighty_columns_and_forty(sheet):
    for width in (40, 80, 120):
        lines = text.render(sheet_blocks(sheet), text.Screen(width)).splitlines()
        assert max(map(len, lines)) <= width
    assert "  material" in text.render(sheet_blocks(sheet))


def test_text_shows_grams_with_the_digits_of_the_balance(sheet):
    shown = text.render(sheet_blocks(sheet))
    for line in sheet.batch.batch.lines:
        assert re.search(rf"{re.escape(line.name[:12])}.*\b{line.grams:.2f}\b", shown), line.name


class Reader(HTMLParser):
    def __init__(self):
        super().__init__()
        self.cells, self.inside = [], False

    def handle_starttag(self, tag, attributes):
        self.inside = tag in ("td", "th")

    def handle_data(self, data):
        if self.inside:
            self.cells.append(data.strip())


def test_the_page_reads_back(sheet):
    reader = Reader()
    reader.feed(page.render(sheet_blocks(sheet), sheet.title))
    for line in sheet.batch.batch.lines:
        assert f"{line.grams:.2f}" in reader.cells
    for line in sheet.label.lines:
        assert any(cell.removesuffix(" *") == line.name for cell in reader.cells)
    assert f"{sheet.cost.total:.2f}" in reader.cells


def test_a_shopping_list_in_every_form():
    found = shopping([Make(title="gel", lines=GEL.lines, batch_g=5000.0)], STARTER).model_copy(
        update={"title": "Spring"}
    )
    cautions = ("Wear goggles.",)
    shown = text.render(plan_blocks(found, cautions))
    assert f"Money out {found.cash:.2f} EUR" in shown
    assert "Wear goggles." in shown
    read = json.loads(document("shop", (found, cautions)))
    assert read["shopping"]["cash"] == found.cash
    assert read["cautions"] == ["Wear goggles."]
    assert sum(
        float(row["cash"]) for row in rows_of(csv_table.table(*shopping_rows(found)))
    ) == pytest.approx(found.cash)
    book = load_workbook(io.BytesIO(shopping_workbook(found, cautions)))
    assert "Wear goggles." in cells(book["Shopping"])


def test_figures_of_the_text_add_up_as_printed(sheet):
    """Shares and parts are rounded one by one; their printed sum is within half a unit each of the total."""
    shown = text.render(sheet_blocks(one("cost")))
    rows = re.findall(r"^  (contents|packaging|labour|tests|overhead) +(\d+\.\d\d) +(\d+)", shown, re.M)
    total = float(re.search(r"^  total +(\d+\.\d\d)", shown, re.M)[1])
    assert len(rows) == 5
    assert abs(sum(float(row[1]) for row in rows) - total) <= 0.025 + 1e-9
    assert abs(sum(int(row[2]) for row in rows) - 100) <= 2


@pytest.mark.parametrize("width", [80, 120])
def test_the_parts_of_each_batch_size_add_up_as_printed(sheet, width):
    """No part is left out where the screen is narrow: what is shown must make up the total."""
    shown = text.render(sheet_blocks(one("cost")), text.Screen(width))
    below = shown.partition("Other batch sizes")[2].partition("Contents by material")[0]
    rows = [line.split() for line in below.splitlines() if re.match(r" +\d", line)]
    assert [float(row[0]) for row in rows] == [2500.0, 5000.0]
    for row in rows:
        *parts, total = map(float, row[2:8])
        assert len(parts) == 5
        assert abs(sum(parts) - total) <= 0.03


def test_a_shopping_list_adds_up_as_printed_with_stock_delivery_and_what_is_left():
    """On eighty columns: every column is there, and each sum under it is that of the summary."""
    offers = [
        Offer(material="decyl-glucoside", size_g=250.0, price=2.20, supplier="north quay supply"),
        Offer(material="decyl-glucoside", size_g=1000.0, price=6.40, supplier="north quay supply"),
        Offer(material="xanthan-gum", size_g=250.0, price=3.90, supplier="harbour chemicals"),
    ]
    suppliers = [Supplier(name="north quay supply", delivery=6.5)]
    stock = {"glycerin": None, "xanthan-gum": 30.0}
    make = Make(title="gel", lines=GEL.lines, batch_g=18000.0)
    found = shopping([make], STARTER, stock=stock, offers=offers, suppliers=suppliers).model_copy(
        update={"title": "Spring"}
    )
    shown = text.render(plan_blocks(found, ()))
    head = next(line for line in shown.splitlines() if "left g" in line)
    for title in ("need g", "shelf g", "buy", "EUR", "worth"):
        assert title in head
    blocks = {block.caption: block for block in plan_blocks(found, ()) if isinstance(block, Table)}
    table = blocks["What to buy"]
    for title, sum_of in (("EUR", found.cash), ("worth", found.left_value)):
        place = [column.title for column in table.columns].index(title)
        figures = [float(row[place]) for row in table.rows if row[place] not in ("", "-")]
        assert float(table.total[place]) == pytest.approx(sum_of, abs=0.005)
        assert sum(figures) == pytest.approx(sum_of, abs=0.005 * len(figures))
    assert any(row[0] == "Delivery, north quay supply" and "6.50" in row for row in table.rows)


def test_a_pack_is_never_parted_at_the_end_of_a_line():
    found = shopping([Make(title="gel", lines=GEL.lines, batch_g=18000.0)], STARTER).model_copy(
        update={"title": "Spring"}
    )
    packs = [pack for line in found.lines for pack in line.packs]
    for width in (40, 80):
        shown = text.render(plan_blocks(found, ()), text.Screen(width))
        for pack in packs:
            assert f"{pack.packs} × {pack.offer.size_g:.0f} g" in shown


def test_little_is_never_shown_as_nothing():
    found = shopping([Make(title="trial", lines=GEL.lines, batch_g=5.0)], STARTER)
    (table,) = (block for block in plan_blocks(found, ()) if isinstance(block, Table))
    place = [column.title for column in table.columns].index("need g")
    needed = {row[0]: row[place] for row in table.rows}
    assert needed["Xanthan gum, clear grade"] == "0.04"
    assert all(float(figure) > 0 for figure in needed.values())


def test_each_material_has_its_own_place_for_lot_expiry_weight_and_both_names(sheet):
    tables = [block for block in sheet_blocks(one("batch")) if isinstance(block, Table)]
    (table,) = [table for table in tables if table.caption == "What to weigh"]
    titles = [column.title for column in table.columns]
    assert titles[-5:] == ["actual g", "lot", "expiry", "weighed", "checked"]
    for row in table.rows:
        assert all(cell and not cell.strip("_") for cell in row[-5:])
    head = next(line for line in text.render(sheet_blocks(sheet)).splitlines() if "target g" in line)
    assert all(title in head for title in titles[-5:])


def test_what_is_filled_in_by_hand_is_an_empty_cell_of_a_form_on_the_page(sheet):
    html = page.render(sheet_blocks(one("batch")), sheet.title)
    body = html.partition("What to weigh</caption>")[2].partition("</tbody>")[0]
    assert len(re.findall(r'<td class="blank"[^>]*></td>', body)) == 5 * len(sheet.batch.batch.lines)
    assert not re.search(r"<td[^>]*>____", html)


def test_a_unit_stays_on_the_line_of_its_blank(sheet):
    blocks = sheet_blocks(one("batch"))
    for width in range(40, 121, 8):
        for line in text.render(blocks, text.Screen(width)).splitlines():
            assert not re.match(r" *(C|rpm);", line), line
    assert "Temperature ______ C; Speed ______ rpm; By ______" in text.render(sheet_blocks(sheet))


def test_headings_go_down_one_level_at_a_time_and_no_table_repeats_its_heading(sheet):
    plan = shopping([Make(title="gel", lines=GEL.lines, batch_g=5000.0)], STARTER).model_copy(
        update={"title": "Spring"}
    )
    for blocks in (sheet_blocks(sheet), plan_blocks(plan, ())):
        levels = [block.level for block in blocks if isinstance(block, Heading)]
        assert levels[0] == 1
        assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
        for heading, table in itertools.pairwise(blocks):
            if isinstance(heading, Heading) and isinstance(table, Table):
                same = heading.text.startswith(table.caption)
                assert not same or heading.text == table.caption


def test_every_form_says_what_the_formula_breaks_and_which_conditions_come_with_it():
    """Too little acid for benzoate, and triethanolamine, of which Annex III/62 asks a purity."""
    lines = (("water", 84.0), ("cocamidopropyl-betaine-30", 14.0), ("sodium-benzoate", 0.5),
             ("triethanolamine-99", 1.5))  # fmt: skip
    broken = make_sheet(TypedFormula("broken", lines, 100.0), STARTER, 1000.0)
    assert broken.breaks
    (condition,) = (c for c in broken.label.conditions if "Triethanolamine" in c.substances)
    rows = rows_of(csv_table.table(*sheet_rows(broken)))
    assert tuple(row["value"] for row in rows if row["part"] == "breaks") == broken.breaks
    book = load_workbook(io.BytesIO(workbook(broken)))
    for name in seen(book):
        assert set(broken.breaks) <= set(map(str, cells(book[name]))), name
    assert any(condition.text in str(cell) for cell in cells(book["Label"]))
    shown = " ".join(text.render(sheet_blocks(broken)).split())
    assert condition.text in shown
    assert all(words in shown for words in broken.breaks)


@pytest.mark.parametrize(("law", "title", "first"), [("EU", "US name", ("Aqua", "Water")),
                                                     ("US", "INCI name", ("Water", "Aqua"))])  # fmt: skip
def test_the_name_of_the_other_side_stands_beside_the_one_on_the_label(law, title, first):
    asked = Brief(title="gel", library=STARTER, law=law)
    made = make_sheet(GEL, STARTER, 2500.0, brief=asked, parts=("label",))
    table = next(block for block in sheet_blocks(made) if isinstance(block, Table))
    assert [column.title for column in table.columns][:2] == ["name", title]
    assert table.rows[0][:2] == first
