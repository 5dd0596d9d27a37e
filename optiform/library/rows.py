"""The rows of a library: substances, materials, what they hold, what was measured of them, what packs cost."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field

from optiform.mappings import FrozenDict, FrozenMap
from optiform.tolerances import SMALLEST_TYPED

Function = Literal[
    "water", "surfactant", "thickener", "humectant", "oil", "emulsifier", "solubiliser", "conditioner",
    "extract", "hydrosol", "preservative", "chelator", "acid", "base", "salt", "opacifier", "colourant",
    "fragrance", "powder", "other",
]  # fmt: skip
ChargeClass = Literal["anionic", "amphoteric", "nonionic", "cationic"]
Phase = Literal["water", "gum", "surfactant", "oil", "cool", "adjust"]
MOST_MONEY = 1e9
LEAST_GRAMS, MOST_GRAMS = SMALLEST_TYPED, 1e9
GRAMS = "grams above 0, up to a thousand tonnes"
MOST_ACID = 1e5
"""Four times what solid sodium hydroxide holds, mmol/kg (1000 / 40.0 g/mol = 25,000)."""

MOST_CHARGE = 100
MOST = 1e9
"""Numbers beyond it are slips of the pen; sums of them would leave what a computer's numbers hold."""

Bound = Annotated[float, Field(ge=-MOST, le=MOST)]
Money = Annotated[float, Field(ge=0, le=MOST_MONEY, json_schema_extra={"unit": "currency"})]
Percent = Annotated[float, Field(ge=0, le=100, json_schema_extra={"unit": "% w/w"})]
PercentAboveNothing = Annotated[float, Field(gt=0, le=100, json_schema_extra={"unit": "% w/w"})]
PH = Annotated[float, Field(ge=0, le=14)]
Alkali = Annotated[float, Field(ge=-MOST_ACID, le=MOST_ACID, json_schema_extra={"unit": "mmol/kg"})]
Charge = Annotated[float, Field(ge=-MOST_CHARGE, le=MOST_CHARGE, json_schema_extra={"unit": "e"})]
Hlb = Annotated[float, Field(ge=0, le=40, json_schema_extra={"unit": "HLB"})]
NaturalOrigin = Annotated[float, Field(ge=0, le=1, json_schema_extra={"unit": "0 to 1"})]
Celsius = Annotated[float, Field(ge=-50, le=300, json_schema_extra={"unit": "C"})]
PartLabel = Literal["ingredient", "impurity", "incidental", "unknown"]


SEMICOLONS = "apart by semicolons"
"""Marks a column whose cells hold names, which have blanks in them: semicolons stand between."""

Names = Annotated[tuple[str, ...], SEMICOLONS]


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

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy with other values, whose mappings cannot be changed either."""
        frozen = {
            key: FrozenDict(value) if type(value) is dict else value for key, value in (update or {}).items()
        }
        return super().model_copy(update=frozen, deep=deep)


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
    natural_origin: NaturalOrigin | None = Field(default=None, description="natural origin index")
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
    charge_acid_form: Charge | None = Field(
        default=None, description="charge of the fully protonated form, without strong counter-ions"
    )
    strong_charge: Charge | None = Field(
        default=None,
        description="charge of the strong counter-ions of the substance as written; sodium benzoate 1",
    )
    strong_ion_charge: float = Field(
        default=1.0,
        ge=1,
        le=6,
        description="charge of one strong counter-ion: 1 sodium, 2 magnesium",
        json_schema_extra={"unit": "e"},
    )
    hlb: Hlb | None = Field(default=None, description="of an emulsifier")
    required_hlb: Hlb | None = Field(default=None, description="of an oil, oil in water")
    name_us: str = Field(default="", description="name on US labels where it differs")
    tags: tuple[str, ...] = Field(default=(), description='words; a trailing `?` means "may be"')
    trust: Trust | None = Field(default=None, description="how firm the row is")
    source: str = Field(default="", description="who says so")
    extra: FrozenMap[str, float] = Field(default_factory=FrozenDict)

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
    price_trust: Trust | None = Field(
        default=None, description="how firm the price is, where it is not that of the column"
    )
    min_if_used: Percent = Field(default=0.0, description="an amount is 0 or at least this")
    max_use: PercentAboveNothing = Field(default=100.0, description="largest dose")
    pH_min: PH | None = Field(default=None, description="lowest pH at which it works")
    pH_max: PH | None = Field(default=None, description="highest pH at which it works")
    pH_10_min: PH | None = Field(default=None, description="supplier: lowest pH of a 10 % solution")
    pH_10_max: PH | None = Field(default=None, description="supplier: highest pH of a 10 % solution")
    free_alkali: Alkali = Field(
        default=0.0, description="strong base beyond the composition as written; negative: free acid"
    )
    free_alkali_low: Alkali | None = Field(
        default=None, description="the least that likely lots hold (fifth percentile)"
    )
    free_alkali_high: Alkali | None = Field(
        default=None, description="the most that likely lots hold (95th percentile)"
    )
    acid_base: Literal["neutral", "pH"] | None = Field(
        default=None,
        description="what stands in for acid-base data that its substances lack: `neutral`, declared so; `pH`, the "
        "supplier's pH at 10 % alone, as free_alkali with a wide range",
    )
    natural_origin: NaturalOrigin | None = Field(
        default=None, description="the supplier's own index; overrides the substances"
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
    add_above_C: Celsius | None = Field(default=None, description="lowest temperature at which it goes in")
    add_below_C: Celsius | None = Field(default=None, description="highest temperature at which it goes in")
    density: float | None = Field(default=None, ge=0.01, le=25, json_schema_extra={"unit": "g/mL"})
    tags: tuple[str, ...] = Field(default=(), description='words; a trailing `?` means "may be"')
    trust: Trust | None = Field(default=None, description="how firm the row is")
    source: str = Field(default="", description="who says so")
    extra: FrozenMap[str, float] = Field(default_factory=FrozenDict)

    @property
    def functions(self) -> tuple[str, ...]:
        """Return the main function and the further ones."""
        return (self.function, *self.also)


class Part(Frozen):
    """How much of one substance one material holds, % w/w; `low` and `high` bound the specification."""

    material: str = Field(description="id")
    inci: str = Field(description="INCI name")
    percent: Percent = Field(description="typical content")
    low: Percent | None = Field(default=None, description="lower end of the supplier's specification")
    high: Percent | None = Field(default=None, description="upper end of the supplier's specification")
    label: PartLabel = Field(default="ingredient", description="how labels treat it")


class TitrationPoint(Frozen):
    """Strong acid (mmol per kg of material) that brings the material to a pH; negative means base."""

    material: str = Field(description="id")
    pH: PH = Field(description="reached")
    acid_mmol_per_kg: Alkali = Field(description="strong acid added to reach it; negative: base")
    lot: str = ""
    date: str = ""
    source: str = ""


class Trial(Frozen):
    """One measured viscosity of a thickener in a base."""

    base: str = Field(min_length=1, description="your name for the surfactant base")
    material: str = Field(description="id of the thickener")
    percent: PercentAboveNothing = Field(description="of the thickener as supplied")
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
    price: Money = Field(description="of the pack")
    supplier: str = ""
