"""Tells between which pH everything works that a formula holds."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from optiform.library.models import Library, PreservativeSystem, Rules
from optiform.library.selection import resolve

Range = tuple[float | None, float | None]


def pH_range(
    library: Library,
    used: Collection[str],
    working: Collection[str],
    systems: Iterable[PreservativeSystem],
    rules: Iterable[Rules],
    groups: Collection[Collection[str]] = (),
) -> Range:
    """Return the lowest and highest pH that suits systems, materials and rules; None for an end that nothing asks for.

    Parameters
    ----------
    used : collection of str
        Ids of everything in the formula: what puts a rule to sleep is looked for there.
    working : collection of str
        Ids of the materials whose own ranges and rules count.
    groups : collection of collection of str
        Ids of which at least one is used, whichever: a rule that is asked of all of them counts.
    """
    ranges = [system.working_pH for system in systems]
    ranges += [(library.material[name].pH_min, library.material[name].pH_max) for name in working]
    for some in rules:
        ranges += _ruled(library, used, [*({name} for name in working), *groups], some)
    low = max((low for low, _ in ranges if low is not None), default=None)
    high = min((high for _, high in ranges if high is not None), default=None)
    return low, high


def _ruled(
    library: Library, used: Collection[str], groups: Collection[Collection[str]], rules: Rules
) -> Iterator[Range]:
    """Yield the pH ranges that rules ask for of all the materials of some group."""
    for rule in rules.when:
        if rule.measure != "pH":
            continue
        asked = set(resolve(rule.material, library))
        if any(asked.issuperset(group) for group in groups):
            asleep = rule.unless is not None and not set(used).isdisjoint(resolve(rule.unless, library))
            if not asleep:
                yield rule.at_least, rule.at_most
