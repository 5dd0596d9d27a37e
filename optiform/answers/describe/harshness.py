"""Tells what each material takes from the mildness of a formula."""

from __future__ import annotations

from dataclasses import dataclass

from optiform.answers.model.answer import Formula


@dataclass(frozen=True)
class Harshness:
    """What one material takes from the mildness.

    Attributes
    ----------
    active : float  [% w/w]
        Active matter that it brings.
    share : float  [% of active matter]
    index : float
        Mildness of what it brings, 0 to 100.
    lost : float  [points]
        What it takes away: over all materials these add up to 100 - mildness.
    """

    name: str
    active: float
    share: float
    index: float
    lost: float


def harshness_of(formula: Formula) -> tuple[Harshness, ...]:
    """Return what each material takes from the mildness, the harshest first; empty where none is known.

    A material of active matter a and index m loses a * (100 - m) / (all active matter) points.
    """
    figures = {figure.measure: figure for figure in formula.figures}
    load, active = figures.get("irritation load"), figures.get("active matter")
    if load is None or active is None or not load.value or not active.value:
        return ()
    names = {line.material: line.name for line in formula.lines}
    burden = dict(load.parts)
    found = [
        Harshness(
            name=names[material],
            active=part,
            share=100.0 * part / active.value,
            index=100.0 - burden.get(material, 0.0) / part,
            lost=burden.get(material, 0.0) / active.value,
        )
        for material, part in active.parts
        if part > 0
    ]
    return tuple(sorted(found, key=lambda item: (-item.lost, item.name)))
