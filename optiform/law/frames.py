"""Frame formulations: ceilings per class of ingredient that poison centres know a product type by."""

from __future__ import annotations

from collections.abc import Mapping

from optiform.law.models import Area, Frame
from optiform.law.shipped import shipped_frames
from optiform.tolerances import ROUNDING


def exceeded(area: Area, totals: Mapping[str, float]) -> tuple[tuple[Frame, float], ...]:
    """Return the ceilings that a formula is above, each with what the formula holds  [% w/w].

    Parameters
    ----------
    totals : mapping of str to float
        % w/w by charge class of surfactants (anionic, amphoteric, nonionic, cationic) and by function
        (thickener, humectant, oil, conditioner, preservative, fragrance, colourant, chelator).

    Notes
    -----
    A sanity check: a formula outside is notified with its exact or ranged composition instead. The
    ceilings are no limits of the law, and inside them nothing is thereby safe.
    """
    held = (
        (frame, sum(totals.get(name, 0.0) for name in frame.totals))
        for frame in shipped_frames()
        if area in frame.area
    )
    return tuple((frame, percent) for frame, percent in held if percent > frame.max_percent + ROUNDING)
