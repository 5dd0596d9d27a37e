"""A slow, plain judge of briefs: tries every set of materials and solves each as a linear program by SciPy.

It shares no code with the program, the measures or the ranking: vectors are summed from the library's
tables, rules are read from the brief one by one, means are limited and minimised by Charnes and Cooper's
substitution (Naval Research Logistics Quarterly 9 (1962) 181).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.naive_contents import CLASSES, Contents, Vector

USED = 0.001
CLEAR = 1e-6
"""So far a row has to be out of reach to be refused without a linear program."""
Line = tuple[Vector, float, float]


class Impossible(Exception):
    """This set of materials is against a rule that no amounts can mend."""


@dataclass
class Best:
    """The best formula of one set of materials."""

    objective: float
    amounts: Vector
    support: frozenset[str]
    system: str | None
    structure: tuple[frozenset[str], str | None]


@dataclass
class Naive(Contents):
    """Judges formulas of one brief."""

    def _window(self, low: float | None, high: float | None) -> Iterator[Line]:
        """Yield the rows of a pH window, or refuse."""
        target = self.brief.targets.get("pH")
        if target is not None and target.set == "bench":
            below = low is not None and (target.at_least is None or target.at_least < low)
            above = high is not None and (target.at_most is None or target.at_most > high)
            if below or above:
                raise Impossible
            return
        if low is not None:
            yield self.charge(low), 0.0, math.inf
        if high is not None:
            yield self.charge(high), -math.inf, 0.0

    # rules

    def _limit(
        self, top: Vector, base: Vector | None, low: float | None, high: float | None
    ) -> Iterator[Line]:
        """Yield the rows of a window on a measure: of a total, or of a mean multiplied out.

        A mean of nothing has no value and its rows ask for nothing; in a ratio of different things the rows
        still keep out the one where the other is absent and at most some part of it is allowed.
        """
        if base is None:
            yield top, -math.inf if low is None else low, math.inf if high is None else high
            return
        if low is not None:
            yield top - low * base, 0.0, math.inf
        if high is not None:
            yield top - high * base, -math.inf, 0.0

    def lines(self, support: frozenset[str], system: str | None, end: float | None = None) -> Iterator[Line]:
        """Yield every linear row that a formula of these materials must hold; raise where none can."""
        yield from self._targets(support)
        yield from self._wishes(support)
        yield from self._rules(support)
        yield from self._acid(support, system, end)

    def _targets(self, support: frozenset[str]) -> Iterator[Line]:
        for name, target in self.brief.targets.items():
            if name == "pH" or name.startswith("undissociated:"):
                continue
            if name == "ingredients":
                self._count(support, target.at_least, target.at_most)
                continue
            if name == "viscosity":
                yield from self._viscosity(support, target)
                continue
            if self.lacks(name) & support:
                raise Impossible
            yield from self._limit(*self.ratio(name), target.at_least, target.at_most)
        if self.lacks(self.brief.aim.measure) & support:
            raise Impossible

    def _count(self, names, low, high) -> None:
        if not (low or 0) <= len(names) <= (math.inf if high is None else high):
            raise Impossible

    def _viscosity(self, support: frozenset[str], target) -> Iterator[Line]:
        trials: dict[str, list[tuple[float, float]]] = {}
        for trial in self.brief.library.trials:
            if trial.base == target.base:
                trials.setdefault(trial.material, []).append((trial.percent, trial.mPa_s))
        used = [name for name in trials if name in support]
        if len(used) != 1 or (self.members("function:thickener") & support) - set(trials):
            raise Impossible
        points = sorted(trials[used[0]])
        rising = [points[0]]
        for point in points[1:]:
            if point[1] <= rising[-1][1]:
                break
            rising.append(point)
        grams, logs = [p for p, _ in rising], [math.log10(v) for _, v in rising]
        low = logs[0] if target.at_least is None else math.log10(target.at_least)
        high = logs[-1] if target.at_most is None else math.log10(target.at_most)
        if low > logs[-1] or high < logs[0]:
            raise Impossible
        yield (
            self.amount(f"material:{used[0]}"),
            float(np.interp(low, logs, grams)),
            float(np.interp(high, logs, grams)),
        )

    def _wishes(self, support: frozenset[str]) -> Iterator[Line]:
        brief = self.brief
        for wish in brief.include:
            names = self.members(f"{wish.kind}:{wish.word}")
            if not wish.at_least and not names & support:
                raise Impossible
            if wish.at_least is not None or wish.at_most is not None:
                yield from self._limit(
                    self.amount(f"{wish.kind}:{wish.word}"), None, wish.at_least, wish.at_most
                )
        for wish in brief.exclude:
            names = self.members(f"{wish.kind}:{wish.word}")
            if wish.unknown == "exclude":
                names |= self.may_be(wish.kind, wish.word)
            if names & support:
                raise Impossible
        for wish in brief.choose:
            names = set(wish.among) or self.members(
                f"function:{wish.function}" if wish.function else f"tag:{wish.tag}"
            )
            self._count(names & support, wish.at_least, wish.at_most)
        for wish in brief.share:
            yield from self._share(wish)
        for wish in brief.ratio:
            yield from self._limit(self.amount(wish.of), self.amount(wish.to), wish.at_least, wish.at_most)
        yield from self._shelf(support)

    def _share(self, wish) -> Iterator[Line]:
        base = self.amount(wish.base)
        if wish.of is not None:
            top = self.share_of(wish.of) if wish.base == "active matter" else self.amount(wish.of)
            yield from self._limit(100 * top, base, wish.at_least, wish.at_most)
            return
        if wish.each == "surfactant" or wish.each in CLASSES:
            for s in self.brief.library.substances:
                if s.charge_class and wish.each in ("surfactant", s.charge_class):
                    yield from self._limit(100 * self.share_of(s.inci), base, None, wish.at_most)
            return
        for name in self.members(f"function:{wish.each}"):
            yield from self._limit(100 * self.amount(f"material:{name}"), base, None, wish.at_most)

    def _shelf(self, support: frozenset[str]) -> Iterator[Line]:
        shelf, weighing = self.brief.shelf, self.brief.weighing
        if shelf is None:
            return
        if support - set(shelf) - {self.water}:
            raise Impossible
        for name, stock in shelf.items():
            if stock is not None and weighing is not None:
                yield self.amount(f"material:{name}"), -math.inf, 100 * stock / weighing.batch_g

    def _rules(self, support: frozenset[str]) -> Iterator[Line]:
        for rules in (self.brief.rules, self.brief.library.rules):
            for needs in rules.needs:
                needy, helpers = self.members(needs.material) & support, self.members(needs.other)
                if needs.ratio is None and needy and not helpers & support:
                    raise Impossible
                if needs.ratio is not None and needy:
                    whole = lambda names: self._vector(lambda m: m.id in names)  # noqa: E731
                    yield whole(helpers) - needs.ratio * whole(self.members(needs.material)), 0.0, math.inf
            for pair in rules.incompatible:
                one, other = self.members(pair.one) & support, self.members(pair.other) & support
                if any(a != b for a in one for b in other):
                    raise Impossible
            for when in rules.when:
                asleep = when.unless is not None and self.members(when.unless) & support
                if self.members(when.material) & support and not asleep:
                    yield from self._when(when, support)
            for linear in rules.linear:
                total = sum(
                    t.times * self.amount(t.measure or f"material:{t.material}") for t in linear.terms
                )
                yield from self._limit(total, None, linear.at_least, linear.at_most)

    def _when(self, when, support: frozenset[str]) -> Iterator[Line]:
        if when.measure == "pH":
            yield from self._window(when.at_least, when.at_most)
            return
        if self.lacks(when.measure) & support:
            raise Impossible
        yield from self._limit(*self.ratio(when.measure), when.at_least, when.at_most)

    def ends(self, system: str | None) -> list[float | None]:
        """Return the tenths of a pH up to which a formula may be made, where the brief leaves that open."""
        target = self.brief.targets.get("pH")
        stated = target is not None and (target.set == "bench" or target.at_most is not None)
        chosen = next((s for s in self.brief.library.systems if s.name == system), None)
        asked = any(name.startswith("undissociated:") for name in self.brief.targets)
        if stated or chosen is None or not (chosen.undissociated_at_least or asked):
            return [None]
        return [None, *(tenths / 10 for tenths in range(90))]

    def _acid(self, support: frozenset[str], system: str | None, end: float | None) -> Iterator[Line]:
        library, target = self.brief.library, self.brief.targets.get("pH")
        chosen = next((s for s in library.systems if s.name == system), None)
        low, high = (None, None) if chosen is None or chosen.pH is None else chosen.pH
        margin = 0.0 if chosen is None or chosen.margin is None else chosen.margin
        low, high = None if low is None else low + margin, None if high is None else high - margin
        if target is not None and target.set == "dosed":
            if self.unknown_charge() & support:
                raise Impossible
            yield from self._window(target.at_least, target.at_most)
        yield from self._window(low, high)
        for name in support:
            m = library.material[name]
            yield from self._window(m.pH_min, m.pH_max)
        asked = [] if target is None else [target.at_least, target.at_most]
        yield from self._window(None, end)
        yield from self._uncharged(chosen, [low, *asked[:1]], [high, *asked[1:], end])

    def _uncharged(self, chosen, lows, highs) -> Iterator[Line]:
        """Yield the rows on uncharged acid: at the highest pH that is allowed, else at the worst for the limit."""
        high = min((end for end in highs if end is not None), default=None)
        promised = self.brief.targets.get("pH")
        open_end = promised is None or (promised.set != "bench" and promised.at_most is None)
        low = max((end for end in lows if end is not None), default=0.0)
        if chosen is not None:
            for inci, least in chosen.undissociated_at_least.items():
                yield self.uncharged(inci, 14.0 if high is None else high), least, math.inf
        for name, target in self.brief.targets.items():
            if not name.startswith("undissociated:"):
                continue
            inci = name.partition(":")[2]
            if target.at_least is not None:
                yield self.uncharged(inci, 14.0 if high is None else high), target.at_least, math.inf
            if target.at_most is not None:
                yield (
                    self.uncharged(inci, low if open_end or high is None else high),
                    -math.inf,
                    target.at_most,
                )

    # solving

    def systems(self) -> list[str | None]:
        return [s.name for s in self.brief.library.systems] or [None]

    def bounds(self, support: frozenset[str], system: str | None) -> list[tuple[float, float]]:
        """Return what each amount may be; raise where the preservative system forbids the set."""
        library = self.brief.library
        members = {name for s in library.systems for name in s.members}
        chosen = next((s for s in library.systems if s.name == system), None)
        found = []
        for m in library.materials:
            if m.id in members:
                low, high = chosen.members.get(m.id, (0.0, 0.0)) if chosen else (0.0, 0.0)
                if (low > 0 and m.id not in support) or (high == 0 and m.id in support):
                    raise Impossible
                inside = m.id in support
                found.append((max(low, USED) if inside else 0.0, min(high, m.max_use) if inside else 0.0))
            elif m.id == self.water and m.id not in support:
                found.append((0.0, 0.0))
            elif m.id in support:
                dose = m.id in self.optional or (m.function in ("acid", "base") and not m.min_if_used)
                found.append((0.0 if dose else max(m.min_if_used, USED), m.max_use))
            else:
                found.append((0.0, 0.0))
        return found

    def solve(self, support: frozenset[str], system: str | None) -> Best | None:
        """Return the best formula of a set of materials with a preservative system, or None."""
        found = (self._solved(support, system, end) for end in self.ends(system))
        return min((one for one in found if one is not None), key=lambda one: one.objective, default=None)

    def _solved(self, support: frozenset[str], system: str | None, end: float | None) -> Best | None:
        try:
            bounds, lines = self.bounds(support, system), list(self.lines(support, system, end))
        except Impossible:
            return None
        aim = self.brief.aim
        sign = 1.0 if aim.sense == "minimise" else -1.0
        if aim.measure == "ingredients":
            top, base = np.zeros(len(self.ids)), None
        else:
            top, base = self.ratio(aim.measure)
        found = _linear_program(sign * top, base, lines, bounds)
        if found is None:
            return None
        objective, amounts = found
        if aim.measure == "ingredients":
            objective = sign * len(support)
        return Best(objective, amounts, support, system, self.structure(support, system))

    def structure(self, support: frozenset[str], system: str | None) -> tuple[frozenset[str], str | None]:
        """Return what makes a formula different from others."""
        library, differ = self.brief.library, self.brief.ranked.differ_in
        members = {name for s in library.systems for name in s.members}
        words = set(differ) - ({"preservative"} if library.systems else set())
        named = {
            inci
            for word in words
            for name in support - members
            if word in {library.material[name].function, *library.material[name].also}
            for inci in self.roles(name, word)
        }
        return frozenset(named), system if "preservative" in differ else None

    def roles(self, name: str, word: str) -> set[str]:
        """Return the substances by which a material serves: its surfactants, or what it is beside water."""
        library = self.brief.library
        held = {part.inci: part.percent for part in library.composition[name] if part.percent > 0}
        classed = {inci: held[inci] for inci in held if library.substance[inci].charge_class is not None}
        parts = (
            classed if word == "surfactant" and classed else {k: v for k, v in held.items() if k != "Aqua"}
        )
        return {inci for inci, percent in parts.items() if percent * 10 >= sum(parts.values())}

    def supports(self) -> Iterator[frozenset[str]]:
        """Yield every set of materials; water is in each unless materials are counted."""
        counted = "ingredients" in (*self.brief.targets, self.brief.aim.measure, *self.brief.aim.then)
        others = [name for name in self.ids if name != self.water or counted]
        kept = set() if counted else {self.water}
        for size in range(len(others) + 1):
            for names in itertools.combinations(others, size):
                yield frozenset(names) | kept

    def every(self) -> list[Best]:
        """Return the best formula of every set of materials that has one."""
        tried = (self.solve(support, system) for support in self.supports() for system in self.systems())
        return [best for best in tried if best is not None]

    def ranking(self) -> list[Best]:
        """Return the best formula of every structure, best first."""
        best: dict[object, Best] = {}
        for found in self.every():
            if found.structure not in best or found.objective < best[found.structure].objective:
                best[found.structure] = found
        return sorted(best.values(), key=lambda found: found.objective)


def _out_of_reach(lines: list[Line], bounds: list[tuple[float, float]]) -> bool:
    """Tell whether a single row lies beyond what amounts within their bounds reach: no linear program is needed."""
    low, high = np.array(bounds).T
    high = np.minimum(high, low + 100.0 - low.sum())
    if low.sum() > 100.0 + CLEAR or high.sum() < 100.0 - CLEAR:
        return True
    for row, lower, upper in lines:
        ends = row * low, row * high
        if np.minimum(*ends).sum() > upper + CLEAR or np.maximum(*ends).sum() < lower - CLEAR:
            return True
    return False


def _linear_program(
    top: Vector, base: Vector | None, lines: list[Line], bounds: list[tuple[float, float]]
) -> tuple[float, Vector] | None:
    """Minimise top . x, or top . x / base . x, over a formula; None if there is none.

    For a ratio with t = 1 / base . x and y = t x: minimise top . y, base . y = 1, rows and bounds times t.
    """
    from scipy.optimize import linprog

    if any(low > high for low, high in bounds) or _out_of_reach(lines, bounds):
        return None
    size = len(bounds)
    rows, right = [], []
    for vector, low, high in lines:
        if high < math.inf:
            rows.append([*vector, -high])
            right.append(high)
        if low > -math.inf:
            rows.append([*-vector, low])
            right.append(-low)
    options = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
    if base is None:
        found = linprog(
            top,
            A_ub=[row[:size] for row in rows] or None,
            b_ub=right or None,
            A_eq=[[1.0] * size],
            b_eq=[100.0],
            bounds=bounds,
            method="highs",
            options=options,
        )
        return (found.fun, found.x) if found.status == 0 else None
    for index, (low, high) in enumerate(bounds):
        unit = np.eye(size)[index]
        rows += [[*unit, -high], [*-unit, low]]
    found = linprog(
        [*top, 0.0],
        A_ub=[*rows, [*np.zeros(size), 1.0]],
        b_ub=[*np.zeros(len(rows)), 1 / USED],
        A_eq=[[*base, 0.0], [*np.ones(size), -100.0]],
        b_eq=[1.0, 0.0],
        bounds=[(0, None)] * (size + 1),
        method="highs",
        options=options,
    )
    return (found.fun, found.x[:size] / found.x[size]) if found.status == 0 and found.x[size] > 0 else None
