"""The questions as functions: a file or a value goes in, a frozen answer comes out.

Wherever a brief, a library or a formula is meant, a path will do, and so will what another question returned.
"""

from optiform.api.making import bench, family, lot, recost, sheet, shop, swap, weigh
from optiform.api.questions import check, design, evaluate, reformulate, tradeoff, why

__all__ = [
    "bench",
    "check",
    "design",
    "evaluate",
    "family",
    "lot",
    "recost",
    "reformulate",
    "sheet",
    "shop",
    "swap",
    "tradeoff",
    "weigh",
    "why",
]
