"""What a library is made of: substances, materials, their composition and the house rules."""

from __future__ import annotations

from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.library.arrays import Arrays
    from optiform.library.selection import SelectionIndex

Function = Literal[
    "water", "surfactant", "thickener", "humectant", "oil", "emulsifier", "solubiliser", "conditioner",
    "extract", "hydrosol", "preservative", "chelator", "acid", "base", "salt", "opacifier", "colourant",
    "fragrance", "powder", "other",
]  # fmt: skip
ChargeClass = Literal["anionic", "amphoteric", "nonionic", "cationic"]
Phase = Literal["water", "gum", "surfactant", "oil", "cool", "adjust"]
MOST_MONEY = 1e9
LEAST_GRAMS, MOST_GRAMS = 1e-6, 1e9
GRAMS = "grams above 0, up to a thousand tonnes"
MOST_ACID = 1e5
"""Four times what solid sodium hydroxide holds, mmol/kg (1000 / 40.0 g/mol = 25,000)."""

MOST_CHARGE = 100
MOST = 1e9
"""Numbers beyond it are slips of the pen; sums of them would leave what a computer's numbers hold."""

Bound = Annotated[float, Field(ge=-MOST, le=MOST)]
PartLabel = Literal["ingredient", "impurity", "incidental", "unknown"]


class Trust(StrEnum):
    """Where a number comes from, from the firmest to the weakest."""

    OWN = "own"
    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    MEMORY = "memory"
    ESTIMATE = "estimate"
    INVENTED = "invented"

    @property
    def rank(self) -> int:
        """Return 0 for the firmest origin, larger for weaker ones."""
        return list(Trust).index(self)


class Frozen(BaseModel):
    """A value that nothing changes after it was read."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, allow_inf_nan=False)


class Substance(Frozen):
    """One INCI-level chemical or botanical with its chemistry.

    Absent is not zero: a substance whose `pka`, `charge_acid_form` and `strong_charge` are all
    absent has unknown acid-base behaviour (Aqua alone is neutral by definition).
    """

    inci: str = Field(min_length=1, description="INCI name")
    charge_class: ChargeClass | None = Field(default=None, description="for surfactant substances only")
    mildness: float | None = Field(
        default=None,
        ge=0,
        le=100,
        description="ordinal index, 0 harsh to 100 gentle, on pure active",
        json_schema_extra={"unit": "points"},
    )
    natural_origin: float | None = Field(
        default=None, ge=0, le=1, description="natural origin index", json_schema_extra={"unit": "0 to 1"}
    )
    molar_mass: float | None = Field(
        default=None,
        ge=1,
        le=1e8,
        description="of the substance as written, counter-ions included",
        json_schema_extra={"unit": "g/mol"},
    )
    pka: tuple[float, ...] = Field(
        default=(), description="at 25 C, from the first proton on; several as `3.128;4.761;6.396`"
    )
    pka_kind: Literal["thermodynamic", "effective"] = Field(
        default="thermodynamic",
        description="effective pKa (micelle-shifted, polymer) take no activity correction",
    )
    pka_spread: float | None = Field(
        default=None,
        ge=0,
        le=3,
        description="how far the pKa may be off, either way (middle 90 %); empty: by its trust",
        json_schema_extra={"unit": "pH"},
    )
    charge_acid_form: float | None = Field(
        default=None,
        ge=-MOST_CHARGE,
        le=MOST_CHARGE,
        description="charge of the fully protonated form, without strong counter-ions",
        json_schema_extra={"unit": "e"},
    )
    strong_charge: float | None = Field(
        default=None,
        ge=-MOST_CHARGE,
        le=MOST_CHARGE,
        description="charge of the strong counter-ions of the substance as written; sodium benzoate 1",
        json_schema_extra={"unit": "e"},
    )
    strong_ion_charge: float = Field(
        default=1.0,
        ge=1,
        le=6,
        description="charge of one strong counter-ion: 1 sodium, 2 magnesium",
        json_schema_extra={"unit": "e"},
    )
    hlb: float | None = Field(
        default=None, ge=0, le=40, description="of an emulsifier", json_schema_extra={"unit": "HLB"}
    )
    required_hlb: float | None = Field(
        default=None, ge=0, le=40, description="of an oil, oil in water", json_schema_extra={"unit": "HLB"}
    )
    name_us: str = Field(default="", description="name on US labels where it differs")
    tags: tuple[str, ...] = Field(default=(), description='words; a trailing `?` means "may be"')
    trust: Trust | None = Field(default=None, description="how firm the row is")
    source: str = Field(default="", description="who says so")
    extra: dict[str, float] = Field(default_factory=dict)

    @property
    def charge_known(self) -> bool:
        """Tell whether the acid-base behaviour is stated (Aqua always is)."""
        if self.inci == "Aqua" or self.pka:
            return True
        return self.charge_acid_form is not None or self.strong_charge is not None


class Material(Frozen):
    """A raw material as supplied: what is bought and weighed. Amounts in % w/w, price per kg."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9._-]*$", description="how briefs and formulas name it")
    name: str = Field(min_length=1, description="how a reader names it")
    function: Function = Field(description="what it is there for")
    also: tuple[Function, ...] = Field(default=(), description="further functions")
    phase: Phase | None = Field(default=None, description="when it goes in")
    price: float = Field(
        ge=0,
        le=MOST_MONEY,
        description="of the material as supplied",
        json_schema_extra={"unit": "currency/kg"},
    )
    min_if_used: float = Field(
        default=0.0,
        ge=0,
        le=100,
        description="an amount is 0 or at least this",
        json_schema_extra={"unit": "% w/w"},
    )
    max_use: float = Field(
        default=100.0, gt=0, le=100, description="largest dose", json_schema_extra={"unit": "% w/w"}
    )
    pH_min: float | None = Field(default=None, ge=0, le=14, description="lowest pH at which it works")
    pH_max: float | None = Field(default=None, ge=0, le=14, description="highest pH at which it works")
    pH_10_min: float | None = Field(
        default=None, ge=0, le=14, description="supplier: lowest pH of a 10 % solution"
    )
    pH_10_max: float | None = Field(
        default=None, ge=0, le=14, description="supplier: highest pH of a 10 % solution"
    )
    free_alkali: float = Field(
        default=0.0,
        ge=-MOST_ACID,
        le=MOST_ACID,
        description="strong base beyond the composition as written; negative: free acid",
        json_schema_extra={"unit": "mmol/kg"},
    )
    free_alkali_low: float | None = Field(
        default=None,
        ge=-MOST_ACID,
        le=MOST_ACID,
        description="the least that likely lots hold (fifth percentile)",
        json_schema_extra={"unit": "mmol/kg"},
    )
    free_alkali_high: float | None = Field(
        default=None,
        ge=-MOST_ACID,
        le=MOST_ACID,
        description="the most that likely lots hold (95th percentile)",
        json_schema_extra={"unit": "mmol/kg"},
    )
    natural_origin: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="the supplier's own index; overrides the substances",
        json_schema_extra={"unit": "0 to 1"},
    )
    clarity: Literal["clear", "hazy", "opaque", "pearl"] | None = Field(
        default=None, description="what it does to a clear wash"
    )
    stock_g: float | None = Field(
        default=None, ge=0, le=MOST_GRAMS, description="what is on the shelf", json_schema_extra={"unit": "g"}
    )
    handling: tuple[str, ...] = Field(
        default=(),
        description="how it is worked in: slurry, acid-slurry, sprinkle, hydrate, melt, cool-down, dust, last ...",
    )
    hydration_h: float | None = Field(
        default=None, ge=0, le=1e4, description="how long it swells", json_schema_extra={"unit": "h"}
    )
    add_above_C: float | None = Field(
        default=None,
        ge=-50,
        le=300,
        description="lowest temperature at which it goes in",
        json_schema_extra={"unit": "C"},
    )
    add_below_C: float | None = Field(
        default=None,
        ge=-50,
        le=300,
        description="highest temperature at which it goes in",
        json_schema_extra={"unit": "C"},
    )
    density: float | None = Field(default=None, ge=0.01, le=25, json_schema_extra={"unit": "g/mL"})
    tags: tuple[str, ...] = Field(default=(), description='words; a trailing `?` means "may be"')
    trust: Trust | None = Field(default=None, description="how firm the row is")
    source: str = Field(default="", description="who says so")
    extra: dict[str, float] = Field(default_factory=dict)

    @property
    def functions(self) -> tuple[str, ...]:
        """Return the main function and the further ones."""
        return (self.function, *self.also)


class Part(Frozen):
    """How much of one substance one material holds, % w/w; `low` and `high` bound the specification."""

    material: str = Field(description="id")
    inci: str = Field(description="INCI name")
    percent: float = Field(ge=0, le=100, description="typical content", json_schema_extra={"unit": "% w/w"})
    low: float | None = Field(
        default=None,
        ge=0,
        le=100,
        description="lower end of the supplier's specification",
        json_schema_extra={"unit": "% w/w"},
    )
    high: float | None = Field(
        default=None,
        ge=0,
        le=100,
        description="upper end of the supplier's specification",
        json_schema_extra={"unit": "% w/w"},
    )
    label: PartLabel = Field(default="ingredient", description="how labels treat it")


class TitrationPoint(Frozen):
    """Strong acid (mmol per kg of material) that brings the material to a pH; negative means base."""

    material: str = Field(description="id")
    pH: float = Field(ge=0, le=14, description="reached")
    acid_mmol_per_kg: float = Field(
        ge=-MOST_ACID,
        le=MOST_ACID,
        description="strong acid added to reach it; negative: base",
        json_schema_extra={"unit": "mmol/kg"},
    )
    lot: str = ""
    date: str = ""
    source: str = ""


class Trial(Frozen):
    """One measured viscosity of a thickener in a base."""

    base: str = Field(min_length=1, description="your name for the surfactant base")
    material: str = Field(description="id of the thickener")
    percent: float = Field(
        gt=0, le=100, description="of the thickener as supplied", json_schema_extra={"unit": "% w/w"}
    )
    mPa_s: float = Field(gt=0, le=1e9, description="viscosity read", json_schema_extra={"unit": "mPa.s"})
    spindle: str = ""
    rpm: float | None = Field(default=None, ge=-MOST, le=MOST, json_schema_extra={"unit": "1/min"})
    temperature_C: float | None = Field(default=None, ge=-MOST, le=MOST, json_schema_extra={"unit": "C"})
    hours: float | None = Field(
        default=None, ge=-MOST, le=MOST, description="after making", json_schema_extra={"unit": "h"}
    )
    trust: Trust | None = Field(
        default=None, description="empty: your own; only what you measured yourself gives a viscosity"
    )
    source: str = ""


class Pack(Frozen):
    """A pack that a supplier sells of a material."""

    material: str = Field(description="id")
    size_g: float = Field(ge=0.01, le=MOST_GRAMS, description="content", json_schema_extra={"unit": "g"})
    price: float = Field(
        ge=0, le=MOST_MONEY, description="of the pack", json_schema_extra={"unit": "currency"}
    )
    supplier: str = ""


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
    members: dict[str, tuple[float, float]] = Field(
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
    undissociated_at_least: dict[str, Annotated[float, Field(gt=0, le=100)]] = Field(
        default_factory=dict,
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
    shares: dict[str, tuple[float, float]] = Field(
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


class Library(Frozen):
    """Everything that can be bought, with the house rules that belong to it.

    The order of `materials` and `substances` is that of the files; code aligns by id through
    `arrays`, never by position in a file.
    """

    name: str
    folder: str = ""
    currency: str = "EUR"
    trust: dict[str, Trust] = Field(default_factory=dict)
    substances: tuple[Substance, ...]
    materials: tuple[Material, ...]
    parts: tuple[Part, ...]
    measures: tuple[ColumnMeasure, ...] = ()
    systems: tuple[PreservativeSystem, ...] = ()
    rules: Rules = Rules()
    titrations: tuple[TitrationPoint, ...] = ()
    trials: tuple[Trial, ...] = ()
    bases: tuple[Base, ...] = ()
    packs: tuple[Pack, ...] = ()
    limits_file: str = ""
    notes: tuple[str, ...] = ()

    @cached_property
    def material(self) -> dict[str, Material]:
        """Return the materials by id."""
        return {material.id: material for material in self.materials}

    @cached_property
    def substance(self) -> dict[str, Substance]:
        """Return the substances by INCI name."""
        return {substance.inci: substance for substance in self.substances}

    @cached_property
    def composition(self) -> dict[str, tuple[Part, ...]]:
        """Return the parts of each material, by material id."""
        parts: dict[str, list[Part]] = {material.id: [] for material in self.materials}
        for part in self.parts:
            parts.setdefault(part.material, []).append(part)
        return {material: tuple(found) for material, found in parts.items()}

    @cached_property
    def own_trials(self) -> tuple[Trial, ...]:
        """Return the trials that somebody really made here: those of no other trust than their own."""
        usual = self.trust.get("mPa_s", Trust.OWN)
        return tuple(trial for trial in self.trials if (trial.trust or usual) is Trust.OWN)

    @cached_property
    def water(self) -> Material:
        """Return the one material whose function is water: the q.s."""
        return next(material for material in self.materials if material.function == "water")

    @cached_property
    def selections(self) -> SelectionIndex:
        """Return the materials under each function, tag and substance; ask it through `select`."""
        from optiform.library.selection import SelectionIndex

        return SelectionIndex.of(self)

    @cached_property
    def arrays(self) -> Arrays:
        """Return the numeric core of this library."""
        from optiform.library.arrays import Arrays

        return Arrays.of(self)

    def __hash__(self) -> int:
        """Hash cheaply, so that what was built from a library can be kept beside it."""
        sizes = (len(self.materials), len(self.substances), len(self.parts))
        return hash((self.name, self.folder, self.currency, sizes))

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Library:
        """Return a library with some fields changed; nothing derived from the old fields is kept.

        The values are shared, not copied: they are frozen, so `deep` changes nothing.
        """
        fields = {name: getattr(self, name) for name in Library.model_fields}
        return Library(**{**fields, **(update or {})})

    def __getstate__(self) -> dict[Any, Any]:
        """Return what travels to another process: the fields, and nothing that was worked out of them."""
        fields = {name: getattr(self, name) for name in Library.model_fields}
        return {**super().__getstate__(), "__dict__": fields}

    def __eq__(self, other: object) -> bool:
        """Compare by identity first, then by content."""
        return self is other or (isinstance(other, Library) and super().__eq__(other))
