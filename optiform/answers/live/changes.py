"""One change to a brief in its own terms, and the brief that it makes, checked like one that is read from a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from optiform.brief.checking import check_entries
from optiform.brief.guards import missing_guards
from optiform.brief.keys import LISTS
from optiform.brief.models import Brief, Choose, Exclude, Include, Ratio, Share, Target
from optiform.brief.validation import Entries, place, read_one, target_place
from optiform.faults import BadInput, Fault, Faults
from optiform.program import Key

ENTRIES: dict[str, type[Include | Exclude | Choose | Share | Ratio]] = {
    "include": Include,
    "exclude": Exclude,
    "choose": Choose,
    "share": Share,
    "ratio": Ratio,
}
SIDES = {"at_least": ("at_least",), "at_most": ("at_most",), "equal": ("at_least", "at_most")}


@dataclass(frozen=True)
class Bound:
    """A wish at another bound: a target, or an end of a numbered entry of a list.

    Attributes
    ----------
    key : Key
        Section, place and side of the wish; of a target that the brief does not have yet, too.
    to : float, optional
        In the wish's own unit; None takes this side away.
    """

    key: Key
    to: float | None


@dataclass(frozen=True)
class Added:
    """One more entry in a list of the brief: something included, kept out, counted, shared or put in proportion."""

    section: str
    entry: Include | Exclude | Choose | Share | Ratio


@dataclass(frozen=True)
class Removed:
    """An entry of a list, or a target, taken away; `place` is its number, counted from 1, or the target's name."""

    section: str
    place: int | str


Change = Bound | Added | Removed


def changed(brief: Brief, change: Change) -> Brief:
    """Return a brief with one change made, checked against its library.

    Raises
    ------
    BadInput
        If the brief does not say what is changed, or says something impossible after it.
    """
    faults = Faults(brief.file)
    moved = brief.model_copy(update=_fields(brief, change, faults))
    faults.raise_if_any()
    rules = {name: getattr(brief.rules, name) for name in ("needs", "incompatible", "when", "linear")}
    lists = {name: rules[name] if name in rules else getattr(moved, name) for name in LISTS}
    numbered = {name: list(enumerate(entries, 1)) for name, entries in lists.items() if name != "waive"}
    tables = {"baseline": brief.baseline}
    check_entries(
        Entries({"users": brief.users}, tables, dict(moved.targets), {**numbered, "waive": []}),
        brief.library,
        faults,
        brief.known,
    )
    faults.raise_if_any()
    told = missing_guards(brief)
    notes = (*(note for note in brief.notes if note not in told), *missing_guards(moved))
    return moved.model_copy(update={"notes": notes})


def _fields(brief: Brief, change: Change, faults: Faults) -> dict[str, Any]:
    """Return the fields of a brief that a change replaces."""
    if isinstance(change, Bound):
        return _bounded(brief, change, faults)
    section = change.section
    if isinstance(change, Removed) and section == "targets":
        if change.place not in brief.targets:
            raise _unsaid(brief, f"[targets] {change.place}")
        return {"targets": {name: held for name, held in brief.targets.items() if name != change.place}}
    if isinstance(change, Removed):
        entries, number = _entry(brief, section, change.place)
        return {section: (*entries[: number - 1], *entries[number:])}
    if not isinstance(change.entry, ENTRIES.get(section, ())):
        raise _unsaid(brief, f"[[{section}]]")
    return {section: (*getattr(brief, section), change.entry)}


def _bounded(brief: Brief, change: Bound, faults: Faults) -> dict[str, Any]:
    """Return the targets, or the list, with one bound at another value; a target without any is gone."""
    key = change.key
    if key.side not in SIDES:
        raise _unsaid(brief, str(key))
    ends = dict.fromkeys(SIDES[key.side], change.to)
    if key.section == "targets":
        before = brief.targets.get(key.name, Target())
        target = read_one(Target, {**before.model_dump(), **ends}, target_place(key.name), faults)
        others = {name: held for name, held in brief.targets.items() if name != key.name}
        if target is None or (target.at_least is None and target.at_most is None):
            return {"targets": others}
        return {"targets": {**brief.targets, key.name: target}}
    entries, number = _entry(brief, key.section, key.entry)
    if key.section == "exclude":
        raise _unsaid(brief, str(key))
    if key.section == "choose":
        ends = {side: None if to is None else _whole(to) for side, to in ends.items()}
    where = place(key.section, number)
    entry = read_one(ENTRIES[key.section], {**entries[number - 1].model_dump(), **ends}, where, faults)
    return {key.section: (*entries[: number - 1], entry, *entries[number:])}


def _entry(brief: Brief, section: str, number: int | str) -> tuple[tuple[Any, ...], int]:
    """Return the entries of a list and the number of one that it has."""
    entries: tuple[Any, ...] = getattr(brief, section) if section in ENTRIES else ()
    if not isinstance(number, int) or not 1 <= number <= len(entries):
        raise _unsaid(brief, f"[[{section}]] {number}")
    return entries, number


def _whole(value: float) -> float:
    """Return a count as a whole number where it is one."""
    return int(value) if value == int(value) else value


def _unsaid(brief: Brief, where: str) -> BadInput:
    return BadInput([Fault(brief.file, where, "the brief has no such wish that could be changed")])
