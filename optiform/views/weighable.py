"""The weighable version of a formula beside its exact one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from optiform.views.numbers import fixed, short

if TYPE_CHECKING:
    from optiform.answers.answer import Formula


def grams_of(formula: Formula) -> dict[str, str]:
    """Return the grams to weigh by material id, as written on a label; empty where there are none."""
    version: Any = formula.weighable
    return {} if version is None else {line.material: short(line.grams) for line in version.lines}


def weighable_heading(formula: Formula) -> str:
    """Return what the column of grams stands for."""
    version: Any = formula.weighable
    return (
        f"Grams for a batch of {short(version.batch_g)} g, as the balance can weigh them; weighed so it costs "
        f"{fixed(version.cost, 2)} {formula.currency}/kg."
    )
