"""Tells which preservative system a formula has, by what is in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiform.library.models import Library, PreservativeSystem
    from optiform.vectors import Floats


def system_in(library: Library, amounts: Floats) -> PreservativeSystem | None:
    """Return the preservative system whose members are all there and whose windows are met best, or None.

    `amounts` has shape (n,)  [% w/w].
    """
    best: tuple[float, str, PreservativeSystem] | None = None
    for system in library.systems:
        off = _off(library, system, amounts)
        if off is not None and (best is None or (off, system.name) < best[:2]):
            best = (off, system.name, system)
    return None if best is None else best[2]


def _off(library: Library, system: PreservativeSystem, amounts: Floats) -> float | None:
    """Return how far a formula is from a system, members of others counted in; None where a member lacks."""
    index = library.arrays.material_index
    held = {member: float(amounts[index[member]]) for member in system.members}
    lacking = any(held[member] <= 0 < low for member, (low, _) in system.members.items())
    if lacking or not any(held.values()):
        return None
    off = sum(max(low - held[m], 0.0) + max(held[m] - high, 0.0) for m, (low, high) in system.members.items())
    strangers = dict.fromkeys(member for other in library.systems for member in other.members)
    return off + sum(float(amounts[index[member]]) for member in strangers if member not in system.members)
