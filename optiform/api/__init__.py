"""The questions as functions: a file or a value goes in, a frozen answer comes out.

Wherever a brief, a library or a formula is meant, a path will do, and so will what another question returned.
"""

from optiform.api.making import batch_records, bench, family, lot, recost, sheet, shop, swap, weigh
from optiform.api.questions import check, design, evaluate, reformulate, tradeoff, why
from optiform.api.trials import add_record, add_trial, learn, list_trials, next_trial, plan_trials

__all__ = [
    "add_record",
    "add_trial",
    "batch_records",
    "bench",
    "check",
    "design",
    "evaluate",
    "family",
    "learn",
    "list_trials",
    "lot",
    "next_trial",
    "plan_trials",
    "recost",
    "reformulate",
    "sheet",
    "shop",
    "swap",
    "tradeoff",
    "weigh",
    "why",
]
