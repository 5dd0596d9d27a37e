"""Values of the law: limits, declarable allergens, frame formulations, positive lists, claims, label rules."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, field_validator, model_validator

from optiform.faults import BadInput, Fault, nearest
from optiform.library.models import MOST, Frozen, Trust
from optiform.library.rows import SEMICOLONS, Names
from optiform.tolerances import SMALLEST_TYPED

Jurisdiction = Literal["EU", "UK", "US", "none"]
Product = Literal["rinse-off", "leave-on"]
Area = Literal["face", "hair", "body", "hands"]
Use = Literal["preservative", "colourant", "other", "any"]

JURISDICTIONS: tuple[Jurisdiction, ...] = get_args(Jurisdiction)
PRODUCTS: tuple[Product, ...] = get_args(Product)
AREAS: tuple[Area, ...] = get_args(Area)


def place_of(jurisdiction: str) -> Jurisdiction:
    """Return one of the places whose law is known; anything else is bad input."""
    for place in JURISDICTIONS:
        if place == jurisdiction:
            return place
    near = nearest(jurisdiction, JURISDICTIONS)
    raise BadInput([Fault("", "law", f"'{jurisdiction}' is not known", ", ".join(JURISDICTIONS), near)])


class Sourced(Frozen):
    """A row with its source; a word of trust and a colon before it say how firm it is, else it is a library's own."""

    source: str = ""
    trust: Trust = Trust.OWN

    @model_validator(mode="before")
    @classmethod
    def _parted(cls, fields: Any) -> Any:
        """Part a source such as "published: Annex III" into its trust and the rest."""
        if not isinstance(fields, dict) or "trust" in fields:
            return fields
        head, colon, rest = str(fields.get("source", "")).partition(":")
        known = colon and head.strip() in set(Trust)
        return {**fields, "source": rest.strip(), "trust": Trust(head.strip())} if known else fields


class Limit(Sourced):
    """One row of a limits table.

    Attributes
    ----------
    jurisdiction : str
        EU, UK or US; "any" for a row of a library's own that holds everywhere.
    product : str
        rinse-off, leave-on or any.
    area : tuple of str
        Areas for which the row is written; empty for all.
    users : str
        For whom the row is written, e.g. ``under 3``; empty for everybody.
    use : str
        preservative, colourant, other or any: the use of the substance that the row governs.
    group : str
        Name of a joint limit inside the entry; empty when the substances of the row are the limit.
    substances : tuple of str
        INCI names that count together.
    max_percent : float, optional
        Largest amount in the finished product [% w/w]; 0 forbids; None permits without a maximum.
    basis_molar_mass : float, optional
        Molar mass in which the limit is expressed [g/mol], e.g. that of the free acid; None: as such.
    equivalents : dict
        Moles of that basis in one mole of a substance, where it is not 1.
    entry : str
        Where it stands in the law, e.g. ``Annex V/1``.
    warning : str
        Condition or label phrase that comes with the row.
    valid_from, valid_to : date, optional
        First and last day on which the row holds.
    source : str
        Who says so, without the trust word.
    trust : Trust
        Where the numbers come from.
    own : bool
        The row comes from a library's own file.
    """

    jurisdiction: Literal["EU", "UK", "US", "any"]
    product: Literal["rinse-off", "leave-on", "any"] = "any"
    area: Annotated[tuple[Literal["face", "hair", "body", "hands", "any"], ...], SEMICOLONS] = ()
    users: str = ""
    use: Use = "any"
    group: str = ""
    substances: Names = Field(min_length=1)
    max_percent: float | None = Field(default=None, ge=0, le=100)
    basis_molar_mass: float | None = Field(default=None, ge=SMALLEST_TYPED, le=MOST)
    equivalents: dict[str, float] = Field(default_factory=dict)
    entry: str = ""
    warning: str = ""
    valid_from: date | None = None
    valid_to: date | None = None
    own: bool = False

    @field_validator("area")
    @classmethod
    def _everywhere(cls, area: tuple[str, ...]) -> tuple[str, ...]:
        """Read "any" as all areas."""
        return () if "any" in area else area

    def holds_on(self, on: date) -> bool:
        """Tell whether the row is in force on a day (both ends included)."""
        return (self.valid_from or on) <= on <= (self.valid_to or on)


class Allergen(Sourced):
    """A fragrance allergen, or a group of them, that the ingredient list must name above a threshold.

    Thresholds in % w/w of the finished product; the sum of the members counts.
    """

    jurisdiction: Literal["EU", "UK", "US", "any"]
    group_name: str = Field(min_length=1)
    members: Names = ()
    rinse_off_percent: float = Field(ge=0, le=100)
    leave_on_percent: float = Field(ge=0, le=100)
    valid_from: date | None = None

    def threshold(self, product: Product) -> float:
        """Return the amount above which the name must appear [% w/w]."""
        return self.rinse_off_percent if product == "rinse-off" else self.leave_on_percent


class MolarMass(Frozen):
    """The molar mass of one substance [g/mol]."""

    inci: str = Field(min_length=1)
    molar_mass: float = Field(gt=0)


class Frame(Sourced):
    """One ceiling of a frame formulation: a filing category of poison centres, not a safe dose."""

    number: str
    title: str
    area: Annotated[tuple[Area, ...], SEMICOLONS]
    totals: Names = Field(min_length=1)
    max_percent: float = Field(ge=0, le=100)


class PositiveList(Sourced):
    """A list of what may serve a use in a place, and what happens to a material that is not on it.

    `effect` is exclude (a requirement of the law keeps it out) or warn (a note names it).
    """

    jurisdiction: Literal["EU", "UK", "US"]
    use: Literal["preservative", "colourant"]
    provision: str = Field(min_length=1)
    effect: Literal["exclude", "warn"]


class Claim(Sourced):
    """Words of a title or a label that call for a caution, and the provision behind it."""

    jurisdiction: Literal["EU", "UK", "US"]
    words: Names = Field(min_length=1)
    caution: str = Field(min_length=1)
    provision: str = Field(min_length=1)


class Particular(Frozen):
    """One blank of a label.

    Attributes
    ----------
    key : str
        Short name, e.g. ``batch``.
    title : str
        What goes there.
    hint : str
        What to look at while filling it.
    provision : str
        Where the duty stands; from memory unless a source is named in docs/reference/law.md.
    is_check : bool
        A question to settle rather than a blank to fill.
    """

    key: str
    title: str
    hint: str
    provision: str
    is_check: bool = False


class LabelRules(Frozen):
    """How a jurisdiction wants its ingredient list.

    Attributes
    ----------
    heading : str
        The word before the list.
    fragrance : str
        The name for perfume compositions and their raw materials.
    orders_exactly_one_percent : bool
        Whether an ingredient at exactly 1 % is kept in the ordered part.
    colourants_last : bool
        Whether colourants follow the other ingredients.
    nano_suffix : str
        What follows the name of a nanomaterial; empty where there is no such rule.
    lists_carried_preservatives : bool
        Whether a preservative carried over by a raw material is listed unless shown to be technical.
    us_names : bool
        Whether the US names of the substances are printed.
    source : str
        The provision.
    """

    heading: str = "Ingredients"
    fragrance: str = "Parfum"
    orders_exactly_one_percent: bool = True
    colourants_last: bool = True
    nano_suffix: str = ""
    lists_carried_preservatives: bool = True
    us_names: bool = False
    source: str = ""


ARTICLE_19 = LabelRules(
    nano_suffix="(nano)",
    source="Article 19(1)(g) of Regulation (EC) 1223/2009",
)
LABEL_RULES: dict[Jurisdiction, LabelRules] = {
    "EU": ARTICLE_19,
    "UK": ARTICLE_19.model_copy(update={"source": ARTICLE_19.source + ", retained in Great Britain"}),
    "US": LabelRules(
        fragrance="Fragrance",
        orders_exactly_one_percent=False,
        lists_carried_preservatives=False,
        us_names=True,
        source="21 CFR 701.3",
    ),
    "none": LabelRules(source="descending order, colourants last"),
}


class Law(Frozen):
    """The law that a brief is held to, on one day.

    Attributes
    ----------
    jurisdiction : str
        EU, UK, US or none.
    on : date
        The day for which it is read.
    limits : tuple of Limit
        Every row read, also those not in force on that day.
    allergens : tuple of Allergen
        Every declarable allergen read.
    label : LabelRules
        How the ingredient list is written.
    notes : tuple of str
        What a reader must know: switched off, replaced by a library's own rows.
    """

    jurisdiction: Jurisdiction
    on: date
    limits: tuple[Limit, ...] = ()
    allergens: tuple[Allergen, ...] = ()
    label: LabelRules = ARTICLE_19
    notes: tuple[str, ...] = ()
