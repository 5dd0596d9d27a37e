"""Cash by brute force: every number of packs, and for each whether the formulas can be made of them."""

import json
from dataclasses import replace
from itertools import product as every

import numpy as np
import pytest
from scipy.optimize import linprog

from optiform.brief.models import Aim, Brief, Include, Target
from optiform.families.pack_costs import bundles, underestimates
from optiform.families.plan import Planned, Scenario
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.sheets.purchase.quotes import Quotes
from tests.builders import NEUTRAL, tiny_library
from tests.families.plans import asked, plan

SOAPS = (("strong", 60.0, 5.0), ("soft", 40.0, 3.0))
"""Material, active % of it, price per kg: invented."""
LIBRARY = tiny_library(
    [
        *({"id": name, "function": "surfactant", "price": price, "min_if_used": 1.0, "max_use": 40.0}
          for name, _, price in SOAPS),
        {"id": "polyol", "function": "humectant", "price": 2.0, "min_if_used": 0.5, "max_use": 10.0},
    ],
    [{"inci": name, "charge_class": "anionic", **NEUTRAL} for name, _, _ in SOAPS],
    {name: {name: active} for name, active, _ in SOAPS},
)  # fmt: skip


def wash(title, active, polyol):
    return Brief(
        title=title,
        library=LIBRARY,
        law="none",
        aim=Aim(),
        targets={"active matter": Target(at_least=active)},
        include=(Include(material="polyol", at_least=polyol),),
    )


def by_force(wanted, kilograms, offers, stock, most=3):
    """Return the least cash over all numbers of packs from which a linear program makes the formulas.

    Which soaps a wash uses is tried in all four ways: used is at least 1 % w/w.
    """
    best = np.inf
    for packs in every(range(most + 1), repeat=len(offers)):
        if any(0 < count < offer.at_least for count, offer in zip(packs, offers, strict=True)):
            continue
        cash = sum(count * offer.price for count, offer in zip(packs, offers, strict=True))
        if cash >= best:
            continue
        held = {name: stock.get(name, 0.0) for name in ("strong", "soft", "polyol")}
        for count, offer in zip(packs, offers, strict=True):
            held[offer.material] += count * offer.size_g
        if any(_possible(wanted, kilograms, held, used) for used in every((0, 1), repeat=2 * len(wanted))):
            best = cash
    return best


def _possible(wanted, kilograms, held, used):
    """Tell whether all washes can be made of what is held; columns: strong, soft, polyol of each [% w/w]."""
    names, count = ("strong", "soft", "polyol"), len(wanted)
    rows, ends, ranges = [], [], []
    for place, (active, polyol) in enumerate(wanted):
        row = np.zeros(3 * count)
        row[3 * place], row[3 * place + 1] = -0.6, -0.4
        rows.append(row)
        ends.append(-active)
        row = np.zeros(3 * count)
        row[3 * place : 3 * place + 3] = 1.0
        rows.append(row)
        ends.append(100.0)
        for soap in range(2):
            taken = used[2 * place + soap]
            ranges.append((1.0 * taken, 40.0 * taken))
        ranges.append((polyol, 10.0))
    for material, name in enumerate(names):
        row = np.zeros(3 * count)
        row[material::3] = [10.0 * kg for kg in kilograms]
        rows.append(row)
        ends.append(held[name])
    return linprog(np.zeros(3 * count), A_ub=np.array(rows), b_ub=ends, bounds=ranges, method="highs").success


OFFERS = (
    Offer(material="strong", size_g=250, price=2.1),
    Offer(material="soft", size_g=500, price=2.0),
    Offer(material="polyol", size_g=100, price=0.9),
)


@pytest.mark.parametrize(
    ("wanted", "stock"),
    [
        (((12.0, 3.0), (5.0, 4.0)), {}),
        (((9.0, 2.0), (9.0, 2.0)), {"soft": 120.0}),
        (((15.0, 1.0), (4.0, 6.0)), {"polyol": 60.0, "strong": 30.0}),
    ],
)
def test_the_least_cash_is_that_of_all_numbers_of_packs(wanted, stock):
    kilograms = (1.0, 2.0)
    read = plan(
        LIBRARY,
        [wash(f"wash {place}", *one) for place, one in enumerate(wanted)],
        offers=OFFERS,
        stock=stock,
        gap=0.0,
    )
    found = asked(read)
    assert found.proven
    assert found.gap == 0
    assert found.cash == pytest.approx(by_force(wanted, kilograms, OFFERS, stock), abs=1e-6)
    assert found.here.cash <= found.together.cash + 1e-9 <= found.apart.cash + 2e-9


BREAKS = (
    Offer(material="strong", size_g=250, price=2.6),
    Offer(material="strong", size_g=250, price=1.9, at_least=2),
    Offer(material="soft", size_g=250, price=1.4),
    Offer(material="soft", size_g=250, price=1.0, at_least=3),
    Offer(material="polyol", size_g=200, price=0.9),
)


@pytest.mark.parametrize(
    "wanted",
    [((12.0, 3.0), (5.0, 4.0)), pytest.param(((9.0, 2.0), (7.0, 2.0)), marks=pytest.mark.slow)],
)
def test_prices_that_fall_with_the_number_of_packs_are_weighed_with_the_formulas(wanted):
    """A soap in both washes may reach its lower price: every number of packs at every price was tried."""
    read = plan(
        LIBRARY, [wash(f"wash {place}", *one) for place, one in enumerate(wanted)], offers=BREAKS, gap=0.0
    )
    found = asked(read)
    assert found.proven
    assert found.cash == pytest.approx(by_force(wanted, (1.0, 2.0), BREAKS, {}, most=3), abs=1e-6)
    assert any(pack.offer.at_least > 1 for line in found.purchase.lines for pack in line.packs)


def test_a_rate_of_exchange_moves_the_family_and_its_scenarios():
    """8 % active in 1 kg: 200 g of soft at 2.00, or 134 g of strong at 1.60 GBP: at 1.1 that is 1.76, at 1.4 2.24."""
    quotes = Quotes("2026-11-20", "EUR", {"GBP": 1.1}, {}, {})
    strong = Offer(material="strong", size_g=250, price=1.76, supplier="isle")
    read = plan(
        LIBRARY, [wash("wash", 8.0, 1.0)], offers=(strong, *OFFERS[1:]), gap=0.0,
        quotes=replace(quotes, packs={strong: "GBP"}),
        scenarios=(Scenario("dearer pounds", rates={"GBP": 1.4}), Scenario("as today")),
    )  # fmt: skip
    found = asked(read)
    assert found.cash == pytest.approx(1.76 + 0.9)
    dearer, today = found.scenarios
    assert dearer.cash == pytest.approx(2.0 + 0.9)
    assert today.cash == pytest.approx(found.cash)
    assert "1 GBP = 1.1 EUR (2026-11-20)" in found.to_text()
    assert any("isle 1.60 GBP" in note for note in found.purchase.notes)
    document = json.loads(found.to_json())
    assert document["rates"] == {"on": "2026-11-20", "rates": {"GBP": 1.1}}


def test_one_product_is_the_formula_to_buy_for_and_not_the_cheapest_per_kilogram():
    """7 % active in 1 kg is 175 g of soft, the cheaper per active at 3.00/40 against 5.00/60 only if bought by weight.

    A pack of soft costs 2.00, of strong 2.10; with 120 g of strong in stock (7.2 % active) nothing need be bought
    but polyol, though the formula then costs 0.60 instead of 0.525 per kg of contents.
    """
    read = plan(LIBRARY, [wash("wash", 7.0, 1.0)], offers=OFFERS, stock={"strong": 120.0}, gap=0.0)
    found = asked(read)
    assert found.cash == pytest.approx(0.9)
    (member,) = found.products
    assert {line.material for line in member.formula.lines} == {"water", "strong", "polyol"}
    assert member.here > member.alone


def test_a_least_order_and_a_charge_are_part_of_the_cash():
    """strong by north, the rest by south. Two orders cost twice 5.00 delivery: soft does for both washes."""
    offers = tuple(
        offer.model_copy(update={"supplier": "north" if offer.material == "strong" else "south"})
        for offer in OFFERS
    )
    suppliers = (
        Supplier(name="north", delivery=5.0),
        Supplier(name="south", delivery=5.0, minimum_order=4.5),
    )
    read = plan(LIBRARY, [wash("wash 0", 8.0, 1.0)], offers=offers, suppliers=suppliers, gap=0.0)
    found = asked(read)
    assert [order.supplier for order in found.purchase.orders] == ["south"]
    assert found.purchase.orders[0].goods >= 4.5
    assert found.cash == pytest.approx(
        5.0 + 4.7
    )  # soft 2.0 and polyol 0.9 are 2.9; 0.9 twice more, or soft: 4.7, 4.9


def test_what_is_used_counts_the_cheapest_gram():
    """Polyol 100 g at 0.9 or 1000 g at 4.0: by what is used the drum wins, by cash the small pack."""
    offers = (*OFFERS, Offer(material="polyol", size_g=1000, price=4.0))
    read = plan(LIBRARY, [wash("wash", 8.0, 5.0)], offers=offers, gap=0.0)
    cash, used = asked(read), asked(replace(read, minimise="consumed"))
    sizes = [
        {line.material: line.packs[0].offer.size_g for line in one.purchase.lines if line.packs}
        for one in (cash, used)
    ]
    assert (sizes[0]["polyol"], sizes[1]["polyol"]) == (100, 1000)
    assert used.consumed < cash.consumed
    assert used.consumed == pytest.approx(200 * 2.0 / 500 + 50 * 4.0 / 1000)  # 8 % is 200 g of soft


def test_batches_scale_the_purchase():
    read = plan(LIBRARY, [wash("wash", 8.0, 2.0)], offers=OFFERS, gap=0.0)
    large = replace(read, products=(Planned("wash", read.products[0].brief, 10_000.0),))
    assert asked(large).cash >= asked(read).cash


@pytest.mark.parametrize("seed", range(4))
def test_lines_below_the_cost_of_packs_never_pass_it(seed):
    """Against every number of packs up to six of each of three sizes."""
    chance = np.random.default_rng(seed)
    offers = [
        Offer(material="a", size_g=float(size), price=float(chance.integers(1, 40)))
        for size in chance.choice([50, 120, 250, 600, 1000], size=3, replace=False)
    ]
    counts = np.array(list(every(range(7), repeat=3)))
    grams = counts @ np.array([offer.size_g for offer in offers])
    cash = counts @ np.array([offer.price for offer in offers])
    most = 500.0
    for fewest in (0.0, 50.0, 260.0, most):
        lines = underestimates(offers, most, fewest)
        for need in np.linspace(max(1.0, fewest), most, 60):
            least = cash[grams >= need].min()
            assert max(slope * need + start for slope, start in lines) <= least + 1e-9
        if fewest:
            needed = max(slope * fewest + start for slope, start in lines)
            assert needed == pytest.approx(cash[grams >= fewest].min()), "exact where no less is needed"
    found = bundles(offers, most)
    assert found is not None
    assert found[-1][0] == most
    for held, money in found[:-1]:
        assert money == pytest.approx(cash[grams >= held].min())


def test_bundles_hold_the_least_number_of_packs():
    """Against every number of packs: 3 of 100 g at 1.00 each or none, and 250 g at 2.60."""
    offers = [
        Offer(material="a", size_g=250, price=2.6),
        Offer(material="a", size_g=100, price=1.0, at_least=3),
    ]
    packs = [(large, small) for large in range(4) for small in (0, *range(3, 9))]
    for most in (90.0, 260.0, 600.0):
        for held, money in bundles(offers, most):
            enough = [2.6 * large + small for large, small in packs if 250 * large + 100 * small >= held]
            assert money == pytest.approx(min(enough))
    assert bundles(offers, 90.0) == [(90.0, 2.6)]
    assert bundles(offers, 600.0) == [
        (250.0, 2.6),
        (300.0, 3.0),
        (400.0, 4.0),
        (500.0, 5.0),
        (550.0, 5.6),
        (600.0, 6.0),
    ]


def test_more_bundles_than_are_looked_at_are_bounded_by_the_cheapest_gram():
    """Packs of 10 g for 5 kg: the drum's price per gram, and the price of one pack, never more than the least cash."""
    offers = [Offer(material="a", size_g=10, price=0.5), Offer(material="a", size_g=2000, price=60.0)]
    lines = underestimates(offers, 5000.0)
    counts = np.array([(small, drums) for small in range(501) for drums in range(4)])
    grams, cash = counts @ np.array([10.0, 2000.0]), counts @ np.array([0.5, 60.0])
    for need in np.linspace(5.0, 5000.0, 80):
        assert max(slope * need + start for slope, start in lines) <= cash[grams >= need].min() + 1e-9
