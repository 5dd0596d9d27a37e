"""Plan files of families: read, and checked with every fault at once."""

import pytest

from optiform import BadInput
from optiform.answers.recost.folder import gather
from optiform.families import load_family
from optiform.families.plan import Scenario, goals_of
from optiform.families.scenarios import under
from tests.asked import PROBLEMS

NETTLE = (PROBLEMS / "nettle-gel-oily-skin" / "brief.toml").as_posix()
OAT = (PROBLEMS / "oat-conditioning-wash" / "brief.toml").as_posix()
PRODUCTS = f"""
[[product]]
brief = "{NETTLE}"
batch = "5kg"
within = 0.05
[[product]]
brief = "{OAT}"
batch = "500 g"
times = 3
title = "Oats"
"""


def written(tmp_path, text, **files):
    for name, content in files.items():
        (tmp_path / f"{name}.csv").write_text(content)
    path = tmp_path / "plan.toml"
    path.write_text(text)
    return path


def faults(tmp_path, text, **files):
    with pytest.raises(BadInput) as bad:
        load_family(written(tmp_path, text, **files))
    return [str(fault) for fault in bad.value.faults]


def test_a_plan_is_read_with_everything_that_it_states(tmp_path):
    text = f"""
    title = "Spring washes"
    minimise = "materials"
    then = ["cash"]
    stock = "stock.csv"
    spare_percent = 2
    [shelf]
    materials_at_most = 24
    keep = ["glycerin"]
    [base]
    same = ["preservative"]
    [[supplier]]
    name = "north quay supply"
    delivery = 4.5
    [[scenario]]
    title = "Dearer north"
    supplier_times = {{ "north quay supply" = 1.1 }}
    without = ["xanthan-gum"]
    {PRODUCTS}
    """
    read = load_family(written(tmp_path, text, stock="material,stock_g\nglycerin,500\n"))
    assert [(one.title, one.grams, one.within) for one in read.products] == [
        ("Nettle gel wash, oily skin", 5000.0, 0.05),
        ("Oats", 1500.0, None),
    ]
    assert (read.minimise, read.then, goals_of(read)) == ("materials", ("cash",), ("materials", "cash"))
    assert (read.at_most, read.keep, read.same) == (24, ("glycerin",), ("preservative",))
    assert read.stock == {"glycerin": 500.0}
    assert read.scenarios[0] == Scenario(
        "Dearer north", without=("xanthan-gum",), supplier_times={"north quay supply": 1.1}
    )


def test_every_fault_of_a_plan_is_told_at_once(tmp_path):
    text = f"""
    titel = "Spring"
    minimise = "mony"
    [shelf]
    keep = ["glycerine"]
    materials_at_most = 0
    [base]
    same = ["surfactants"]
    [[pack]]
    material = "xanthan"
    size_g = 100
    price = 3
    [[scenario]]
    title = "x"
    without_supplier = ["north key supply"]
    [[product]]
    brief = "{NETTLE}"
    batch = "5"
    [[product]]
    brief = "nowhere.toml"
    batch = "2kg"
    """
    told = "\n".join(faults(tmp_path, text))
    for words in (
        "titel: unknown key", "did you mean 'title'", "minimise", "materials_at_most", "no function",
        "'surfactant'", "[[pack]] 1, material", "sells no pack", "could be grams or kilograms", "nowhere.toml",
    ):  # fmt: skip
        assert words in told, words


def test_a_plan_without_products_or_with_one_title_twice_is_refused(tmp_path):
    assert any("[[product]]: missing" in told for told in faults(tmp_path, 'title = "x"'))
    twice = PRODUCTS.replace('title = "Oats"', "").replace(OAT, NETTLE)
    assert any("stands twice" in told for told in faults(tmp_path, f'title = "x"\n{twice}'))


def test_briefs_on_two_libraries_are_refused(tmp_path):
    other = (PROBLEMS / "oil-blend" / "brief.toml").as_posix()
    text = f'title = "x"\n{PRODUCTS}\n[[product]]\nbrief = "{other}"\nbatch = "1kg"\n'
    assert any("a family has one shelf" in told for told in faults(tmp_path, text))


def test_a_scenario_changes_batches_prices_and_what_can_be_had(tmp_path):
    read = load_family(written(tmp_path, f'title = "x"\n{PRODUCTS}'))
    before = {(o.material, o.size_g, o.supplier): o.price for o in read.offers}
    north = next(o for o in read.offers if o.supplier == "north quay supply")
    price = read.library.material[north.material].price
    changed = under(
        read,
        Scenario(
            "all", times=2.0, prices={north.material: 3 * price}, supplier_times={"north quay supply": 1.1}
        ),
    )
    after = {(o.material, o.size_g, o.supplier): o.price for o in changed.offers}
    key = (north.material, north.size_g, north.supplier)
    assert after[key] == pytest.approx(before[key] * 3 * 1.1)
    assert [one.grams for one in changed.products] == [10_000.0, 3000.0]
    assert changed.products[0].brief.library.material[north.material].price == pytest.approx(3 * price)
    failed = under(read, Scenario("north fails", without_supplier=("north quay supply",)))
    assert not [o for o in failed.offers if o.supplier == "north quay supply"]
    only_north = {o.material for o in read.offers} - {o.material for o in failed.offers}
    assert set(failed.without) == only_north


def test_a_family_plan_in_a_folder_of_products_is_passed_over_as_a_plan(tmp_path):
    written(tmp_path, f'title = "x"\n{PRODUCTS}')
    (tmp_path / "brief.toml").write_text((PROBLEMS / "oat-conditioning-wash" / "brief.toml").read_text())
    assert gather(tmp_path, {}).plans == ("plan.toml",)
