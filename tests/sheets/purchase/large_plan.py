"""Ten products that share sixty materials, each in four packs from four suppliers: invented, by a seed."""

from __future__ import annotations

import numpy as np

from optiform.library.models import Library, Pack
from optiform.sheets.purchase.offers import Supplier
from optiform.sheets.purchase.shopping import Make
from tests.builders import tiny_library


def large_plan(seed: int, least_order: float) -> tuple[list[Make], Library, list[Supplier]]:
    """Return what is made, what is on offer, and suppliers who each ask for a least order and 6.00 for bringing it."""
    random = np.random.default_rng(seed)
    names = [f"m{i:02d}" for i in range(60)]
    packs = [
        Pack(material=name, size_g=size, price=round(float(size * random.uniform(0.004, 0.012)), 2),
             supplier=f"s{random.integers(0, 4)}")
        for name in names
        for size in (100.0, 250.0, 1000.0, 5000.0)
    ]  # fmt: skip
    makes = []
    for number in range(10):
        chosen = random.choice(names, size=15, replace=False)
        lines = [(str(name), float(random.uniform(0.1, 6.0))) for name in chosen]
        rest = 100.0 - sum(percent for _, percent in lines)
        makes.append(
            Make(
                title=str(number),
                lines=(("water", rest), *lines),
                batch_g=float(random.integers(2, 20)) * 1000,
            )
        )
    suppliers = [Supplier(name=f"s{i}", minimum_order=least_order, delivery=6.0) for i in range(4)]
    return makes, tiny_library([{"id": name} for name in names], packs=tuple(packs)), suppliers
