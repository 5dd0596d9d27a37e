"""Finds contradictions that need no solver, such as two bounds that cross."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from optiform.bounds import number
from optiform.brief.models import Brief
from optiform.library.selection import select
from optiform.measures import Measure
from optiform.measures.acidity import Acidity
from optiform.program import Program, Requirement
from optiform.program.rows.moves import MeasureMove
from optiform.tolerances import TOLERANCE
from optiform.vectors import Flags, Floats

FULL = 100.0


@dataclass(frozen=True, eq=False)
class Room:
    """How much of each material any formula of a brief can hold at all.

    Attributes
    ----------
    least, most : ndarray, shape (n,)  [% w/w]
        What the brief demands by material, and what use ranges and exclusions leave; no less than
        what is demanded, so that one contradiction is not told as many.
    kept_out : dict of str to str
        What keeps a material out, by its id.
    """

    least: Floats
    most: Floats
    kept_out: Mapping[str, str]

    def total(self, coefficients: Floats, *, least: bool) -> float | None:
        """Return the least (or most) of coefficients . x while x fills 100 %; None if nothing fills it."""
        base = float(coefficients @ self.least)
        left = FULL - float(self.least.sum())
        order = np.argsort(coefficients if least else -coefficients, kind="stable")
        room = np.cumsum((self.most - self.least)[order])
        if left < -TOLERANCE or (len(room) and room[-1] < left - TOLERANCE):
            return None
        taken = np.diff(np.minimum(room, max(left, 0.0)), prepend=0.0)
        return base + float(coefficients[order] @ taken)


def contradictions(program: Program, brief: Brief) -> tuple[str, ...]:
    """Return the contradictions that show without solving, each as a sentence.

    Seen are: a bound beyond what the best single material can give, or beyond what all the use
    ranges and demanded amounts leave; demanded amounts that add to more than 100 %; nothing left
    for a demand; too little room for what has to go in.
    """
    room = _room(program, brief)
    return tuple(
        dict.fromkeys(
            (
                *_nothing_left(program, brief, room),
                *_beyond_use(brief),
                *_overfull(room),
                *_crowded(program, room),
                *_out_of_reach(program, room),
            )
        )
    )


def _room(program: Program, brief: Brief) -> Room:
    """Return what the brief's exclusions and demands by material leave of each material."""
    library = brief.library
    index = library.arrays.material_index
    most = library.arrays.max_use.astype(float).copy()
    least = np.zeros(len(most))
    kept_out: dict[str, str] = {}
    for requirement in program.requirements:
        if requirement.key.section in ("exclude", "shelf"):
            most[[index[name] for name in requirement.subject]] = 0.0
            kept_out |= dict.fromkeys(requirement.subject, requirement.title)
    for wish in brief.include:
        if wish.kind != "material":
            continue
        place = index[wish.word]
        least[place] = max(least[place], wish.at_least or 0.0)
        most[place] = min(most[place], FULL if wish.at_most is None else wish.at_most)
    return Room(least, np.maximum(most, least), kept_out)


def _nothing_left(program: Program, brief: Brief, room: Room) -> Iterator[str]:
    """Yield demands for which no, or too few, materials are left."""
    index = brief.library.arrays.material_index
    left = {name for name in index if room.most[index[name]] > 0 and name not in room.kept_out}
    for wish in brief.include:
        chosen = select(brief.library, wish.kind, wish.word).sure
        wanted = wish.at_least is None or wish.at_least > 0
        if not wanted or not left.isdisjoint(chosen):
            continue
        if wish.kind == "material" and wish.word in room.kept_out:
            yield f"{wish.word} is asked for, yet '{room.kept_out[wish.word]}' keeps it out."
        else:
            yield f"Nothing is left for {wish.kind} {wish.word}: every material that would serve is excluded."
    for requirement in program.requirements:
        if requirement.key.section == "choose" and requirement.side != "at_most" and requirement.bound:
            few = len(left.intersection(requirement.subject))
            if few < requirement.bound:
                title = requirement.title[:1].upper() + requirement.title[1:]
                verb = "is" if requirement.bound == 1 else "are"
                but = "none is" if few == 0 else "only 1 is" if few == 1 else f"only {few} are"
                yield f"{title} {verb} asked for, but {but} left."


def _beyond_use(brief: Brief) -> Iterator[str]:
    """Yield materials of which more is asked for than their use range allows."""
    for wish in brief.include:
        if wish.kind == "material" and wish.at_least is not None:
            most = brief.library.material[wish.word].max_use
            if wish.at_least > most + TOLERANCE:
                asked = f"{wish.word} at least {number(wish.at_least)} % w/w"
                yield f"{asked}: its use range ends at {number(most)} % w/w."


def _overfull(room: Room) -> Iterator[str]:
    """Yield whether the demanded amounts leave no room for anything else."""
    total = float(room.least.sum())
    if total > FULL + TOLERANCE:
        yield f"The amounts asked for add up to {_apart(total, FULL)} % w/w, more than 100."
    elif float(room.most.sum()) < FULL - TOLERANCE:
        most = _apart(float(room.most.sum()), FULL)
        yield f"All materials at the top of their use ranges add up to {most} % w/w, less than 100."


def _crowded(program: Program, room: Room) -> Iterator[str]:
    """Yield demands on different materials that need more than 100 % together, each at its strongest."""
    needed: list[tuple[float, Flags, Requirement]] = []
    for requirement, measure in _floors(program):
        strongest = float(np.max(measure.numerator * (room.most > 0), initial=0.0))
        if (
            measure.denominator is None
            and requirement.bound
            and strongest > 0
            and np.all(measure.numerator >= 0)
        ):
            mass = (requirement.bound - measure.offset) / strongest
            needed.append((mass, measure.numerator > 0, requirement))
    taken: Flags = np.zeros(len(room.most), dtype=bool)
    together: list[tuple[float, Requirement]] = []
    for mass, parts, requirement in sorted(needed, key=lambda item: (-item[0], item[2].key)):
        if not np.any(taken & parts):
            taken = taken | parts
            together.append((mass, requirement))
    total = sum(mass for mass, _ in together)
    if len(together) > 1 and total > FULL + TOLERANCE:
        titles = "; ".join(
            f"{requirement.title} takes {number(round(mass, 2))} %" for mass, requirement in together
        )
        yield f"There is no room for all of it, let alone for water: {titles}; together {_apart(total, FULL)} %."


def _floors(program: Program) -> Iterator[tuple[Requirement, Measure]]:
    """Yield the lower bounds of the brief, each with its measure."""
    for index, moves in sorted(program.moves.stated.items()):
        requirement = program.requirements[index]
        for _, move in moves:
            if requirement.origin == "brief" and isinstance(move, MeasureMove) and move.side == "at_least":
                yield requirement, move.measure


def _present(program: Program, room: Room, base: Floats) -> bool:
    """Tell whether every formula must hold some of the base of a ratio; without any, a ratio counts as met."""
    least = room.total(base, least=True)
    if least is not None and least > TOLERANCE:
        return True
    return any(
        measure.denominator is None
        and (requirement.bound or 0.0) - measure.offset > TOLERANCE
        and bool(np.all(base[measure.numerator > 0] > 0))
        for requirement, measure in _floors(program)
    )


def _out_of_reach(program: Program, room: Room) -> Iterator[str]:
    """Yield bounds that no mixture of what is left can reach, whatever else is asked for."""
    for index, moves in sorted(program.moves.stated.items()):
        requirement = program.requirements[index]
        if requirement.origin not in ("brief", "law") or requirement.bound is None or requirement.choice:
            continue
        for _, move in moves:
            if not isinstance(move, MeasureMove) or isinstance(move.measure, Acidity):
                continue
            base = move.measure.denominator
            best = _best(move.measure, room, highest=move.side == "at_least")
            if best is None or (base is not None and not _present(program, room, base)):
                continue
            short = requirement.bound - best if move.side == "at_least" else best - requirement.bound
            if short > 2 * TOLERANCE:
                shown = _apart(best, requirement.bound)
                yield _told(requirement, shown, move.side == "at_least", ratio=base is not None)


def _best(measure: Measure, room: Room, *, highest: bool) -> float | None:
    """Return what no formula can exceed (or undercut); None where that is not told by single materials."""
    if measure.denominator is None:
        total = room.total(measure.numerator, least=not highest)
        return None if total is None else measure.offset + total
    parts = (room.most > 0) & (measure.denominator > 0)
    loose = (room.most > 0) & (measure.denominator <= 0) & (measure.numerator != 0)
    if not parts.any() or loose.any():
        return None
    values = measure.offset + measure.numerator[parts] / measure.denominator[parts]
    return float(values.max() if highest else values.min())


def _apart(value: float, bound: float) -> str:
    """Write a value with two decimals, or with as many as tell on which side of a bound it is."""
    for digits in range(2, 10):
        shown = round(value, digits)
        if (shown > bound) == (value > bound) and (shown < bound) == (value < bound):
            return number(shown)
    return number(value)


def _told(requirement: Requirement, shown: str, highest: bool, *, ratio: bool) -> str:
    if ratio:
        end = "highest" if highest else "lowest"
        return f"{requirement.title}: the {end} that any single material left can give is {shown}."
    end = "most" if highest else "least"
    return (
        f"{requirement.title}: the {end} that any mixture of what is left and asked for can hold is {shown}."
    )
