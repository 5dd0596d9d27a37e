"""Checks a brief against its library and the measures; every fault is noted, none raised."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path

from optiform.brief.checking_lists import check_lists
from optiform.brief.context import Context
from optiform.brief.keys import AimKeys
from optiform.brief.models import BaselineKeys, Ranked, Target
from optiform.brief.validation import Entries, target_place
from optiform.faults import Faults
from optiform.law.models import JURISDICTIONS
from optiform.law.reading import read_limits, shipped_limits
from optiform.library.models import Library
from optiform.library.selection import FUNCTIONS
from optiform.measures import Catalogue, Conditions, Measure
from optiform.measures.acidity import Acidity, BufferCapacity
from optiform.measures.conditions import NO_TRIALS, BenchKnowledge
from optiform.measures.learned import Learned, bent
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated


def conditions_of(targets: Mapping[str, Target], known: BenchKnowledge = NO_TRIALS) -> Conditions:
    """Return the conditions that the targets and the bench set for every measure."""
    pH, viscosity = targets.get("pH"), targets.get("viscosity")
    return Conditions(
        pH_low=pH.at_least if pH else None,
        pH_high=pH.at_most if pH else None,
        bench=pH is not None and pH.set == "bench",
        base=viscosity.base if viscosity else None,
        known=known,
    )


def check_entries(
    entries: Entries, library: Library, faults: Faults, known: BenchKnowledge = NO_TRIALS
) -> None:
    """Note everything in a brief that its library, its bench or the measures contradict.

    Parameters
    ----------
    library : Library
        With the brief's prices and shelf laid over it.
    known : BenchKnowledge
        What the trials of its bench say.
    """
    conditions = _safe_conditions(entries.targets, known)
    context = Context(library, Catalogue(library, conditions), faults)
    check_targets(entries.targets, context)
    if "aim" in entries.tables:
        check_aim(entries.tables["aim"], context)
    check_lists(entries, context)
    if entries.tables.get("baseline") is not None:
        check_baseline(entries.tables["baseline"], context)
    if "ranked" in entries.tables:
        check_ranked(entries.tables["ranked"], context)
    check_users(entries.scalars.get("users", ()), context)
    if _nothing_wanted(entries, faults):
        allowed = "at least one target, one [[include]], or a [baseline] with something to keep or hold"
        faults.add("[targets]", "nothing is asked for", allowed=allowed)
    context.measures_of_rules(library.rules, f"library {library.name}")


def check_targets(targets: dict[str, Target], context: Context) -> None:
    """Note unknown measures, crossed pairs, bounds out of range and keys in the wrong place."""
    for name, target in targets.items():
        where = target_place(name)
        if target.reading is not None:
            check_gate(name, target, context)
            continue
        measure = context.measure(name, where)
        context.bounds(target.at_least, target.at_most, where, unit=measure.unit if measure else "")
        if measure is not None:
            context.in_range(measure, target, partial(target_place, name))
        if target.set != "dosed" and name != "pH":
            words = f"'{target.set}' is for pH alone"
            context.faults.add(target_place(name, "set"), words, allowed="no such key here")
        if measure is not None:
            _check_sure(name, target, measure, context)
        if isinstance(measure, Viscosity):
            _check_base(target, context)
        elif target.base is not None:
            words = f"'{target.base}' is for viscosity alone"
            context.faults.add(target_place(name, "base"), words, allowed="no such key here")


def check_gate(name: str, target: Target, context: Context) -> None:
    """Note a gate that no trial of the bench read, or that is bounded as if it were a number."""
    gates = tuple(gate.name for gate in context.catalogue.conditions.known.passed)
    words = f"no trial of the bench reads '{name}'" if gates else "the brief names no bench with gates"
    context.known(name, gates, target_place(name, "reading"), words)
    stated = ("at_least", "at_most", "sure", "base")
    for key in (key for key in stated if getattr(target, key) is not None):
        context.faults.add(target_place(name, key), "stands beside reading", allowed="reading alone")


def _check_sure(name: str, target: Target, measure: Measure, context: Context) -> None:
    """Note a margin, or leave to go beyond the trials, on what no bench taught."""
    alkali = context.catalogue.conditions.known.alkali
    dosed = name == "pH" and target.set == "dosed" and alkali is not None
    if target.sure is not None and not (dosed or isinstance(measure, Learned)):
        words = f"no bench taught '{name}', so nothing says how sure it is"
        allowed = "a measure that the readings of the brief's bench tell"
        context.faults.add(target_place(name, "sure"), words, allowed=allowed)
    if target.tried != "inside" and not isinstance(measure, Learned):
        words = f"no bench taught '{name}'"
        context.faults.add(target_place(name, "tried"), words, allowed="no such key here")


def check_aim(aim: AimKeys, context: Context) -> None:
    """Note an aim that is unknown, doubled, or no sum over materials."""
    if aim.minimise is not None and aim.maximise is not None:
        words = f"'{aim.minimise}' stands beside maximise = '{aim.maximise}'"
        context.faults.add("[aim] minimise", words, allowed="one of the two")
    named = [("minimise", aim.minimise), ("maximise", aim.maximise), *(("then", word) for word in aim.then)]
    for key, name in named:
        if name is None:
            continue
        measure = context.measure(name, f"[aim] {key}")
        if bent(measure) or isinstance(measure, Acidity | BufferCapacity | Viscosity | Undissociated):
            words = f"'{name}' is a window, not a sum over materials"
            allowed = "a target on it, and an aim such as cost, mildness or ingredients"
            context.faults.add(f"[aim] {key}", words, allowed=allowed)


def check_baseline(baseline: BaselineKeys, context: Context) -> None:
    """Note unknown names in `keep` and `hold`."""
    for number, reference in enumerate(baseline.keep, 1):
        context.reference(reference, f"[baseline] keep, entry {number}")
    for name in baseline.hold:
        context.measure(name, f'[baseline] hold, "{name}"')


def check_ranked(ranked: Ranked, context: Context) -> None:
    """Note words in `differ_in` that are no function."""
    for number, word in enumerate(ranked.differ_in, 1):
        where = f"[ranked] differ_in, entry {number}"
        context.known(word, FUNCTIONS, where, f"there is no function '{word}'")


def check_users(users: tuple[str, ...], context: Context) -> None:
    """Note users that no legal limit knows: such a word would silently change nothing."""
    known = known_users(context.library) if users else ()
    for number, word in enumerate(users, 1):
        context.known(word, known, f"users, entry {number}", f"no legal limit knows the users '{word}'")


def known_users(library: Library) -> tuple[str, ...]:
    """Return the words for users in the shipped limits of every place and in the library's own."""
    limits = [limit for place in JURISDICTIONS if place != "none" for limit in shipped_limits(place)]
    if library.limits_file:
        limits += read_limits(Path(library.limits_file))
    return tuple(sorted({limit.users for limit in limits if limit.users}))


def _safe_conditions(targets: dict[str, Target], known: BenchKnowledge) -> Conditions:
    """Return the conditions, or the plain ones where the pH window is itself at fault."""
    found = conditions_of(targets, known)
    ends = [end for end in (found.pH_low, found.pH_high) if end is not None]
    if all(0 <= end <= 14 for end in ends):
        return found
    return Conditions(base=found.base, known=known)


def _check_base(target: Target, context: Context) -> None:
    bases = tuple(dict.fromkeys(trial.base for trial in context.library.own_trials))
    where = target_place("viscosity", "base")
    if not bases:
        context.faults.add(
            target_place("viscosity"),
            "this library has no trials of your own, so no viscosity can be computed"
            if context.library.trials
            else "this library has no trials, so no viscosity can be computed",
            allowed="your own trials in trials.csv; without them choose a thickener and read the trial",
        )
    elif target.base is None:
        context.faults.add(where, "missing: the same thickener differs by base", allowed=", ".join(bases))
    else:
        context.known(target.base, bases, where, f"no trial has the base '{target.base}'")


def _nothing_wanted(entries: Entries, faults: Faults) -> bool:
    """Tell whether nothing is asked, held or kept although nothing in the places for it was at fault."""
    baseline = entries.tables.get("baseline")
    if entries.targets or entries.lists["include"] or (baseline and (baseline.keep or baseline.hold)):
        return False
    return not any(
        fault.place.startswith(("[targets]", "[[include]]", "[baseline]")) for fault in faults.found
    )
