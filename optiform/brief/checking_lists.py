"""Checks the list entries of a brief: include, exclude, choose, share, ratio and its own rules."""

from __future__ import annotations

from functools import partial

from optiform.brief.context import Context
from optiform.brief.models import SELECTORS, Choose, Selector, Share
from optiform.brief.preferring import preference_faults
from optiform.brief.validation import Entries, place
from optiform.faults import nearest
from optiform.library.selection import FUNCTIONS, parse_reference, select
from optiform.library.waiving import guard_names
from optiform.measures.parts import CHARGE_CLASSES, known_tags

EACH = tuple(dict.fromkeys(("surfactant", *CHARGE_CLASSES, *FUNCTIONS)))


def check_lists(entries: Entries, context: Context) -> None:
    """Note everything wrong in the list entries of a brief."""
    lists = entries.lists
    for number, include in lists["include"]:
        _check_selector(include, "include", number, context)
        context.bounds(include.at_least, include.at_most, place("include", number), "% w/w", needed=False)
    for number, exclude in lists["exclude"]:
        _check_selector(exclude, "exclude", number, context)
    for number, choose in lists["choose"]:
        _check_choose(choose, number, context)
    for number, share in lists["share"]:
        _check_share(share, number, context)
    for number, ratio in lists["ratio"]:
        context.amount(ratio.of, place("ratio", number, "of"))
        context.amount(ratio.to, place("ratio", number, "to"))
        context.two_things(ratio.of, ratio.to, place("ratio", number))
        context.bounds(ratio.at_least, ratio.at_most, place("ratio", number))
    _check_preferences(entries, context)
    _check_rules(entries, context)
    guards = guard_names(context.library)
    for number, waived in lists["waive"]:
        if waived.rule not in guards:
            context.faults.add(
                place("waive", number, "rule"),
                f"the library has no guard called '{waived.rule}'",
                allowed=", ".join(guards) or "nothing: no rule of this library carries a name",
                nearest=nearest(waived.rule, guards),
            )


def _check_preferences(entries: Entries, context: Context) -> None:
    """Check the soft wishes: a known measure that can be fallen short of, bounds in its range, an aim to pay in."""
    aim = entries.tables["aim"].aim().measure if "aim" in entries.tables else "cost"
    find = context.catalogue.find
    for number, wish in entries.lists["prefer"]:
        where = place("prefer", number)
        measure = context.measure(wish.measure, place("prefer", number, "measure"))
        context.bounds(wish.at_least, wish.at_most, where, "" if measure is None else measure.unit)
        if measure is None:
            continue
        context.in_range(measure, wish, partial(place, "prefer", number))
        known = {name: target for name, target in entries.targets.items() if context.catalogue.known(name)}
        aimed = find(aim) if context.catalogue.known(aim) else None
        for key, message, allowed in preference_faults(wish, aimed, known, find):
            context.faults.add(place("prefer", number, key), message, allowed=allowed)


def _check_rules(entries: Entries, context: Context) -> None:
    for number, needs in entries.lists["needs"]:
        context.reference(needs.material, place("needs", number, "material"))
        context.reference(needs.other, place("needs", number, "other"))
        context.two_things(needs.material, needs.other, place("needs", number))
    for number, pair in entries.lists["incompatible"]:
        context.reference(pair.one, place("incompatible", number, "one"))
        context.reference(pair.other, place("incompatible", number, "other"))
        context.two_things(pair.one, pair.other, place("incompatible", number))
    for number, when in entries.lists["when"]:
        context.reference(when.material, place("when", number, "material"))
        context.when(when, number)
        context.bounds(when.at_least, when.at_most, place("when", number))
    for number, linear in entries.lists["linear"]:
        context.terms(linear, number)
        for term_number, term in enumerate(linear.terms, 1):
            if term.material is not None and term.measure is None:
                context.reference(
                    term.material, place("linear", number, f"terms, entry {term_number}, material")
                )
        context.bounds(linear.at_least, linear.at_most, place("linear", number))


def _check_selector(entry: Selector, section: str, number: int, context: Context) -> None:
    given = [kind for kind in SELECTORS if getattr(entry, kind) is not None]
    if len(given) != 1:
        said = "names nothing" if not given else "names " + " and ".join(given)
        context.faults.add(place(section, number), said, allowed="exactly one of " + ", ".join(SELECTORS))
        return
    context.word(entry.kind, entry.word, place(section, number, entry.kind))


def _check_choose(choose: Choose, number: int, context: Context) -> None:
    where = place("choose", number)
    given = [key for key in ("function", "tag", "among") if getattr(choose, key)]
    context.bounds(choose.at_least, choose.at_most, where)
    if len(given) != 1:
        said = "counts nothing" if not given else "counts " + " and ".join(given)
        context.faults.add(where, said, allowed="exactly one of function, tag, among")
        return
    if choose.among:
        listed = {
            place("choose", number, f"among, entry {i}"): word for i, word in enumerate(choose.among, 1)
        }
        known = [context.word("material", word, at) for at, word in listed.items()]
        if not all(known):
            return
        available, what = len(set(choose.among)), "materials in the list"
    else:
        kind, word = ("function", choose.function) if choose.function else ("tag", choose.tag)
        if not context.word(kind, str(word), place("choose", number, kind)):
            return
        available = len(select(context.library, kind, str(word)).sure)
        what = f"materials of {kind} {word} in the library"
    if choose.at_least is not None and choose.at_least > available:
        context.faults.add(
            place("choose", number, "at_least"),
            f"{choose.at_least} different ones are more than there are",
            allowed=f"at most {available}, the {what}",
        )


def _check_share(share: Share, number: int, context: Context) -> None:
    where = place("share", number)
    context.bounds(share.at_least, share.at_most, where, "%")
    if (share.of is None) == (share.each is None):
        said = "names nothing" if share.of is None else "names of and each"
        context.faults.add(where, said, allowed="exactly one of of, each")
    elif share.each is not None:
        _check_each(share, number, context)
    elif share.of is not None:
        _check_part(share.of, place("share", number, "of"), context)
    if share.base != "active matter":
        context.total(share.base, place("share", number, "base"))


def _check_each(share: Share, number: int, context: Context) -> None:
    where = place("share", number, "each")
    context.known(str(share.each), EACH, where, f"'{share.each}' cannot be taken one by one")
    if share.at_least is not None:
        context.faults.add(
            place("share", number, "at_least"),
            "a floor under every single substance would force all of them in",
            allowed="at_most with each; at_least with of",
        )


def _check_part(word: str, where: str, context: Context) -> None:
    """Check a charge class, or a material, substance or tag, with or without its kind in front."""
    library = context.library
    kind, _ = parse_reference(word)
    if ":" in word and kind in SELECTORS:
        context.reference(word, where)
        return
    known = (*sorted(known_tags(library)), *library.substance, *library.material, *CHARGE_CLASSES)
    if word not in known:
        context.faults.add(
            where,
            f"there is no class, material, substance or tag '{word}' in the library",
            allowed=f"{', '.join(CHARGE_CLASSES)}, a material id, an INCI name, or tag: and the like",
            nearest=nearest(word, known),
        )
