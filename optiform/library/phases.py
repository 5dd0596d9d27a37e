"""When each material of a formula goes in: its phase beside what else is there."""

from __future__ import annotations

from collections.abc import Iterable

from optiform.library.rows import Material, Phase


def phases_of(materials: Iterable[Material]) -> dict[str, Phase | None]:
    """Return the phase of each material of a formula: its own, save that without a gum none has to be wetted.

    A liquid that wets gums goes into the water where the formula has no gum.
    """
    found = list(materials)
    gums = any(material.phase == "gum" and material.function != "humectant" for material in found)
    return {
        material.id: "water" if material.phase == "gum" and not gums else material.phase for material in found
    }
