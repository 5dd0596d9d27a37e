"""Shopping lists against brute force, worked cases and the clock."""

import itertools
import math

import numpy as np
import pytest

from optiform.faults import BadInput
from optiform.library.models import Pack
from optiform.sheets.purchase import coupled_purchase
from optiform.sheets.purchase.near_misses import CLOSE, most_for_less
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.sheets.purchase.packs import best_basket
from optiform.sheets.purchase.shopping import Make, shopping
from optiform.solver import Clock, OutOfTime, Session
from optiform.views.words import sheet_words
from tests.builders import tiny_library
from tests.seeds import seeds
from tests.sheets.purchase.large_plan import large_plan

NAMES = "abc"


def brute(needed, offers, suppliers, most=5):
    """Return the least cash and the least consumed cost over every number of packs up to `most`."""
    best_cash = best_used = math.inf
    asking = {s.name: s for s in suppliers}
    for counts in itertools.product(range(most + 1), repeat=len(offers)):
        bought = [(offer, n) for offer, n in zip(offers, counts, strict=True) if n]
        if any(n < offer.at_least for offer, n in bought):
            continue
        goods = {}
        for offer, n in bought:
            goods[offer.supplier] = goods.get(offer.supplier, 0.0) + n * offer.price
        if any(name in asking and spent < asking[name].minimum_order - 1e-9 for name, spent in goods.items()):
            continue
        held = {name: sum(n * o.size_g for o, n in bought if o.material == name) for name in needed}
        if any(held[name] < grams - 1e-9 for name, grams in needed.items()):
            continue
        delivery = sum(asking[name].delivery for name in goods if name in asking)
        best_cash = min(best_cash, sum(goods.values()) + delivery)
        used = delivery
        for name, grams in needed.items():
            left = grams
            for offer, n in sorted(bought, key=lambda pair: pair[0].price / pair[0].size_g):
                if offer.material == name:
                    take = min(left, n * offer.size_g)
                    used += take * offer.price / offer.size_g
                    left -= take
        best_used = min(best_used, used)
    return best_cash, best_used


@pytest.mark.parametrize(
    ("ways", "sums"), [(500, 1e7), (0, 1e7), (500, 0.0)], ids=["ways", "packs", "no sums"]
)
@pytest.mark.parametrize("seed", seeds(20, 40))
def test_small_plans_cost_what_trying_everything_finds(seed, ways, sums, monkeypatch):
    monkeypatch.setattr(coupled_purchase, "COVERS", ways)
    monkeypatch.setattr(coupled_purchase, "SUMS", sums)
    random = np.random.default_rng(seed)
    needed = {name: float(random.integers(20, 900)) for name in NAMES[: random.integers(1, 4)]}
    offers = []
    for name in needed:
        for size in random.choice([100.0, 250.0, 500.0, 1000.0], size=2, replace=False):
            price = round(float(size * random.uniform(0.004, 0.02)), 2)
            supplier = str(random.choice(["north", "harbour"]))
            offers.append(Offer(material=name, size_g=float(size), price=price, supplier=supplier,
                                at_least=int(random.choice([1, 1, 2]))))  # fmt: skip
    suppliers = [
        Supplier(
            name="north",
            minimum_order=float(random.choice([0, 8, 15])),
            delivery=float(random.choice([0, 3])),
        ),
        Supplier(name="harbour", delivery=float(random.choice([0, 2]))),
    ]
    cash, used = brute(needed, offers, suppliers, most=4 if len(offers) > 4 else 9)
    by_cash, by_use = (best_basket(needed, offers, suppliers, aim) for aim in ("cash", "consumed"))
    if by_cash is None:
        assert cash == math.inf
        return
    assert by_cash.cash <= cash + 1e-6
    assert by_use.consumed <= used + 1e-6
    within = all(line.packs <= (4 if len(offers) > 4 else 9) for line in (*by_cash.bought, *by_use.bought))
    if within:
        assert by_cash.cash == pytest.approx(cash, abs=1e-6)
        assert by_use.consumed == pytest.approx(used, abs=1e-6)
    assert by_use.consumed <= by_cash.consumed + 1e-6
    assert by_cash.cash <= by_use.cash + 1e-6


def shop(amounts, packs, batch_g=1000.0, **fields):
    library = tiny_library(
        [{"id": name, "price": 10.0} for name in NAMES], packs=tuple(Pack(**pack) for pack in packs)
    )
    lines = (("water", 100.0 - sum(amounts.values())), *amounts.items())
    return shopping([Make(title="gel", lines=lines, batch_g=batch_g)], library, **fields)


def pack(material, size_g, price, supplier=""):
    return {"material": material, "size_g": size_g, "price": price, "supplier": supplier}


def test_packs_are_the_need_less_the_stock_rounded_up():
    """ceil((600 - 90) / 250) = 3 packs; what is left is 240 g, worth 240 / 750 of the money."""
    found = shop({"a": 60.0}, [pack("a", 250, 5.0)], stock={"a": 90.0})
    line = next(line for line in found.lines if line.material == "a")
    assert (line.packs[0].packs, line.bought_g, line.left_g) == (3, 750.0, pytest.approx(240.0))
    assert found.cash == pytest.approx(15.0)
    assert found.left_value == pytest.approx(15.0 * 240 / 750)
    assert found.consumed == pytest.approx(15.0 * 510 / 750)
    assert found.stock_value == pytest.approx(0.9)


def test_stock_that_is_enough_buys_nothing_and_unknown_amounts_are_enough():
    for stock in (600.0, None):
        found = shop({"a": 60.0}, [pack("a", 250, 5.0)], stock={"a": stock})
        assert found.cash == 0.0
        assert not found.orders


def test_a_dearer_pack_per_kg_wins_on_cash_and_loses_on_what_is_used():
    packs = [pack("a", 100, 3.0), pack("a", 1000, 12.0)]
    assert [
        b.offer.size_g for b in next(x for x in shop({"a": 10.0}, packs).lines if x.material == "a").packs
    ] == [100]
    used = shop({"a": 10.0}, packs, aim="consumed")
    assert used.cash == pytest.approx(12.0)
    assert used.consumed == pytest.approx(1.2)
    assert any("counts as stock" in note for note in used.notes)


def test_ties_in_cash_go_to_the_larger_leftover():
    found = shop({"a": 10.0}, [pack("a", 100, 3.0), pack("a", 200, 3.0)])
    assert next(line for line in found.lines if line.material == "a").bought_g == 200


def test_packs_dearer_or_cheaper_than_the_price_per_kg_are_told():
    """The other sheets count with prices per kg: 50 g at 10 per kg are 0.50, out of this pack 2.00."""
    dear = shop({"a": 5.0}, [pack("a", 100, 4.0)])
    assert any("2.00 out of their packs, 0.50 at" in note for note in dear.notes)
    same = shop({"a": 5.0}, [pack("a", 100, 1.0)])
    assert not any("packs" in note for note in same.notes)


def test_products_share_packs():
    library = tiny_library([{"id": "a"}], packs=(Pack(material="a", size_g=100, price=4.0),))
    make = Make(title="one", lines=(("water", 95.0), ("a", 5.0)), batch_g=1000.0)
    assert shopping([make], library).cash == pytest.approx(4.0)
    assert shopping([make, make], library).cash == pytest.approx(4.0)
    assert shopping([make.model_copy(update={"times": 3})], library).cash == pytest.approx(8.0)


def test_a_least_order_is_filled_or_avoided():
    packs = [pack("a", 100, 4.0, "north"), pack("a", 100, 5.0, "harbour")]
    avoided = shop({"a": 5.0}, packs, suppliers=(Supplier(name="north", minimum_order=30.0),))
    assert [order.supplier for order in avoided.orders] == ["harbour"]
    filled = shop({"a": 5.0}, packs[:1], suppliers=(Supplier(name="north", minimum_order=30.0),))
    assert filled.cash == pytest.approx(32.0)
    assert any("least order: A" in note for note in filled.notes)
    assert not any("least order" in note for note in avoided.notes)


def test_what_fills_up_an_order_costs_least_although_what_is_used_was_counted():
    """3 packs of 12.00 are 36.00, 2 and two small ones 32.00; 1 and five small ones 32.00; 30.00 cannot be made."""
    packs = [pack("a", 100, 4.0, "north"), pack("a", 1000, 12.0, "north")]
    found = shop({"a": 5.0}, packs, suppliers=(Supplier(name="north", minimum_order=30.0),), aim="consumed")
    assert (found.consumed, found.cash) == (pytest.approx(0.6), pytest.approx(32.0))


def test_packs_priced_in_parts_of_cents_fill_an_order_up_too():
    """Thirty packs come to between 9.99 and 10.05: how many of each is found by trying all."""
    packs = [pack("a", 100, 0.333, "north"), pack("a", 100, 0.335, "north")]
    found = shop({"a": 5.0}, packs, suppliers=(Supplier(name="north", minimum_order=10.0),))
    assert found.cash == pytest.approx(min(n * 0.333 + m * 0.335 for n in range(40) for m in range(40)
                                           if n * 0.333 + m * 0.335 >= 10.0 - 1e-9))  # fmt: skip


def test_a_delivery_charge_is_money_out_and_gathers_orders():
    packs = [pack("a", 100, 4.0, "north"), pack("b", 100, 4.0, "north"), pack("b", 100, 3.0, "harbour")]
    found = shop({"a": 5.0, "b": 5.0}, packs, suppliers=(Supplier(name="harbour", delivery=2.5),))
    assert [order.supplier for order in found.orders] == ["north"]
    assert found.cash == pytest.approx(8.0)
    cheap = shop({"a": 5.0, "b": 5.0}, packs, suppliers=(Supplier(name="harbour", delivery=0.5),))
    assert cheap.cash == pytest.approx(7.5)
    assert sum(order.goods + order.delivery for order in cheap.orders) == pytest.approx(cheap.cash)


def test_a_price_break_by_number_of_packs_counts_from_its_number_on():
    offers = [
        Offer(material="a", size_g=100, price=4.0),
        Offer(material="a", size_g=100, price=3.0, at_least=3),
    ]
    assert shop({"a": 20.0}, [], offers=offers).cash == pytest.approx(8.0)
    assert shop({"a": 30.0}, [], offers=offers).cash == pytest.approx(9.0)


def test_water_comes_from_the_tap_and_a_material_without_packs_is_bought_by_weight():
    found = shop({"a": 5.0}, [])
    assert found.cash == pytest.approx(0.5)
    assert [line.material for line in found.lines if line.tap] == ["water"]
    assert [line.material for line in found.lines if line.by_weight] == ["a"]
    assert any("by weight" in note for note in found.notes)


def test_a_slightly_smaller_batch_saves_a_pack():
    """212 g needed, packs of 200 g: 200 / 212 = 0.943, so a batch 6 % smaller saves a pack."""
    found = shop({"a": 21.2}, [pack("a", 200, 6.0)])
    (miss,) = found.near_misses
    assert (miss.needed_g, miss.pack_g, miss.smaller_percent) == (pytest.approx(212.0), 200.0, 6.0)
    assert (miss.packs_now, miss.packs_then, miss.saves) == (2, 1, pytest.approx(6.0))
    smaller = shop({"a": 21.2}, [pack("a", 200, 6.0)], batch_g=1000.0 * (1 - miss.smaller_percent / 100))
    assert found.cash - smaller.cash == pytest.approx(miss.saves)
    one_less = shop(
        {"a": 21.2}, [pack("a", 200, 6.0)], batch_g=1000.0 * (1 - (miss.smaller_percent - 1) / 100)
    )
    assert one_less.cash == pytest.approx(found.cash)


def test_stock_counts_in_a_near_miss():
    found = shop({"a": 30.0}, [pack("a", 200, 6.0)], stock={"a": 90.0})
    (miss,) = found.near_misses
    assert miss.smaller_percent == 4.0
    smaller = shop({"a": 30.0}, [pack("a", 200, 6.0)], stock={"a": 90.0}, batch_g=960.0)
    assert found.cash - smaller.cash == pytest.approx(miss.saves)


def test_far_misses_and_least_orders_that_keep_the_money_are_not_told():
    assert not shop({"a": 25.0}, [pack("a", 200, 6.0)]).near_misses
    held = shop({"a": 21.2}, [pack("a", 200, 6.0, "n")], suppliers=(Supplier(name="n", minimum_order=12.0),))
    assert not held.near_misses


@pytest.mark.parametrize("seed", range(25))
def test_the_most_that_less_money_buys_is_what_trying_everything_finds(seed):
    random = np.random.default_rng(seed)
    offers = [
        Offer(
            material="a",
            size_g=float(size),
            price=float(random.integers(1, 9)),
            at_least=int(random.integers(1, 3)),
        )
        for size in random.choice([50, 80, 110, 170], size=3, replace=False)
    ]
    needed, spent = float(random.integers(100, 600)), float(random.integers(4, 25))
    best = 0.0
    for counts in itertools.product(range(13), repeat=3):
        if any(0 < n < o.at_least for o, n in zip(offers, counts, strict=True)):
            continue
        grams = sum(n * o.size_g for o, n in zip(offers, counts, strict=True))
        if grams <= needed and sum(n * o.price for o, n in zip(offers, counts, strict=True)) < spent - 1e-9:
            best = max(best, grams)
    found = most_for_less(offers, spent, needed)
    assert best - CLOSE * needed <= found <= best + 1e-9


def test_everything_on_the_shelf_buys_nothing_under_either_aim():
    for aim in ("cash", "consumed"):
        found = shop({"a": 20.0}, [pack("a", 100, 3.0, "n")], stock={"a": None}, aim=aim)
        assert (found.cash, found.consumed, found.orders) == (0.0, 0.0, ())
        assert "Proven" in sheet_words.aim(found)


def test_a_thousand_packs_of_one_material_are_bought_at_the_best_price():
    """By hand: sizes 101 ... 1100 g at 1 each; 5000 g are 4 x 1100 + 600 or more: five packs, however chosen."""
    offers = [Offer(material="a", size_g=100.0 + k, price=1.0) for k in range(1, 1001)]
    basket = best_basket({"a": 5000.0}, offers, (), "cash")
    assert basket.cash == pytest.approx(5.0)
    orders = [offer.model_copy(update={"supplier": "n"}) for offer in offers]
    basket = best_basket({"a": 5000.0}, orders, (Supplier(name="n", delivery=2.0),), "cash")
    assert basket.cash == pytest.approx(7.0)
    assert 4900 < most_for_less(offers, 5.5, 5000.0) <= 5000


@pytest.mark.parametrize("aim", ["cash", "consumed"])
@pytest.mark.parametrize("seed", range(6))
def test_out_of_time_the_gap_told_covers_what_a_better_purchase_saves(seed, aim, monkeypatch):
    """The solver is stopped before it begins: what is told instead is a purchase, and a gap that is true."""
    random = np.random.default_rng(seed)
    needed = {name: float(random.integers(20, 900)) for name in NAMES}
    offers = [
        Offer(material=name, size_g=float(size), price=float(random.integers(1, 20)), supplier="n")
        for name in needed
        for size in random.choice([50, 120, 250, 400], size=2, replace=False)
    ]
    stopped = best_basket(needed, offers, (), "cash", clock=Clock.of(0.0))
    best = best_basket(needed, offers, (), "cash")
    assert best.gap == 0.0 < stopped.gap
    assert stopped.cash - stopped.gap <= best.cash + 1e-9 <= stopped.cash + 2e-9
    with pytest.raises(OutOfTime):
        best_basket(needed, offers, (Supplier(name="n", delivery=1.0),), aim, clock=Clock.of(0.0))


def test_a_purchase_that_is_not_proven_says_so():
    found = shop({"a": 20.0}, [pack("a", 150, 3.0)], clock=Clock.of(0.0))
    assert found.gap > 0
    assert "not proven" in sheet_words.aim(found)
    assert "Proven" not in sheet_words.aim(found)


def test_what_the_proof_leaves_out_is_told():
    loose = shop({"a": 20.0, "b": 5.0}, [pack("a", 150, 3.0)])
    assert "bought by weight is no part of that" in sheet_words.aim(loose)
    used = shop({"a": 20.0}, [pack("a", 150, 3.0, "n")], aim="consumed")
    assert "other suppliers were not looked at" in sheet_words.aim(used)


def test_a_least_order_that_nothing_fills_is_bad_input():
    with pytest.raises(BadInput, match="least orders"):
        shop({"a": 5.0}, [pack("a", 100, 0.0, "n")], suppliers=(Supplier(name="n", minimum_order=5.0),))


@pytest.mark.parametrize("least_order", [40.0, 100.0])
def test_ten_products_of_sixty_materials_with_four_packs_each_take_few_solves(least_order, monkeypatch):
    """A few hundred, 0.6 s of a processor: four for each material, and no clock needed to say so."""
    makes, library, suppliers = large_plan(7, least_order)
    usual, solves = Session.solve, []

    def counted(session):
        solves.append(session)
        return usual(session)

    monkeypatch.setattr(Session, "solve", counted)
    found = shopping(makes, library, suppliers=suppliers)
    assert 0 < len(solves) <= 8 * 60
    assert len([line for line in found.lines if line.packs]) >= 55
    assert found.cash == pytest.approx(
        sum(line.cash for line in found.lines) + sum(order.delivery for order in found.orders)
    )
    for line in found.lines:
        assert line.bought_g + line.from_stock_g >= line.needed_g - 1e-6
