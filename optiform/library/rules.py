"""The rules of a library: its own measures, preservative systems, bases of trials and house rules."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from optiform.library.rows import Bound, Frozen, Trust
from optiform.mappings import FrozenDict, FrozenMap


class ColumnMeasure(Frozen):
    """A column of materials.csv or substances.csv that counts as a measure."""

    name: str = Field(min_length=1, description="how briefs call it")
    column: str = Field(description="of materials.csv or substances.csv")
    unit: str = ""
    basis: str = Field(
        default="total",
        description="`total` adds value times % w/w; `active matter`, `tag:WORD`, `function:WORD`, "
        "`substance:INCI` or `material:ID` make it a mean over that part",
    )
    better: Literal["higher", "lower"] | None = Field(default=None, description="which way the trade prefers")


class PreservativeSystem(Frozen):
    """Preservatives that work together: windows in % w/w and the pH range in which they work."""

    name: str = Field(min_length=1)
    members: FrozenMap[str, tuple[float, float]] = Field(
        min_length=1, description="material = [lowest, highest]", json_schema_extra={"unit": "% w/w"}
    )
    pH: tuple[float | None, float | None] | None = Field(
        default=None, description="range in which it works; either end may be left out"
    )
    margin: float | None = Field(
        default=None,
        ge=0,
        le=3,
        description="kept from both ends of the pH range; absent: none",
        json_schema_extra={"unit": "pH"},
    )
    undissociated_at_least: FrozenMap[str, Annotated[float, Field(gt=0, le=100)]] = Field(
        default_factory=FrozenDict,
        description="INCI name = least uncharged acid at the upper end of the formula's pH window",
        json_schema_extra={"unit": "% w/w as acid"},
    )
    why: str = ""
    trust: Trust | None = None
    source: str = ""

    @property
    def working_pH(self) -> tuple[float | None, float | None]:
        """Return the pH range less the margin at each stated end; None for an end that is not stated."""
        low, high = self.pH or (None, None)
        margin = self.margin or 0.0
        return (
            None if low is None else round(low + margin, 10),
            None if high is None else round(high - margin, 10),
        )

    @field_validator("pH", mode="before")
    @classmethod
    def _open_ends(cls, value: object) -> object:
        """Read a range of which an end is left out: a table of bounds, an empty text, an infinity."""
        if isinstance(value, dict) and value and value.keys() <= {"at_least", "at_most"}:
            value = (value.get("at_least"), value.get("at_most"))
        if isinstance(value, list | tuple):
            left_out = ("", "-inf", "inf", "nan")
            return tuple(None if str(end) in left_out else end for end in value)
        return value


class Base(Frozen):
    """The surfactant blend in which trials were made: a viscosity holds for washes like it and for no others."""

    name: str = Field(min_length=1, description="as trials.csv calls it")
    active: tuple[float, float] = Field(
        description="active matter as tried, [lowest, highest]", json_schema_extra={"unit": "% w/w"}
    )
    shares: FrozenMap[str, tuple[float, float]] = Field(
        min_length=1,
        description="charge class, tag: or substance: = [lowest, highest] as tried; no other kind of surfactant",
        json_schema_extra={"unit": "% of active matter"},
    )


class Rule(Frozen):
    """What every house rule may carry: a name by which a brief may waive it, why it exists and who says so."""

    name: str = Field(default="", description="by which a brief may waive the rule")
    why: str = ""
    trust: Trust | None = None
    source: str = ""


class Needs(Rule):
    """Whenever `material` is used, `other` is used as well, in `ratio` to it if one is given."""

    material: str
    other: str
    ratio: float | None = Field(default=None, gt=0, le=1e6)


class Incompatible(Rule):
    """`one` and `other` are never used together."""

    one: str
    other: str


class When(Rule):
    """Whenever `material` is used, a measure stays within bounds; not while `unless` is used as well."""

    material: str
    unless: str | None = Field(default=None, description="the rule sleeps while this is used")
    measure: str
    at_least: Bound | None = None
    at_most: Bound | None = None


class Term(Frozen):
    """One term of a linear rule: a measure or a material, times a factor."""

    measure: str | None = None
    material: str | None = None
    times: Bound = 1.0


class LinearRule(Rule):
    """Any linear rule over measures and amounts; the measures in it are totals."""

    name: str = Field(min_length=1)
    terms: tuple[Term, ...] = Field(min_length=1)
    unit: str = Field(default="", description="of the sum, as `% w/w`; told beside its bounds")
    at_least: Bound | None = None
    at_most: Bound | None = None


class Note(Rule):
    """What a reader is told of a formula that holds `material`, and `other` where one is named."""

    material: str
    other: str = Field(default="", description="told only where this is used as well; empty: always")
    at_least: float | None = Field(
        default=None,
        gt=0,
        le=100,
        description="told only from this amount of `material` on",
        json_schema_extra={"unit": "% w/w"},
    )
    say: str = Field(min_length=1, description="what is told, in a sentence")


class Rules(Frozen):
    """Rules that a library or a brief brings; notes forbid nothing."""

    needs: tuple[Needs, ...] = ()
    incompatible: tuple[Incompatible, ...] = ()
    when: tuple[When, ...] = ()
    linear: tuple[LinearRule, ...] = ()
    note: tuple[Note, ...] = ()

    @property
    def every(self) -> tuple[Rule, ...]:
        """Return the rules of all kinds."""
        return (*self.needs, *self.incompatible, *self.when, *self.linear, *self.note)
