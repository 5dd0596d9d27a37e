"""Libraries with specification windows, and every extreme lot of a material by brute force."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

import numpy as np

from optiform.library.models import Library

Window = tuple[float | None, float | None]


def with_windows(library: Library, windows: Mapping[tuple[str, str], Window]) -> Library:
    """Return a library in which some parts have a specification window."""
    parts = tuple(
        part.model_copy(update=dict(zip(("low", "high"), windows[part.material, part.inci], strict=True)))
        if (part.material, part.inci) in windows
        else part
        for part in library.parts
    )
    return library.model_copy(update={"parts": parts})


def extreme_lots(low: np.ndarray, high: np.ndarray) -> Iterator[np.ndarray]:
    """Yield every corner of the windows that adds up to 1: all parts but one at an end, that one the rest."""
    size = len(low)
    for rest in range(size):
        others = [place for place in range(size) if place != rest]
        for ends in itertools.product((0, 1), repeat=size - 1):
            lot = np.zeros(size)
            for place, end in zip(others, ends, strict=True):
                lot[place] = high[place] if end else low[place]
            lot[rest] = 1.0 - lot.sum()
            if low[rest] - 1e-12 <= lot[rest] <= high[rest] + 1e-12:
                yield lot


def library_at(library: Library, lots: Mapping[str, np.ndarray]) -> Library:
    """Return a library in which the materials named have exactly that composition, g per g in file order."""
    places: dict[str, int] = {}
    parts = []
    for part in library.parts:
        place = places.get(part.material, 0)
        places[part.material] = place + 1
        percent = part.percent
        if part.material in lots:
            percent = float(min(max(100.0 * lots[part.material][place], 0.0), 100.0))
        parts.append(part.model_copy(update={"percent": percent, "low": None, "high": None}))
    return library.model_copy(update={"parts": tuple(parts)})
