"""Holds what every check of a brief needs: library, measures, and where faults go."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from optiform.brief.models import Limits, Prefer
from optiform.brief.validation import place
from optiform.faults import Faults, nearest
from optiform.library.models import Library, LinearRule, Rules, When
from optiform.library.selection import reference_problem, same_reference
from optiform.measures import Catalogue, Measure, UnknownMeasure
from optiform.measures.acidity import BufferCapacity
from optiform.measures.learned import bent, curved
from optiform.measures.parts import known_tags
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated

PREFIXED = "substance:, tag:, function:, material:, share:, undissociated:"

AMOUNTS = "a material id, an INCI name, function: or tag: with a name, or a total such as active matter"


@dataclass(frozen=True)
class Context:
    """A library with its catalogue of measures, and the faults found so far."""

    library: Library
    catalogue: Catalogue
    faults: Faults

    def measure(self, name: str, where: str, file: str = "") -> Measure | None:
        """Return a measure, or None after noting that there is none of that name."""
        try:
            measure = self.catalogue.find(name)
        except UnknownMeasure as unknown:
            plain = ", ".join(self.catalogue.names())
            self.faults.add(
                where,
                f"there is no measure '{name}'",
                allowed=f"{plain}, or {PREFIXED} with a name",
                nearest=unknown.nearest,
                file=file,
            )
            return None
        if isinstance(measure, BufferCapacity) and not measure.windowed:
            self.faults.add(
                where,
                f"'{name}' is taken over the pH window of the brief, and there is none",
                allowed="[targets] pH with at_least and at_most",
                file=file,
            )
        return measure

    def reference(self, reference: str, where: str) -> bool:
        """Tell whether a reference means something; if not, note why."""
        problem = reference_problem(self.library, reference)
        if problem is not None:
            self.faults.add(where, problem.message, allowed=problem.allowed, nearest=problem.nearest)
        return problem is None

    def word(self, kind: str, word: str, where: str) -> bool:
        """Tell whether a word means something as a material, substance, function or tag; if not, note why."""
        problem = reference_problem(self.library, f"{kind}:{word}")
        if problem is not None:
            near = problem.nearest.partition(":")[2]
            self.faults.add(where, problem.message, allowed=problem.allowed, nearest=near)
        return problem is None

    def known(self, word: str, known: Collection[str], where: str, message: str) -> None:
        """Note a word that is not among the known ones."""
        if word not in known:
            self.faults.add(where, message, allowed=", ".join(known), nearest=nearest(word, known))

    def in_range(self, measure: Measure, limits: Limits | Prefer, where: Callable[[str], str]) -> None:
        """Note bounds outside the range of a measure; `where` gives the place of each side."""
        low, high = measure.lowest, measure.highest
        allowed = f"{low:g} to {high:g}" if high < float("inf") else f"at least {low:g}"
        for side, bound in (("at_least", limits.at_least), ("at_most", limits.at_most)):
            if bound is not None and not low <= bound <= high:
                message = f"{bound:g} is out of range"
                self.faults.add(where(side), message, allowed=f"{allowed} {measure.unit}".strip())

    def two_things(self, one: str, other: str, where: str) -> None:
        """Note a rule that sets a thing against itself."""
        if same_reference(one, other):
            self.faults.add(where, f"'{one}' is set against itself", allowed="two different things")

    def amount(self, word: str, where: str) -> None:
        """Check an amount: a reference, a bare material, substance or tag, or a measure that is a total."""
        library = self.library
        if word in self.catalogue.names():
            self.total(word, where)
        elif ":" in word:
            self.reference(word, where)
        elif word not in (known := (*sorted(known_tags(library)), *library.substance, *library.material)):
            words = f"there is no material, substance, tag or measure '{word}' in the library"
            near = nearest(word, (*self.catalogue.names(), *known))
            self.faults.add(where, words, allowed=AMOUNTS, nearest=near)

    def total(self, name: str, where: str) -> None:
        """Check that a measure is a plain total with no negative part, as a base must be."""
        measure = self.measure(name, where)
        if measure is None:
            return
        if (
            type(measure) is not Measure
            or measure.denominator is not None
            or bool((measure.numerator < 0).any())
        ):
            self.faults.add(where, f"'{name}' is not a plain amount", allowed=AMOUNTS)

    def bounds(
        self, low: float | None, high: float | None, where: str, unit: str = "", *, needed: bool = True
    ) -> None:
        """Note a crossed pair, and (where one is needed) a missing bound."""
        if low is None and high is None and needed:
            self.faults.add(where, "no bound is given", allowed="at_least, at_most or both")
        if low is not None and high is not None and low > high:
            words = f"at_least {low:g} is above at_most {high:g} {unit}".strip()
            self.faults.add(where, words, allowed="at_least no larger than at_most")

    def measures_of_rules(self, rules: Rules, file: str = "") -> None:
        """Check the measures in the when and linear rules of a library."""
        for number, rule in enumerate(rules.when, 1):
            self.when(rule, number, file)
        for number, linear in enumerate(rules.linear, 1):
            self.terms(linear, number, file)

    def when(self, rule: When, number: int, file: str = "") -> None:
        """Check the measure that a conditional rule keeps within bounds, and what lets it sleep."""
        where = place("when", number, "measure")
        measure = self.measure(rule.measure, where, file)
        if rule.unless is not None:
            self.reference(rule.unless, place("when", number, "unless"))
        if isinstance(measure, Undissociated):
            self.faults.add(
                where,
                f"'{rule.measure}' depends on the preservative system",
                allowed="a target on it, or undissociated_at_least of a system",
                file=file,
            )
        if bent(measure) or isinstance(measure, Viscosity):
            words = f"{rule.measure} is no sum over materials"
            self.faults.add(where, words, allowed=f"a target on {rule.measure}", file=file)
        for side in ("at_least", "at_most"):
            bound = getattr(rule, side)
            if curved(measure) and bound is not None and bound <= 0:
                words = f"{rule.measure} of {bound:g} is not possible"
                self.faults.add(place("when", number, side), words, allowed="a number above 0", file=file)

    def terms(self, rule: LinearRule, number: int, file: str = "") -> None:
        """Check that every term of a linear rule names one material, or one measure that is a total."""
        for term_number, term in enumerate(rule.terms, 1):
            where = place("linear", number, f"terms, entry {term_number}")
            if (term.measure is None) == (term.material is None):
                self.faults.add(where, "names no single thing", allowed="one of measure, material", file=file)
                continue
            if term.measure is None:
                continue
            measure = self.measure(term.measure, f"{where}, measure", file)
            if measure is not None and (measure.denominator is not None or type(measure) is not Measure):
                self.faults.add(
                    f"{where}, measure",
                    f"'{term.measure}' is not a plain total over materials",
                    allowed="totals such as cost, active matter, electrolyte; for a mean use a target",
                    file=file,
                )
