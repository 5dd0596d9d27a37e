"""Currencies and price breaks of a plan: converted by hand, chosen as brute force over all numbers of packs chooses."""

from itertools import product

import numpy as np
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
GEL = "material,percent\nwater,q.s.\ngum,1\nsoap,20\n"
MADE = 'title = "Spring"\n[[make]]\nformula = "gel.csv"\nbatch = "{batch}"\n'
ISLE = """
[rates]
on = 2026-11-20
GBP = 1.2
[[pack]]
material = "soap"
size_g = 1000
price = 3.0
supplier = "isle"
[[supplier]]
name = "isle"
currency = "GBP"
delivery = 2.0
minimum_order = 6.0
"""


def read(tmp_path, text, batch="10kg"):
    (tmp_path / "gel.csv").write_text(GEL)
    path = tmp_path / "plan.toml"
    path.write_text(MADE.format(batch=batch) + text)
    return load_plan(path, LIBRARY)


def faults(tmp_path, text):
    with pytest.raises(BadInput) as bad:
        read(tmp_path, text)
    return "\n".join(str(fault) for fault in bad.value.faults)


def test_another_currency_is_converted_once_and_told_with_its_day(tmp_path):
    """2 kg of soap: at home 2 x 5.00 = 10.00; from the isle (2 x 3.00 + 2.00) GBP = 8.00 GBP x 1.2 = 9.60 EUR."""
    plan = read(tmp_path, ISLE)
    assert {offer.price for offer in plan.offers if offer.supplier == "isle"} == {3.6}
    (isle,) = plan.suppliers
    assert (isle.minimum_order, isle.delivery) == (7.2, 2.4)
    found = plan.shopping()
    assert found.cash == pytest.approx(9.6 + 9.0)
    paid = next(note for note in found.notes if note.startswith("Paid in another currency"))
    assert "1 GBP = 1.2 EUR (2026-11-20)" in paid
    assert "isle 8.00 GBP" in paid
    assert paid in " ".join(found.to_text().split())


def test_a_rate_decides_from_whom_to_buy(tmp_path):
    """At 1.3 the isle asks 10.40 EUR for what costs 10.00 at home: nothing is paid in another currency."""
    found = read(tmp_path, ISLE.replace("GBP = 1.2", "GBP = 1.3")).shopping()
    assert found.cash == pytest.approx(10.0 + 9.0)
    assert not any("another currency" in note for note in found.notes)


def test_a_pack_may_be_in_another_currency_than_its_supplier(tmp_path):
    own = ISLE.replace('supplier = "isle"\n[[supplier]]', 'supplier = "isle"\ncurrency = "EUR"\n[[supplier]]')
    plan = read(tmp_path, own)
    assert {offer.price for offer in plan.offers if offer.supplier == "isle"} == {3.0}
    assert plan.suppliers[0].delivery == 2.4


def test_what_is_wrong_with_currencies_is_told_at_once(tmp_path):
    told = faults(
        tmp_path, ISLE.replace("on = 2026-11-20\n", "").replace("GBP = 1.2", 'GBP = "much"\nUSD = 0.0')
    )
    for words in ("[rates] on", "[rates] GBP", "[rates] USD", "above 0"):
        assert words in told, words
    told = faults(tmp_path, ISLE.replace('currency = "GBP"', 'currency = "GBQ"'))
    assert "[[supplier]] 1, currency" in told
    assert "'GBQ' has no rate" in told
    assert "did you mean 'GBP'" in told
    assert "the library's own currency" in faults(tmp_path, ISLE.replace("GBP = 1.2", "GBP = 1.2\nEUR = 2.0"))
    assert "a day without quotes" in faults(tmp_path, ISLE.replace("2026-11-20", '"2026-11-20"'))
    without = ISLE[ISLE.index("[[pack]]") :]
    assert "'GBP' has no rate" in faults(tmp_path, without)


BROKEN = """
[[pack]]
material = "soap"
size_g = 500
price = 3.0
supplier = "isle"
price_from = {{ 4 = {four}, 10 = {ten} }}
"""


def by_force(grams, offers, most=14):
    """Return the least cash over all numbers of packs; an offer's packs are none, or no fewer than it asks for."""
    best = np.inf
    for packs in product(range(most + 1), repeat=len(offers)):
        if any(0 < count < offer.at_least for count, offer in zip(packs, offers, strict=True)):
            continue
        if sum(count * offer.size_g for count, offer in zip(packs, offers, strict=True)) >= grams - 1e-9:
            best = min(best, sum(count * offer.price for count, offer in zip(packs, offers, strict=True)))
    return best


@pytest.mark.parametrize("batch", ["2kg", "5kg", "8.5kg", "16kg", "26kg"])
@pytest.mark.parametrize(("four", "ten"), [(2.3, 2.0), (2.9, 1.1)])
def test_price_breaks_are_taken_exactly_where_they_pay(tmp_path, batch, four, ten):
    """Every number of packs of each price, also more than are needed where the lower price makes them cheaper."""
    plan = read(tmp_path, BROKEN.format(four=four, ten=ten), batch)
    soap = [offer for offer in plan.offers if offer.material == "soap"]
    assert sorted((offer.at_least, offer.price) for offer in soap if offer.supplier == "isle") == [
        (1, 3.0), (4, four), (10, ten),
    ]  # fmt: skip
    (line,) = (line for line in plan.shopping().lines if line.material == "soap")
    assert line.cash == pytest.approx(by_force(line.to_buy_g, soap))


def test_a_break_that_starts_no_later_than_the_pack_itself_is_refused(tmp_path):
    text = BROKEN.format(four=2.3, ten=2.0).replace("price = 3.0", "price = 3.0\nat_least = 4")
    assert "[[pack]] 1, price_from" in faults(tmp_path, text)
    for count in ("few", "0", "04", '"-1"', "99999"):
        told = faults(tmp_path, BROKEN.format(four=2.3, ten=2.0).replace("4 =", f"{count} ="))
        assert "is no number of packs" in told


def test_wrong_rates_hide_no_wrong_number_of_packs(tmp_path):
    told = faults(tmp_path, "[rates]\non = 3\n" + BROKEN.format(four=2.3, ten=2.0).replace("4 =", "few ="))
    assert "[rates] on" in told
    assert "is no number of packs" in told
