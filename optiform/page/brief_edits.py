"""Returns the edits that turn the file of one brief into that of another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from optiform.brief import Brief
from optiform.brief.keys import LISTS
from optiform.page.edits import Edit

RULES = ("needs", "incompatible", "when", "linear")
WRITTEN = ("keep", "hold", "at_most_new", "at_most_dropped")
"""Keys of a baseline that a change may move."""


def differences(old: Brief, new: Brief) -> tuple[Edit, ...]:
    """Return the edits that turn the file of one brief into that of another.

    Raises
    ------
    ValueError
        Where they differ in what stands in another file: stock, prices, the library.
    """
    if old.shelf != new.shelf:
        raise ValueError("what is on the shelf stands in a file of its own")
    found = [*_targets(old, new)]
    for name in LISTS:
        before, after = (getattr(brief.rules if name in RULES else brief, name) for brief in (old, new))
        found += _entries(name, before, after)
    if old.baseline is not None and new.baseline is not None:
        for key in WRITTEN:
            before, after = getattr(old.baseline, key), getattr(new.baseline, key)
            if before != after:
                found.append(Edit(("baseline", key), _plain(after) or None))
    return tuple(found)


def _targets(old: Brief, new: Brief) -> list[Edit]:
    found = []
    for name in dict.fromkeys((*old.targets, *new.targets)):
        before, after = old.targets.get(name), new.targets.get(name)
        if after is None:
            found.append(Edit(("targets", name), None))
        elif before is None:
            found.append(Edit(("targets", name), _stated(after)))
        else:
            found += [Edit(("targets", name, key), value) for key, value in _moved(before, after).items()]
    return found


def _entries(section: str, old: Sequence[Any], new: Sequence[Any]) -> list[Edit]:
    """Return the edits of a list: entries that moved, else those that went, the last first, and those that came."""
    if old == new:
        return []
    if len(old) == len(new):
        return [
            Edit((section, number, key), value)
            for number, (before, after) in enumerate(zip(old, new, strict=True))
            for key, value in _moved(before, after).items()
        ]
    gone = [number for number, entry in enumerate(old) if entry not in new]
    come = [entry for entry in new if entry not in old]
    left = len(old) - len(gone)
    return [
        *(Edit((section, number), None) for number in reversed(gone)),
        *(Edit((section, left + number), _stated(entry)) for number, entry in enumerate(come)),
    ]


def _moved(old: Any, new: Any) -> dict[str, Any]:
    """Return the keys that differ, None for those that go."""
    before, after = old.model_dump(), new.model_dump()
    return {key: _plain(value) for key, value in after.items() if value != before[key]}


def _stated(value: Any) -> dict[str, Any]:
    """Return the keys of an entry that say something."""
    return {key: _plain(item) for key, item in value.model_dump(exclude_defaults=True).items()}


def _plain(value: Any) -> Any:
    """Return a value as a file has it: whole numbers without a point, lists and tables plain."""
    if isinstance(value, float) and value == int(value):
        return int(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return {key: _plain(item) for key, item in value.items()} if hasattr(value, "items") else value
