"""What a type checker sees of the front door: mypy reads this file beside the package, nothing runs it.

A name that is misspelt must be an error: an unused "type: ignore" would be one as well.
"""

from __future__ import annotations

from typing import assert_type

import optiform
from optiform import Answer, Formula, Sheet, TradeOff, design, sheet

optiform.desing  # type: ignore[attr-defined]  # noqa: B018


def first(path: str) -> Formula:
    """Return the best formula of a brief."""
    answer = design(path)
    assert_type(answer, Answer)
    return answer.formulas[0]


def made(formula: Formula) -> Sheet:
    """Return its sheets for two kilograms."""
    return sheet(formula, "2 kg")


assert_type(optiform.tradeoff("nettle.toml"), TradeOff)
