"""What recost says of single products, on the starter library and on a small one."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from optiform.answers.design import design
from optiform.answers.recost import recosting
from optiform.brief import load_brief
from tests.answers.recost.products import folder, prices, recost

PROBLEMS = Path(__file__).parents[3] / "problems"
DEARER = (
    "material,price\nsodium-laureth-sulfate-70,9.00\ncoco-glucoside,4.80\ncocamidopropyl-betaine-30,5.00\n"
)
SURE = '\n[certainty]\nlots = "all"\n'


def by_name(results):
    return {result.name: result for result in results}


@pytest.fixture(scope="module")
def shipped(tmp_path_factory):
    """A brief that doses a pH on the starter library, the same for every lot, and dearer prices."""
    root = tmp_path_factory.mktemp("shelf") / "products"
    root.mkdir()
    (root.parent / "new.csv").write_text(DEARER, encoding="utf-8")
    text = (PROBLEMS / "spruce-shampoo" / "brief.toml").read_text(encoding="utf-8")
    first = re.sub(r"^how_many = \d+", "how_many = 1", text, flags=re.MULTILINE)
    assert first != text
    (root / "typical.toml").write_text(first, encoding="utf-8")
    (root / "sure.toml").write_text(first + SURE, encoding="utf-8")
    return root


@pytest.fixture(scope="module")
def found(shipped):
    return by_name(recost(shipped, shipped.parent / "new.csv", workers=2))


@pytest.mark.parametrize("name", ["typical.toml", "sure.toml"])
def test_two_processes_find_what_design_lists_first(shipped, found, name):
    """Also with a dosed pH, whose charge curves do not travel, and with a certainty, which has its price."""
    text = (shipped / name).read_text(encoding="utf-8")
    before = design(load_brief(shipped / name)).formulas[0]
    priced = shipped.parent / name
    priced.write_text('prices = "new.csv"\n' + text, encoding="utf-8")
    after = design(load_brief(priced)).formulas[0]
    assert found[name].faults == ()
    assert found[name].cost_before == pytest.approx(before.cost, abs=1e-9)
    assert found[name].cost_after == pytest.approx(after.cost, abs=1e-9)
    assert (found[name].structure_before, found[name].structure_after) == (before.structure, after.structure)


def test_certainty_costs_here_what_it_costs_in_a_design(found):
    assert found["sure.toml"].cost_before > found["typical.toml"].cost_before + 1e-3


def test_other_amounts_are_no_formula_that_stays(tmp_path):
    """All three soaps at a mean of 60 points: above nettle soap at 2.0 a point costs 2.0/40 in quince soap and 1.2/20
    in linden soap, so quince soap brings them; at 8.0 it costs 6.0/40, and linden soap does."""
    root = folder(tmp_path / "products", 1)
    text = """title = "mixed"
library = "library"
law = "none"
[targets]
"active matter" = { at_least = 6.0, at_most = 9.0 }
mildness = { at_least = 60 }
[[include]]
material = "nettle-soap"
[[include]]
material = "linden-soap"
[[include]]
material = "quince-soap"
"""
    (root / "mixed.toml").write_text(text, encoding="utf-8")
    dear = by_name(recost(root, prices(root, quince_soap=8.0), library=root / "library"))["mixed.toml"]
    assert dear.outcome == "adjusted"
    assert dear.structure_before == dear.structure_after
    assert dear.changes and dear.saving > 0
    same = by_name(recost(root, prices(root, glycerin=9.0), library=root / "library"))["mixed.toml"]
    assert (same.outcome, same.changes, same.saving) == ("kept", (), 0.0)


def test_equal_costs_keep_the_old_formula(tmp_path):
    """At one price for equal soaps a solver may take either; a formula is never given up for nothing."""
    root = folder(tmp_path / "products", 1)
    library = root / "library"
    for name, row in (
        ("materials.csv", "twin,Twin soap,surfactant,2.5,1,60\n"),
        ("composition.csv", "twin,Nettle Soap,30\ntwin,Aqua,70\n"),
    ):
        with (library / name).open("a", encoding="utf-8") as file:
            file.write(row)
    (root / "plain.toml").write_text(
        'title = "plain"\nlibrary = "library"\nlaw = "none"\n[targets]\n"active matter" = { at_least = 6 }\n',
        encoding="utf-8",
    )
    for equal in ({"nettle_soap": 2.5}, {"twin": 2.0}):
        assert by_name(recost(root, prices(root, **equal), library=library))["plain.toml"].outcome == "kept"


def test_what_the_old_formula_breaks_is_named(tmp_path):
    """25 % of nettle soap at 2.0 costs 0.5; at 8.0 it costs 2.0, beyond its limit of 1.5; quince soap is 1.0."""
    root = folder(tmp_path / "products", 1)
    (root / "capped.toml").write_text(
        'title = "capped"\nlibrary = "library"\nlaw = "none"\n[targets]\n'
        '"active matter" = { at_least = 7.5, at_most = 7.5 }\ncost = { at_most = 1.5 }\n',
        encoding="utf-8",
    )
    found = by_name(recost(root, prices(root, nettle_soap=8.0), library=root / "library"))
    capped = found["capped.toml"]
    assert (capped.outcome, capped.breaks) == ("changed", ("cost at most 1.5 EUR/kg",))
    assert (capped.cost_before, capped.cost_same) == (pytest.approx(0.5), pytest.approx(2.0))
    assert capped.cost_after == pytest.approx(0.8), "25 % of linden soap at 3.2"


def test_a_formula_says_what_it_breaks(tmp_path):
    root = folder(tmp_path / "products", 1)
    (root / "short.csv").write_text("material,percent\nnettle-soap,70\nwater,20\n", encoding="utf-8")
    found = by_name(recost(root, prices(root, glycerin=2.0), library=root / "library"))
    assert found["today.csv"].breaks == ()
    said = " ".join(found["short.csv"].breaks)
    assert "add up to 90 %" in said and "nettle-soap at most 60 %" in said


def test_what_has_no_part_is_told(tmp_path):
    root = folder(tmp_path / "products", 1)
    (root / "unit.toml").write_text("[unit]\nmass_g = 200\n", encoding="utf-8")
    (root / "note.csv").write_text("day,what\n1,cooked\n", encoding="utf-8")
    new = prices(root, nettle_sop=5.0, linden_soap=5.0)
    found = recosting(root, new, library=root / "library")
    assert found.unknown == (("nettle-sop", "nettle-soap"),)
    assert found.passed_over == ("note.csv", "unit.toml")


def test_a_formula_typed_with_names_is_priced_and_what_was_read_is_told(tmp_path):
    root = folder(tmp_path / "products", 1)
    (root / "paper.csv").write_text("Ingredient;%\nNETTLE SOAP;20,5\nAqua;q.s.\n", encoding="utf-8")
    found = recosting(root, prices(root, glycerin=2.0), library=root / "library")
    paper = by_name(found.products)["paper.csv"]
    assert paper.outcome == "kept" and paper.cost_before is not None
    assert "'NETTLE SOAP'" in paper.matched[0] and "(nettle-soap)" in paper.matched[0]


@pytest.mark.parametrize(
    "text",
    [
        'title = "spring"\n[[make]]\nformula = "today.csv"\nbatch = "5kg"\n',
        'title = "spring"\naim = "consumed"\nspare_percent = 5\n',
        'title = "spring washes"\nminimise = "cash"\n[[product]]\nbrief = "wash-0000.toml"\nbatch = "5kg"\n',
    ],
)
def test_a_plan_is_no_faulty_brief(tmp_path, text):
    """Of one shelf or of one family: its briefs and formulas lie in the folder as products themselves."""
    root = folder(tmp_path / "products", 1)
    (root / "spring.toml").write_text(text, encoding="utf-8")
    found = recosting(root, prices(root, glycerin=2.0), library=root / "library")
    assert [product.name for product in found.products] == ["today.csv", "wash-0000.toml"]
    assert (found.plans, found.passed_over) == (("spring.toml",), ())


def test_a_brief_with_a_key_of_a_plan_is_a_brief_with_a_fault(tmp_path):
    root = folder(tmp_path / "products", 1)
    with (root / "wash-0000.toml").open("a", encoding="utf-8") as file:
        file.write('[[pack]]\nmaterial = "glycerin"\n')
    found = recosting(root, prices(root, glycerin=2.0), library=root / "library")
    slipped = by_name(found.products)["wash-0000.toml"]
    assert slipped.outcome == "fault" and "pack: unknown key" in slipped.faults[0] and found.plans == ()


@pytest.mark.parametrize(
    ("name", "text", "word"),
    [
        ("x.toml", 'title = "x"\n[target]\nmildness = { at_least = 60 }\n', "did you mean 'targets'"),
        ("x.csv", "material;percent\nnettle-soap;20,5\nwater;79.5\n", "decimal comma"),
        ("x.csv", "name,material,percent\nN,nettle-sop,20\nW,water,q.s.\n", "did you mean 'nettle-soap'"),
    ],
)
def test_a_product_with_a_slip_is_no_file_to_pass_over(tmp_path, name, text, word):
    root = folder(tmp_path / "products", 1)
    (root / name).write_text(text, encoding="utf-8")
    found = recosting(root, prices(root, glycerin=2.0), library=root / "library")
    slipped = by_name(found.products)[name]
    assert slipped.outcome == "fault" and word in " ".join(slipped.faults)
    assert found.passed_over == ()


def test_products_may_lie_beside_the_tables_of_their_library(tmp_path):
    root = folder(tmp_path / "products", 1)
    (root / "library" / "wash.toml").write_text(
        (root / "wash-0000.toml").read_text(encoding="utf-8").replace('"library"', '"."'), encoding="utf-8"
    )
    found = recosting(root / "library", prices(root, glycerin=2.0))
    assert [product.name for product in found.products] == ["wash.toml"]
    assert found.passed_over == ()


def test_a_formula_in_a_workbook_is_one(tmp_path):
    import openpyxl

    root = folder(tmp_path / "products", 1)
    for name, rows in (
        ("today", [("material", "percent"), ("nettle-soap", 20), ("water", "q.s.")]),
        ("list", [("material", "price"), ("nettle-soap", 3)]),
    ):
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(root / f"{name}.xlsx")
    found = recosting(root, prices(root, nettle_soap=4.0), library=root / "library")
    assert by_name(found.products)["today.xlsx"].cost_same == pytest.approx(0.8)
    assert found.passed_over == ("list.xlsx",)
