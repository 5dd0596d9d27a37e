"""What a reader of a recost sees, and how the command ends."""

from __future__ import annotations

import json

import pytest

from optiform.answers.recost import Recosted, Recosting
from optiform.cli import main
from optiform.views.data import csv_table
from optiform.views.render.text import Screen, render
from optiform.views.results.recost import recost_blocks, rows
from tests.answers.recost.products import folder, prices

CHANGE = (("nettle-soap", 20.0, 12.5),)


def product(name, outcome, kind="brief", title="", currency="EUR", **more):
    return Recosted(f"key {name}", name, kind, outcome, title, currency, **more)


def shown(*products, **more):
    return " ".join(render(recost_blocks(Recosting(products, **more)), Screen(width=80)).split())


def test_a_summary_counts_every_product_once():
    text = shown(
        product("a.toml", "kept"),
        product("b.toml", "adjusted", changes=CHANGE),
        product("c.toml", "adjusted", changes=CHANGE),
        product("d.csv", "kept", kind="formula"),
        product("e.toml", "fault", faults=("e.toml: torn",)),
    )
    assert (
        "5 products. The same formula stays best: 1; other amounts of the same choices are best now: 2;"
        in text
    )
    assert "could not be used: 1; priced as it is: 1." in text
    assert "b.toml before now nettle-soap 20.00 12.50" in text
    assert "e.toml: torn" in text


def test_products_of_one_title_are_told_apart_by_their_files():
    text = shown(*(product(f"{name}.toml", "kept", title="Nettle") for name in "ab"))
    assert "Nettle (a.toml)" in text and "Nettle (b.toml)" in text


def test_several_currencies_stand_in_their_rows_and_are_pointed_out():
    one, other = product("a.toml", "kept"), product("b.toml", "kept", currency="NOK")
    assert "all costs in EUR/kg" in shown(one) and "different currencies" not in shown(one)
    text = shown(one, other)
    assert "all costs in currency of the library/kg" in text
    assert "NOK" in text and "different currencies" in text


def test_what_had_no_part_is_named_up_to_ten():
    text = shown(
        product("a.toml", "kept"),
        unknown=(("nettle-sop", "nettle-soap"), ("moon", "")),
        passed_over=tuple(f"{number}.csv" for number in range(12)),
    )
    assert "nettle-sop (did you mean nettle-soap?), moon." in text
    assert "9.csv and 2 more." in text
    text = " ".join(shown(product("a.toml", "kept"), plans=("spring.toml",)).split())
    assert "a plan, whose briefs and formulas count by themselves: spring.toml." in text


def test_a_row_of_the_table_has_what_breaks():
    table = csv_table.table(*rows([product("a.toml", "broken", breaks=("cost at most 2 EUR/kg",))]))
    assert table.splitlines()[1].endswith(",cost at most 2 EUR/kg,,,,")


@pytest.mark.parametrize(("slip", "code"), [("", 0), ("title = [", 2)])
def test_the_exit_code_tells_of_files_that_could_not_be_used(tmp_path, capsys, slip, code):
    root = folder(tmp_path / "products", 2)
    if slip:
        (root / "slip.toml").write_text(slip, encoding="utf-8")
    words = ["recost", str(root), "--prices", str(prices(root, nettle_soap=5.0, moon=1.0)), "--workers", "1"]
    assert main([*words, "--library", str(root / "library"), "--format", "json"]) == code
    found = json.loads(capsys.readouterr().out)
    assert len(found["products"]) == 3 + bool(slip)
    assert found["unknown"] == [["moon", ""]] and found["passed_over"] == []
