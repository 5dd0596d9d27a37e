"""What the user wants: targets, rules and an aim, as frozen values."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, InstanceOf

from optiform.library.models import LEAST_GRAMS, MOST, MOST_GRAMS, Frozen, Library, Rules
from optiform.library.typed.matching import Match
from optiform.mappings import FrozenDict, FrozenMap
from optiform.measures.conditions import NO_TRIALS, BenchKnowledge

WORTH = 0.02
"""A gain below this part of the aim is not worth a new formula: it would reopen every test."""

Number = Annotated[
    float, Field(strict=True, ge=-MOST, le=MOST, json_schema_extra={"unit": "the measure's own"})
]
Percent = Annotated[float, Field(strict=True, ge=0, le=100, json_schema_extra={"unit": "% w/w"})]
SharePercent = Annotated[float, Field(strict=True, ge=0, le=100, json_schema_extra={"unit": "% of base"})]
Times = Annotated[float, Field(strict=True, ge=0, le=MOST, json_schema_extra={"unit": "g per g"})]
Count = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Grams = Annotated[float, Field(strict=True, ge=LEAST_GRAMS, le=MOST_GRAMS, json_schema_extra={"unit": "g"})]


class Wish(Frozen):
    """A part of a brief: frozen, no unknown keys, no nan and no infinity."""

    model_config = ConfigDict(allow_inf_nan=False)


class Limits(Wish):
    """Bounds on one measure; either end may be absent."""

    at_least: Number | None = Field(default=None, description="lower bound")
    at_most: Number | None = Field(default=None, description="upper bound")


class Target(Limits):
    """Bounds on a measure of the formula.

    `set` matters for pH alone: `dosed` lets the program find acid and base, `bench` leaves them to
    the bench. `base` matters for viscosity alone: the surfactant base whose trials apply. `sure`,
    `tried` and `reading` matter for what a bench taught.
    """

    set: Literal["dosed", "bench"] = Field(
        default="dosed", description="pH only: acid and base are found by the program, or left to the bench"
    )
    base: str | None = Field(
        default=None,
        description="viscosity only: the surfactant base whose trials apply, as trials.csv names it",
    )
    sure: Annotated[float, Field(strict=True, gt=0.5, lt=1)] | None = Field(
        default=None,
        description="what a bench taught only: how likely the next reading must hold the limit, above 0.5",
    )
    tried: Literal["inside", "beyond"] = Field(
        default="inside",
        description="what a bench taught only: as near to its trials as they are themselves, or anywhere in its base",
    )
    reading: Literal["yes"] | None = Field(
        default=None,
        description="a gate of the bench, e.g. one phase: only mixtures of trials that passed it",
    )


class Selector(Wish):
    """Names materials directly, or by a substance, function or tag they have. Exactly one is given."""

    material: str | None = Field(default=None, description="a material's id")
    substance: str | None = Field(default=None, description="an INCI name, in whichever material")
    function: str | None = Field(default=None, description="a function, e.g. humectant")
    tag: str | None = Field(default=None, description="a tag of a material or of one of its substances")

    @property
    def kind(self) -> str:
        """Return which of the four ways is used."""
        return next(
            kind for kind in ("material", "substance", "function", "tag") if getattr(self, kind) is not None
        )

    @property
    def word(self) -> str:
        """Return the id, INCI name, function or tag."""
        return str(getattr(self, self.kind))


class Include(Selector):
    """Something that must be there; without `at_least` it is merely used."""

    at_least: Percent | None = Field(default=None, description="lower bound; without it: merely used")
    at_most: Percent | None = Field(default=None, description="upper bound; equal to at_least: fixed")


class Exclude(Selector):
    """Something that must not be there, at substance level.

    A material that "may contain" it is excluded as well, unless `unknown` is `allow`.
    """

    unknown: Literal["exclude", "allow"] = Field(
        default="exclude", description="what happens to a material that may contain it"
    )


class Choose(Wish):
    """How many different materials of a function, a tag or a list may be used."""

    function: str | None = Field(default=None, description="count the materials of this function")
    tag: str | None = Field(default=None, description="count the materials with this tag")
    among: tuple[str, ...] = Field(default=(), description="count these material ids")
    at_least: Count | None = Field(default=None, description="fewest different materials")
    at_most: Count | None = Field(default=None, description="most different materials")


class Share(Wish):
    """Share of active matter (or of `base`) that a class, material, substance or tag may have, in %."""

    of: str | None = Field(
        default=None, description="a charge class, or a material, INCI name, function: or tag:"
    )
    each: str | None = Field(
        default=None,
        description="every single substance (surfactant, or a class), or every material of a function",
    )
    base: str = Field(
        default="active matter",
        description="what the share is taken of: a total, substance:, tag: or function:",
    )
    at_least: SharePercent | None = Field(default=None, description="smallest share")
    at_most: SharePercent | None = Field(default=None, description="largest share")


class Ratio(Wish):
    """One amount in proportion to another."""

    of: str = Field(description="a material, INCI name, function:, tag:, or a total such as active matter")
    to: str = Field(description="a material, INCI name, function:, tag:, or a total such as active matter")
    at_least: Times | None = Field(default=None, description="of at least this many times to")
    at_most: Times | None = Field(default=None, description="of at most this many times to")


class Prefer(Wish):
    """A soft wish: falling short of it is allowed, and costs its worth for each unit."""

    measure: str = Field(description="any total, or a mean whose base is bounded from both sides")
    at_least: Number | None = Field(default=None, description="wished for: at least so much")
    at_most: Number | None = Field(default=None, description="wished for: at most so much")
    worth: Annotated[
        float, Field(strict=True, ge=0, json_schema_extra={"unit": "the aim's, per unit of the measure"})
    ] = Field(description="what each unit short of it costs, beside the aim")


class Aim(Wish):
    """The measure to make as small (or as large) as possible, and how ties are broken."""

    measure: str = "cost"
    sense: Literal["minimise", "maximise"] = "minimise"
    then: tuple[str, ...] = Field(default=(), description="measures that break ties, in this order")
    tie: Annotated[float, Field(strict=True, ge=0, le=MOST, json_schema_extra={"unit": "the aim's own"})] = (
        Field(default=0.001, description="how far from the best a tie-break may go")
    )


class BaselineKeys(Wish):
    """The table `[baseline]`: a formula file and how far the new formula may move from it."""

    formula: str = Field(
        min_length=1, description="formula file to start from; relative to the brief's folder"
    )
    rank: Count | None = Field(default=None, description="which formula of an answer; absent: the first")
    keep: tuple[str, ...] = Field(
        default=(),
        description="materials, or function:, tag:, substance:, whose amounts stay exactly as they are",
    )
    hold: FrozenMap[str, Annotated[float, Field(strict=True, ge=0, le=MOST)]] = Field(
        default_factory=FrozenDict,
        description="measure = allowance in its unit: stay within ± of today's value",
    )
    at_most_new: Count | None = Field(
        default=None, description="most materials that the baseline lacks; water, acids and bases not counted"
    )
    at_most_dropped: Count | None = Field(
        default=None, description="most materials of the baseline that may go"
    )


class Baseline(BaselineKeys):
    """An existing formula to start from, and how far the new one may move from it."""

    formula: str = Field(description="formula file to start from")
    lines: tuple[tuple[str, float], ...] = ()
    matched: tuple[Match, ...] = ()


class Waive(Wish):
    """A guard of the library that this brief does without; the answer says so."""

    rule: str = Field(
        min_length=1,
        description="name of a library rule, or `margin of SYSTEM`, or `undissociated acid of SYSTEM`",
    )


class Weighing(Wish):
    """The batch and the balance it is weighed on."""

    batch_g: Grams = Field(default=1000.0, description="batch size")
    balance_g: Grams = Field(default=0.01, description="readability of the balance")
    error_percent: Annotated[float, Field(strict=True, ge=0.001, le=100, json_schema_extra={"unit": "%"})] = (
        Field(
            default=2.0,
            description="weighing error allowed; lighter than (balance_g / 2) / error is not weighable",
        )
    )
    drops_per_mL: Annotated[float, Field(strict=True, ge=0.1, le=1e4, json_schema_extra={"unit": "1/mL"})] = (
        Field(
            default=20.0,
            description="drops of your dropper in 1 mL: acid and base of small trials stand in drops as well",
        )
    )


class Certainty(Wish):
    """For which lots within the suppliers' specifications the limits must hold."""

    lots: Literal["all"] | Annotated[float, Field(strict=True, gt=0, le=1)] = Field(
        default="all", description="limits hold for every lot within low and high, or for this share of lots"
    )
    seed: Annotated[int, Field(strict=True, ge=0, lt=2**63)] = Field(
        default=1, description="seed of the lots that are drawn"
    )


class Ranked(Wish):
    """How many formulas to list, and what makes two of them different."""

    how_many: Annotated[int, Field(strict=True, ge=1, le=1000)] = Field(
        default=5, description="formulas to list"
    )
    differ_in: tuple[str, ...] = Field(
        default=("surfactant", "thickener", "preservative"),
        description="functions whose substances make a formula different; preservative means the chosen system",
    )
    allowance: Annotated[float, Field(strict=True, ge=0, le=100, json_schema_extra={"unit": "%"})] = Field(
        default=1.0,
        description="how far above the best aim the ranges of the amounts reach; added to it, never multiplied",
    )


class Brief(Frozen):
    """A brief that was read and checked against its library.

    `library` already carries the brief's own prices and shelf. `known` is what the trials of its bench say.
    """

    title: str
    library: Library = Field(repr=False)
    library_name: str = ""
    file: str = ""
    product: Literal["rinse-off", "leave-on"] = "rinse-off"
    area: Literal["face", "hair", "body", "hands"] = "face"
    users: tuple[str, ...] = ()
    law: Literal["EU", "UK", "US", "none"] = "EU"
    on: date | None = None
    aim: Aim = Aim()
    targets: FrozenMap[str, Target] = Field(default_factory=FrozenDict)
    include: tuple[Include, ...] = ()
    exclude: tuple[Exclude, ...] = ()
    choose: tuple[Choose, ...] = ()
    share: tuple[Share, ...] = ()
    ratio: tuple[Ratio, ...] = ()
    prefer: tuple[Prefer, ...] = ()
    rules: Rules = Rules()
    waive: tuple[Waive, ...] = ()
    baseline: Baseline | None = None
    weighing: Weighing | None = None
    certainty: Certainty | None = None
    ranked: Ranked = Ranked()
    worth: float = WORTH
    shelf: FrozenMap[str, float | None] | None = None
    bench: str = ""
    known: InstanceOf[BenchKnowledge] = Field(default=NO_TRIALS, repr=False, exclude=True)
    notes: tuple[str, ...] = ()
