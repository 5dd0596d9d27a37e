"""Ten products of sixty materials in four packs each, where least orders bind; opt-in."""

from __future__ import annotations

import time

import pytest

from optiform.sheets.purchase.shopping import shopping
from tests.sheets.purchase.large_plan import large_plan

pytestmark = pytest.mark.benchmark
SECONDS = 5.0


@pytest.mark.parametrize("least_order", [0.0, 40.0, 100.0, 150.0, 250.0])
@pytest.mark.parametrize("seed", [7, 8, 9])
@pytest.mark.parametrize("aim", ["cash", "consumed"])
def test_a_purchase_is_proven_in_five_seconds(seed, least_order, aim, capsys):
    makes, library, suppliers = large_plan(seed, least_order)
    start = time.process_time()
    found = shopping(makes, library, suppliers=suppliers, aim=aim)
    seconds = time.process_time() - start
    with capsys.disabled():
        print(f"\nseed {seed}, least order {least_order:g}, {aim}: {seconds:.2f} s, cash {found.cash:.2f}")
    assert seconds < SECONDS
    assert all(order.goods >= least_order - 1e-6 for order in found.orders)
