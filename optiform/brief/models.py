"""What the user wants: targets, rules and an aim, as frozen values."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from optiform.library.models import Frozen, Library, Rules

Percent = Annotated[float, Field(ge=0, le=100)]


class Limits(Frozen):
    """Bounds on one measure; either end may be absent."""

    at_least: float | None = None
    at_most: float | None = None


class Target(Limits):
    """Bounds on a measure of the formula.

    `set` matters for pH alone: `dosed` lets the program find acid and base, `bench` leaves them to
    the bench. `base` matters for viscosity alone: the surfactant base whose trials apply.
    """

    set: Literal["dosed", "bench"] = "dosed"
    base: str | None = None


class Selector(Frozen):
    """Names materials directly, or by a substance, function or tag they have. Exactly one is given."""

    material: str | None = None
    substance: str | None = None
    function: str | None = None
    tag: str | None = None

    @property
    def kind(self) -> str:
        """Return which of the four ways is used."""
        return next(kind for kind in ("material", "substance", "function", "tag") if getattr(self, kind) is not None)

    @property
    def word(self) -> str:
        """Return the id, INCI name, function or tag."""
        return str(getattr(self, self.kind))


class Include(Selector):
    """Something that must be there; without `at_least` it is merely used."""

    at_least: Percent | None = None
    at_most: Percent | None = None


class Exclude(Selector):
    """Something that must not be there, at substance level.

    A material that "may contain" it is excluded as well, unless `unknown` is `allow`.
    """

    unknown: Literal["exclude", "allow"] = "exclude"


class Choose(Frozen):
    """How many different materials of a function, a tag or a list may be used."""

    function: str | None = None
    tag: str | None = None
    among: tuple[str, ...] = ()
    at_least: int | None = Field(default=None, ge=0)
    at_most: int | None = Field(default=None, ge=0)


class Share(Frozen):
    """Share of active matter (or of `base`) that a class, material, substance or tag may have, in %."""

    of: str | None = None
    each: str | None = None
    base: str = "active matter"
    at_least: Percent | None = None
    at_most: Percent | None = None


class Ratio(Frozen):
    """One amount in proportion to another."""

    of: str
    to: str
    at_least: float | None = Field(default=None, ge=0)
    at_most: float | None = Field(default=None, ge=0)


class Aim(Frozen):
    """The measure to make as small (or as large) as possible, and how ties are broken."""

    measure: str = "cost"
    sense: Literal["minimise", "maximise"] = "minimise"
    then: tuple[str, ...] = ()
    tie: float = Field(default=0.001, ge=0)


class Baseline(Frozen):
    """An existing formula to start from, and how far the new one may move from it."""

    formula: str
    lines: tuple[tuple[str, float], ...] = ()
    keep: tuple[str, ...] = ()
    hold: dict[str, float] = Field(default_factory=dict)
    at_most_new: int | None = Field(default=None, ge=0)
    at_most_dropped: int | None = Field(default=None, ge=0)


class Weighing(Frozen):
    """The batch and the balance it is weighed on."""

    batch_g: float = Field(default=1000.0, gt=0)
    balance_g: float = Field(default=0.01, gt=0)
    error_percent: float = Field(default=2.0, gt=0, le=100)


class Certainty(Frozen):
    """For which lots within the suppliers' specifications the limits must hold."""

    lots: Literal["all"] | Annotated[float, Field(gt=0, le=1)] = "all"
    seed: int = 1


class Ranked(Frozen):
    """How many formulas to list, and what makes two of them different."""

    how_many: int = Field(default=5, ge=1, le=1000)
    differ_in: tuple[str, ...] = ("surfactant", "thickener", "preservative")


class Brief(Frozen):
    """A brief that was read and checked against its library.

    `library` already carries the brief's own prices and shelf.
    """

    title: str
    library: Library = Field(repr=False)
    library_name: str = ""
    file: str = ""
    product: Literal["rinse-off", "leave-on"] = "rinse-off"
    area: Literal["face", "hair", "body", "hands"] = "face"
    users: tuple[str, ...] = ()
    law: Literal["EU", "UK", "US", "none"] = "EU"
    aim: Aim = Aim()
    targets: dict[str, Target] = Field(default_factory=dict)
    include: tuple[Include, ...] = ()
    exclude: tuple[Exclude, ...] = ()
    choose: tuple[Choose, ...] = ()
    share: tuple[Share, ...] = ()
    ratio: tuple[Ratio, ...] = ()
    rules: Rules = Rules()
    baseline: Baseline | None = None
    weighing: Weighing | None = None
    certainty: Certainty | None = None
    ranked: Ranked = Ranked()
    shelf: dict[str, float | None] | None = None
    notes: tuple[str, ...] = ()
