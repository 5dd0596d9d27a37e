"""States the rules of the library and of the brief: needs, incompatible, when, linear."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from optiform.library.models import Incompatible, LinearRule, Needs, Rule, Rules, When
from optiform.library.selection import named, resolve
from optiform.measures import Side
from optiform.measures.acidity import Acidity
from optiform.measures.amounts import Count
from optiform.measures.learned import Learned, bent
from optiform.measures.measure import Measure
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated
from optiform.program.requirement import Key, Origin, limit_title
from optiform.program.rows.acid_rows import gate
from optiform.program.rows.draft import Draft, protects, sides
from optiform.program.rows.learned_rows import stay_near_when
from optiform.vectors import Indices


def add_rules(draft: Draft, rules: Rules, origin: Origin) -> None:
    """Add the rules of one origin."""
    for position, needs in enumerate(rules.needs, 1):
        _needs(draft, needs, Key(origin, ("needs", position)), origin)
    for position, pair in enumerate(rules.incompatible, 1):
        _incompatible(draft, pair, Key(origin, ("incompatible", position)), origin)
    for position, when in enumerate(rules.when, 1):
        _when(draft, when, Key(origin, ("when", position)), origin)
    for position, linear in enumerate(rules.linear, 1):
        _linear(draft, linear, Key(origin, ("linear", position)), origin)


def _positions(draft: Draft, reference: str) -> list[int]:
    return [draft.position(name) for name in resolve(reference, draft.library)]


def _guards(draft: Draft, measure: Measure, side: Side) -> bool:
    """Tell whether a bound asks for nothing but what protects a wash: for enough of it, whatever else is there."""
    wanted = measure.numerator > 0 if side == "at_least" else measure.numerator < 0
    return protects(draft.library, wanted)


def _facts(rule: Rule, origin: Origin) -> dict[str, Any]:
    """Return what every requirement of a rule says of it: a rule of the brief moves, one of the library does not."""
    return {"origin": origin, "movable": origin == "brief", "why": rule.why, "source": rule.source}


def _needs(draft: Draft, rule: Needs, key: Key, origin: Origin) -> None:
    needy, helpers = _positions(draft, rule.material), _positions(draft, rule.other)
    if not needy:
        return
    if rule.ratio is not None:
        flags = np.zeros((2, len(draft.library.materials)))
        flags[0, helpers], flags[1, needy] = 1.0, 1.0
        measure = Measure(f"{rule.other} per {rule.material}", "g per g", flags[0], flags[1], lowest=0.0)
        label = f"{named(rule.other)} per {named(rule.material)}"
        draft.limit(key, measure, rule.ratio, None, label=label, **_facts(rule, origin))
        return
    movable = origin == "brief" and not protects(draft.library, draft.library.arrays.flags(helpers))
    title = f"{named(rule.material)} needs {named(rule.other)}"
    requirement = draft.require_choice(key, title, **{**_facts(rule, origin), "movable": movable})
    present = [column for choices in draft.all_used(helpers) for column in choices.tolist()]
    choice = draft.any_of(needy)
    draft.add_row(
        requirement, [*present, *choice], [*([1.0] * len(present)), *([-1.0] * len(choice))], lower=0.0
    )


def _incompatible(draft: Draft, rule: Incompatible, key: Key, origin: Origin) -> None:
    one, other = _positions(draft, rule.one), _positions(draft, rule.other)
    both = sorted(set(one) & set(other))
    if len(set(one) | set(other)) < 2 or not one or not other:
        return
    title = f"{named(rule.one)} never with {named(rule.other)}"
    requirement = draft.require_choice(key, title, **_facts(rule, origin))
    strangers = {*one, *other}
    for index in both:
        strangers.discard(index)
        _never_with(draft, requirement, draft.used(index), sorted(strangers))
    fewer, more = sorted(([i for i in one if i not in both], [i for i in other if i not in both]), key=len)
    if fewer:
        _never_with(draft, requirement, draft.any_of(fewer), more)


def _never_with(draft: Draft, requirement: int, group: Indices, indices: Sequence[int]) -> None:
    """Let none of the materials be used together with a group."""
    used = draft.all_used(indices)
    if len(group) == 1:
        pairs = [(int(group[0]), int(choices[0])) for choices in used if len(choices) == 1]
        draft.add_alike(requirement, pairs, (1.0, 1.0), upper=1.0)
    for choices in used:
        if len(group) > 1 or len(choices) > 1:
            draft.add_row(requirement, [*group, *choices], [1.0] * (len(group) + len(choices)), upper=1.0)


def _when(draft: Draft, rule: When, key: Key, origin: Origin) -> None:
    users = _positions(draft, rule.material)
    if not users:
        return
    measure = draft.catalogue.find(rule.measure)
    asked = list(sides(rule.at_least, rule.at_most))
    asleep = [] if rule.unless is None else _positions(draft, rule.unless)
    unless = "" if rule.unless is None else f" without {named(rule.unless)}"
    whom = f"with {named(rule.material)}{unless}"
    if isinstance(measure, Acidity):
        words = " and ".join(
            limit_title(named(rule.measure), side, bound, measure.unit) for side, bound in asked
        )
        subject = () if rule.name else draft.names(users)
        title = rule.name or f"{whom}: {words}"
        requirement = draft.require_choice(key, title, subject=subject, **_facts(rule, origin))
        gate(draft, requirement, draft.any_of(users, asleep), (rule.at_least, rule.at_most))
        return
    if bent(measure) or isinstance(measure, (Viscosity, Count, Undissociated)):
        draft.faults.add(str(key), f"'{rule.measure}' cannot be a condition", allowed="totals, means and pH")
        return
    choice = draft.any_of(users, asleep)
    label = f"{rule.name or whom}: {named(rule.measure)}"
    for side, bound in asked:
        facts = _facts(rule, origin) | {"measure": rule.measure, "subject": draft.names(users)}
        facts["movable"] &= not _guards(draft, measure, side)
        requirement = draft.require_bound(key.end(side), label, side, bound, measure.unit, **facts)
        draft.when(requirement, choice, measure, side, bound, () if asleep else users)
        if measure.missing is not None:
            _never_with(draft, requirement, choice, np.flatnonzero(measure.missing).tolist())
        if isinstance(measure, Learned):
            _never_with(draft, requirement, choice, stay_near_when(draft, requirement, choice, measure))


def _linear(draft: Draft, rule: LinearRule, key: Key, origin: Origin) -> None:
    total = np.zeros(len(draft.library.materials))
    offset = 0.0
    for term in rule.terms:
        if term.measure is not None:
            measure = draft.catalogue.find(term.measure)
            total += term.times * measure.numerator
            offset += term.times * measure.offset
        else:
            for index in _positions(draft, term.material or ""):
                total[index] += term.times
    measure = Measure(rule.name, rule.unit, total, offset=offset)
    guarded = any(_guards(draft, measure, side) for side, _ in sides(rule.at_least, rule.at_most))
    facts = _facts(rule, origin)
    facts["movable"] &= not guarded
    draft.limit(key, measure, rule.at_least, rule.at_most, **facts)
