"""How a solve ends early: the first signal lets it come to its end with the best so far."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from optiform import stopping
from optiform.views.output import end_progress

STOPPED_EARLY = "Stopped early: what was not finished is left out, and not every figure is proven."


@contextmanager
def solving() -> Iterator[None]:
    """Let the first signal end a solve with the best so far; afterwards all is as it was."""
    try:
        with stopping.polite():
            yield
    finally:
        end_progress()
