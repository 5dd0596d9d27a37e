"""The keys of a brief file, as the user writes them."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from optiform.brief.models import (
    WORTH,
    Aim,
    BaselineKeys,
    Certainty,
    Choose,
    Exclude,
    Include,
    Prefer,
    Ranked,
    Ratio,
    Share,
    Target,
    Tie,
    Waive,
    Weighing,
    Wish,
)
from optiform.library.models import Incompatible, LinearRule, Needs, When
from optiform.mappings import FrozenDict, FrozenMap


class AimKeys(Wish):
    """The table `[aim]`: one of `minimise` and `maximise`, never both."""

    minimise: str | None = Field(default=None, description='measure to make small; without [aim]: "cost"')
    maximise: str | None = Field(default=None, description="measure to make large; instead of minimise")
    then: tuple[str, ...] = Field(default=(), description="measures that break ties, in this order")
    tie: Tie = Field(default=0.001, description="how far from the best a tie-break may go")

    def aim(self) -> Aim:
        """Return the aim; `maximise` only where it stands alone."""
        if self.maximise is not None and self.minimise is None:
            return Aim(measure=self.maximise, sense="maximise", then=self.then, tie=self.tie)
        return Aim(measure=self.minimise or "cost", then=self.then, tie=self.tie)


class BriefKeys(Wish):
    """A whole brief file. `title` is needed, and a target, an include, or a baseline that keeps or holds something."""

    title: str = Field(min_length=1, description="what the formula is for")
    library: str | None = Field(
        default=None,
        description="library folder or .xlsx, relative to the brief's folder; absent: the starter library",
    )
    product: Literal["rinse-off", "leave-on"] = Field(
        default="rinse-off", description="which legal limits apply"
    )
    area: Literal["face", "hair", "body", "hands"] = Field(default="face", description="where it is used")
    users: tuple[str, ...] = Field(default=(), description='who uses it, where the law cares, e.g. "under 3"')
    law: Literal["EU", "UK", "US", "none"] = Field(
        default="EU", description="whose legal limits apply; none switches them off, and the answer says so"
    )
    on: Annotated[date, Field(strict=True)] | None = Field(
        default=None, description="day for which the law is read, e.g. 2026-12-31; absent: today"
    )
    shelf: str | None = Field(
        default=None, description="CSV material,stock_g: only what is there may be used"
    )
    prices: str | None = Field(default=None, description="CSV material,price: overrides the library's prices")
    bench: str | None = Field(
        default=None,
        description="folder of trials (weighed.csv, readings.csv), relative to the brief's: what they taught counts",
    )
    worth: Annotated[float, Field(strict=True, ge=0, le=1, json_schema_extra={"unit": "part of the aim"})] = (
        Field(
            default=WORTH,
            description="a gain below this part of the aim (5 points of an index) is told, not proposed; 0: any gain",
        )
    )
    aim: AimKeys = AimKeys()
    targets: FrozenMap[str, Target] = Field(default_factory=FrozenDict)
    include: tuple[Include, ...] = ()
    exclude: tuple[Exclude, ...] = ()
    choose: tuple[Choose, ...] = ()
    share: tuple[Share, ...] = ()
    ratio: tuple[Ratio, ...] = ()
    prefer: tuple[Prefer, ...] = ()
    needs: tuple[Needs, ...] = ()
    incompatible: tuple[Incompatible, ...] = ()
    when: tuple[When, ...] = ()
    linear: tuple[LinearRule, ...] = ()
    waive: tuple[Waive, ...] = ()
    baseline: BaselineKeys | None = None
    weighing: Weighing | None = None
    certainty: Certainty | None = None
    ranked: Ranked = Ranked()


TABLES = ("aim", "baseline", "weighing", "certainty", "ranked")
LISTS = (
    "include",
    "exclude",
    "choose",
    "share",
    "ratio",
    "prefer",
    "needs",
    "incompatible",
    "when",
    "linear",
    "waive",
)
SCALARS = tuple(name for name in BriefKeys.model_fields if name not in (*TABLES, *LISTS, "targets"))
SECTIONS = ("aim", "targets", *LISTS, *(name for name in TABLES if name != "aim"))
