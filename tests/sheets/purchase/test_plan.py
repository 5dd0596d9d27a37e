"""Plan files: read, checked with every fault at once, and shopped for."""

import pytest

from optiform.faults import BadInput
from optiform.library.models import Pack
from optiform.sheets.purchase.plan import load_plan
from tests.builders import tiny_library

LIBRARY = tiny_library(
    [{"id": "gum"}, {"id": "soap"}],
    packs=(
        Pack(material="gum", size_g=100, price=9.0, supplier="north quay"),
        Pack(material="soap", size_g=1000, price=5.0, supplier="harbour"),
    ),
)


def plan(tmp_path, text, **files):
    for name, content in files.items():
        (tmp_path / f"{name}.csv").write_text(content)
    path = tmp_path / "plan.toml"
    path.write_text(text)
    return path


GEL = "material,percent\nwater,q.s.\ngum,1\nsoap,20\n"
BALM = "material,percent\nwater,q.s.\ngum,2\n"


def test_a_plan_of_two_products_shares_packs_and_stock(tmp_path):
    """gum: 0.01 * 5000 * 2 + 0.02 * 1000 = 120 g, 30 in stock, 90 to buy: one pack. soap: 2000 g: two."""
    text = """
    title = "Spring"
    stock = "stock.csv"
    [[make]]
    formula = "gel.csv"
    batch = "5kg"
    times = 2
    [[make]]
    formula = "balm.csv"
    batch = "1 kg"
    title = "Balm"
    """
    path = plan(tmp_path, text, gel=GEL, balm=BALM, stock="material,stock_g\ngum,30\n")
    read = load_plan(path, LIBRARY)
    assert [(make.title, make.batch_g, make.times) for make in read.makes] == [
        ("gel", 5000, 2),
        ("Balm", 1000, 1),
    ]
    found = read.shopping()
    lines = {line.material: line for line in found.lines}
    assert lines["gum"].needed_g == pytest.approx(120)
    assert lines["gum"].to_buy_g == pytest.approx(90)
    assert {name: line.packs[0].packs for name, line in lines.items() if line.packs} == {"gum": 1, "soap": 2}
    assert found.cash == pytest.approx(9 + 10)


def test_offers_suppliers_aim_and_spare_of_a_plan_count(tmp_path):
    text = """
    title = "Spring"
    aim = "consumed"
    spare_percent = 10
    [[make]]
    formula = "balm.csv"
    batch = "1kg"
    [[pack]]
    material = "gum"
    size_g = 100
    price = 8.0
    supplier = "north quay"
    [[pack]]
    material = "gum"
    size_g = 1000
    price = 40.0
    supplier = "harbour"
    [[supplier]]
    name = "harbour"
    delivery = 1.0
    """
    found = load_plan(plan(tmp_path, text, balm=BALM), LIBRARY).shopping()
    line = next(line for line in found.lines if line.material == "gum")
    assert line.needed_g == pytest.approx(22.0)
    assert (line.packs[0].offer.price, line.packs[0].offer.size_g) == (8.0, 100)
    assert found.consumed == pytest.approx(22 * 0.08)


def test_a_plan_may_name_its_library_and_a_saved_answer(tmp_path):
    answer = '{"formulas": [{"rank": 2, "lines": [{"material": "water", "percent": 100}]}]}'
    (tmp_path / "answer.json").write_text(answer)
    text = 'title = "S"\n[[make]]\nformula = "answer.json"\nbatch = "1kg"\nrank = 2\n'
    found = load_plan(plan(tmp_path, text)).shopping()
    assert found.cash == 0.0


def test_every_fault_of_a_plan_is_named_at_once(tmp_path):
    text = """
    titel = "x"
    stock = "none.csv"
    [[make]]
    formula = "none.csv"
    batch = "5 stone"
    [[make]]
    formula = "gel.csv"
    batch = "5kgg"
    times = 0
    [[pack]]
    material = "gun"
    size_g = -1
    price = 1
    [[supplier]]
    name = "habour"
    [[supplier]]
    name = "harbour"
    [[supplier]]
    name = "harbour"
    """
    with pytest.raises(BadInput) as caught:
        load_plan(plan(tmp_path, text, gel=GEL), LIBRARY)
    places = [fault.place for fault in caught.value.faults]
    assert {"titel", "title", "[[make]] 1, batch", "[[make]] 2, times", "[[make]] 2, batch", "[[pack]] 1, size_g",
            "[[pack]] 1, material", "[[supplier]] 1, name", "[[supplier]] 3, name"} <= set(places)  # fmt: skip
    assert any(fault.file.endswith("none.csv") for fault in caught.value.faults)
    assert next(f for f in caught.value.faults if f.place == "[[supplier]] 1, name").nearest == "harbour"


@pytest.mark.parametrize(
    "text", ["", 'title = "x"\n', 'title = "x"\nmake = 3\n', "title = 3\n[[make]]\n", "= 3"]
)
def test_plans_that_are_none(tmp_path, text):
    with pytest.raises(BadInput):
        load_plan(plan(tmp_path, text), LIBRARY)


def test_a_formula_of_a_plan_must_add_up(tmp_path):
    text = 'title = "S"\n[[make]]\nformula = "gel.csv"\nbatch = "1kg"\n'
    with pytest.raises(BadInput, match="add up to 91"):
        load_plan(plan(tmp_path, text, gel="material,percent\nwater,90\ngum,1\n"), LIBRARY)
