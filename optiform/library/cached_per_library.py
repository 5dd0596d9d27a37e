"""Lets a function of a library do its work once for each library."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from optiform.library.models import Library

Further = ParamSpec("Further")
Found = TypeVar("Found")


def cached_per_library(
    work: Callable[Concatenate[Library, Further], Found],
) -> Callable[Concatenate[Library, Further], Found]:
    """Let a function of a library (and of further hashable values) do its work once per library.

    Libraries are told apart as objects, not by their content, so nothing is ever compared. What
    comes back is shared: arrays among it are not to be changed.
    """

    @wraps(work)
    def once(library: Library, /, *further: Further.args, **named: Further.kwargs) -> Found:
        cache = library.arrays.cache
        key = (work, further, tuple(named.items()))
        if key not in cache:
            cache[key] = work(library, *further, **named)
        found: Found = cache[key]
        return found

    return once
