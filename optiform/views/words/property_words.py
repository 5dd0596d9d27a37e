"""Words the properties that changed between two formulas although nobody asked."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.changes import PropertyChange
from optiform.views.words.blocks import joined

TAGGED = "has something tagged "
"""How a change of what a library tags begins; what came and what went stand together."""

HELD = {"yes": "something", "may": "perhaps something", "no": "nothing"}
"""What a formula has of a tag."""


def changes_of(properties: Sequence[PropertyChange]) -> list[str]:
    """Return each change in a few words; tags that come or go in one clause each."""
    tags = [
        item for item in properties if item.what.startswith(TAGGED) and "may" not in (item.before, item.after)
    ]
    come, gone = (
        [item.what.removeprefix(TAGGED) for item in tags if item.after == after] for after in ("yes", "no")
    )
    told = [_change(item) for item in properties if item not in tags]
    told += [f"now something tagged {joined(come)}"] if come else []
    return told + ([f"nothing tagged {joined(gone, 'or')} any more"] if gone else [])


def _change(item: PropertyChange) -> str:
    if item.what.startswith(TAGGED):
        tag = item.what.removeprefix(TAGGED)
        return f"now {HELD[item.after]} tagged {tag}, before {HELD[item.before]}"
    if not (item.gone or item.new):
        return f"{item.what}: {item.before}, now {item.after}"
    told = [
        f"{word} {joined(names)}" for word, names in (("no longer", item.gone), ("now", item.new)) if names
    ]
    return f"{item.what}: {', '.join(told)}"
