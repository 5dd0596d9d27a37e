"""Returns the brief that a suggestion makes, as if the user had typed it."""

from __future__ import annotations

from typing import Any

from optiform.answers.model.answer import Change, Relaxation
from optiform.brief.models import Baseline, Brief, Exclude, Target
from optiform.library.models import Library
from optiform.library.selection import parse_reference, resolve
from optiform.program import Requirement
from optiform.program.rows.learned_rows import TRIED

PH_SCALE = {"at_least": 0.0, "at_most": 14.0}
LISTS = ("include", "choose", "share", "ratio", "exclude")


def typed_back(brief: Brief, *changes: Change | Relaxation) -> Brief:
    """Return the brief with suggestions of a conflict typed into it.

    Raises
    ------
    ValueError
        If a change is about something that the brief does not say.
    """
    for change in sorted(changes, key=lambda change: _place(change.requirement), reverse=True):
        brief = _typed(brief, change)
    return brief


def _place(requirement: Requirement) -> int:
    """Return a requirement's place in its list: what stands last is changed first, so that places stay true."""
    return requirement.key.entry


def without(brief: Brief, requirement: Requirement) -> Brief:
    """Return the brief without one of its requirements; a pH limit is widened to the end of the scale."""
    if requirement.measure == "pH" and requirement.side in PH_SCALE:
        return _at(brief, requirement, PH_SCALE[requirement.side])
    return _at(brief, requirement, None)


def _typed(brief: Brief, change: Change | Relaxation) -> Brief:
    requirement = change.requirement
    if isinstance(change, Relaxation):
        return _at(brief, requirement, change.to)
    if change.drop:
        return without(brief, requirement)
    if change.readmit and requirement.key.section == "exclude":
        return _readmitted(brief, requirement, change.readmit)
    if change.readmit and requirement.key.section == "shelf":
        return _on_shelf(brief, change.readmit)
    if change.readmit:
        return _into_range(brief, change.readmit)
    return _at(brief, requirement, change.to)


def _at(brief: Brief, requirement: Requirement, to: float | None) -> Brief:
    """Return the brief with a requirement at another bound, or without it."""
    section = requirement.key.section
    if section in ("targets", TRIED):
        return _target(brief, requirement, to)
    if section == "brief":
        return _rule(brief, requirement, to)
    if section in LISTS:
        return _entry(brief, requirement, to)
    if section in ("hold", "keep", "baseline"):
        return _baseline(brief, requirement, to)
    if section == "shelf":
        return _on_shelf(brief, requirement.subject)
    if section == "stock":
        return _in_stock(brief, requirement.key.name, to)
    raise ValueError(f"the brief does not say: {requirement.title}")


def _sides(requirement: Requirement, to: float | None) -> dict[str, Any]:
    """Return the keys that carry a requirement's bound, with their new value."""
    sides = ("at_least", "at_most") if requirement.side == "equal" else (requirement.side or "",)
    value = to if to is None or requirement.unit != "materials" else round(to)
    return dict.fromkeys(sides, value)


def _target(brief: Brief, requirement: Requirement, to: float | None) -> Brief:
    targets, name = dict(brief.targets), requirement.key.name
    if requirement.key.section == TRIED:
        targets[name] = targets[name].model_copy(update={"tried": "beyond"})
        return _with(brief, targets=targets)
    if requirement.side is None:
        targets.pop(name)
        return _with(brief, targets=targets)
    moved = {key: None if value is None else float(value) for key, value in _sides(requirement, to).items()}
    target = Target.model_validate({**targets[name].model_dump(), **moved})
    if target.at_least is None and target.at_most is None:
        targets.pop(name)
    else:
        targets[name] = target
    return _with(brief, targets=targets)


def _entry(brief: Brief, requirement: Requirement, to: float | None) -> Brief:
    """Return the brief with one entry of a list changed, or gone where nothing is left of it.

    An include without its lower bound would still ask for the material to be used: what is left of
    it is written as a target.
    """
    section, place = requirement.key.section, requirement.key.entry - 1
    entries: list[Any] = list(getattr(brief, section))
    if section == "include" and to is None and requirement.side == "at_least":
        entry, entries[place] = entries[place], None
        if entry.at_most is not None:
            name = f"{entry.kind}:{entry.word}"
            brief = _with(brief, targets={**brief.targets, name: Target(at_most=entry.at_most)})
        return _without_gaps(brief, section, entries)
    whole = section == "exclude" or requirement.key.side == "used"
    if not whole:
        entries[place] = entries[place].model_copy(update=_sides(requirement, to))
    if whole or (entries[place].at_least is None and entries[place].at_most is None):
        entries[place] = None
    return _without_gaps(brief, section, entries)


def _without_gaps(brief: Brief, section: str, entries: list[Any]) -> Brief:
    return _with(brief, **{section: tuple(entry for entry in entries if entry is not None)})


def _rule(brief: Brief, requirement: Requirement, to: float | None) -> Brief:
    kind, position = requirement.key.name, requirement.key.entry - 1
    rules: list[Any] = list(getattr(brief.rules, kind))
    if requirement.bound is None or to is None:
        rules.pop(position)
    elif kind == "needs":
        rules[position] = rules[position].model_copy(update={"ratio": to})
    else:
        rules[position] = rules[position].model_copy(update=_sides(requirement, to))
    return _with(brief, rules=brief.rules.model_copy(update={kind: tuple(rules)}))


def _baseline(brief: Brief, requirement: Requirement, to: float | None) -> Brief:
    baseline = brief.baseline
    if baseline is None:
        raise ValueError(f"the brief does not say: {requirement.title}")
    section, name = requirement.key.section, requirement.key.name
    if section == "hold":
        update: dict[str, Any] = {"hold": {key: value for key, value in baseline.hold.items() if key != name}}
    elif section == "keep":
        update = {"keep": _kept(brief.library, baseline, requirement)}
    else:
        update = {name: None if to is None else round(to)}
    return _with(brief, baseline=baseline.model_copy(update=update))


def _kept(library: Library, baseline: Baseline, requirement: Requirement) -> tuple[str, ...]:
    """Return what is still kept once one thing is not: of a tag or function, those of its materials that are there.

    So others of that tag or function may come in.
    """
    name, kept = requirement.key.name, list[str]()
    present = {material for material, percent in baseline.lines if percent > 0}
    for reference in baseline.keep:
        kind, _ = parse_reference(reference)
        members = () if kind == "substance" else resolve(reference, library)
        if reference == name or name in members:
            kept += [member for member in members if member in present and member != name]
        else:
            kept.append(reference)
    return tuple(dict.fromkeys(kept))


def _readmitted(brief: Brief, requirement: Requirement, names: tuple[str, ...]) -> Brief:
    """Return the brief with one exclusion spelt out material by material, some of them let in again."""
    place = requirement.key.entry - 1
    spelt = tuple(Exclude(material=name) for name in requirement.subject if name not in names)
    exclude = (*brief.exclude[:place], *spelt, *brief.exclude[place + 1 :])
    return _with(brief, exclude=exclude)


def _on_shelf(brief: Brief, names: tuple[str, ...]) -> Brief:
    """Return the brief with more materials on its shelf, as much of each as is wanted."""
    return _with(brief, shelf={**(brief.shelf or {}), **dict.fromkeys(names)})


def _in_stock(brief: Brief, name: str, to: float | None) -> Brief:
    """Return the brief with so much of a material on its shelf that it may be `to` % w/w of the batch; None: enough."""
    shelf, weighing = brief.shelf, brief.weighing
    if shelf is None or weighing is None:
        raise ValueError(f"the brief states no stock of {name} for a batch")
    return _with(brief, shelf={**shelf, name: None if to is None else to * weighing.batch_g / 100.0})


def _into_range(brief: Brief, systems: tuple[str, ...]) -> Brief:
    """Return the brief with its bench pH inside the range of a preservative system."""
    low, high = next(system.working_pH for system in brief.library.systems if system.name == systems[0])
    target = brief.targets["pH"]
    at_least = low if target.at_least is None or _outside(target.at_least, low, high) else target.at_least
    at_most = high if target.at_most is None or _outside(target.at_most, low, high) else target.at_most
    moved = target.model_copy(update={"at_least": at_least, "at_most": at_most})
    return _with(brief, targets={**brief.targets, "pH": moved})


def _outside(value: float, low: float | None, high: float | None) -> bool:
    return (low is not None and value < low) or (high is not None and value > high)


def _with(brief: Brief, **fields: Any) -> Brief:
    return brief.model_copy(update=fields)
