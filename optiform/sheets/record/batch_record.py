"""Makes the batch record: what is weighed, what is done, and every blank that a maker fills in.

The blanks are those that a batch record under ISO 22716:2007 (good manufacturing practices for
cosmetics: equipment, raw materials, production, quality control, deviations, documentation) is
expected to hold; the choice is from memory of the guideline and common practice, in our own words.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from optiform.answers.model.answer import Acidity
from optiform.bounds import window_text
from optiform.brief.bench import base_of_formula
from optiform.brief.models import Brief
from optiform.library.models import Frozen, Library
from optiform.measures.uncharged import working_window
from optiform.sheets.record.batch import Batch
from optiform.sheets.record.procedure import procedure_of
from optiform.sheets.record.steps import Procedure
from optiform.sheets.unit import Unit
from optiform.trials.learned import LearnedMeasure
from optiform.vectors import Floats


class Blank(Frozen):
    """One entry to fill in by hand; `wanted` is the value expected, where it is known."""

    key: str
    title: str
    unit: str = ""
    wanted: str = ""

    @property
    def label(self) -> str:
        """Return the title with the unit: "Bulk, g"."""
        return f"{self.title}, {self.unit}" if self.unit else self.title


class Part(Frozen):
    """One block of blanks under a heading; `rows` is how many times they are needed."""

    key: str
    title: str
    blanks: tuple[Blank, ...]
    rows: int = 1


class BatchRecord(Frozen):
    """A batch record before the batch: the plan is filled in, everything else blank.

    Attributes
    ----------
    before, after : tuple of Part
        Blocks to fill in before weighing starts and after the last step.
    per_material : tuple of Blank
        Blanks of each line of the weighing table.
    per_step : tuple of Blank
        Blanks of each step.
    """

    title: str
    formula: str
    batch: Batch
    procedure: Procedure
    before: tuple[Part, ...]
    per_material: tuple[Blank, ...]
    per_step: tuple[Blank, ...]
    after: tuple[Part, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Form:
    """The blanks of every batch record, as blanks.toml states them."""

    before: tuple[Part, ...]
    after: tuple[Part, ...]
    per_material: tuple[Blank, ...]
    per_step: tuple[Blank, ...]


@cache
def _form() -> _Form:
    text = resources.files("optiform.sheets.record").joinpath("blanks.toml").read_text(encoding="utf-8")
    stated = tomllib.loads(text)
    parts = [
        (part.pop("when"), Part(**{**part, "blanks": _blanks(*part["blanks"])})) for part in stated["part"]
    ]
    return _Form(
        before=tuple(part for when, part in parts if when == "before"),
        after=tuple(part for when, part in parts if when == "after"),
        per_material=_blanks(*stated["per_material"]),
        per_step=_blanks(*stated["per_step"]),
    )


def parts_of_record() -> tuple[Part, ...]:
    """Return every block of blanks that a batch record has, in its order."""
    return (*_form().before, *_form().after)


def _blanks(*rows: Sequence[str]) -> tuple[Blank, ...]:
    return tuple(Blank(**dict(zip(("key", "title", "unit", "wanted"), row, strict=False))) for row in rows)


def batch_record(
    batch: Batch,
    library: Library,
    brief: Brief,
    acidity: Acidity | None,
    *,
    title: str,
    formula: str,
    unit: Unit | None = None,
) -> BatchRecord:
    """Return the batch record of a batch.

    Parameters
    ----------
    brief : Brief
        Its rules on what a material needs and its targets for pH and viscosity go into the record.
    acidity : Acidity, optional
        The computed pH with doses and reserve.
    unit : Unit, optional
        Its samples and its yield say what they come to in this batch.
    """
    needs = (*library.rules.needs, *brief.rules.needs)
    procedure = procedure_of(batch, library, needs, acidity)
    amounts = library.arrays.amounts((line.material, line.percent) for line in batch.lines)
    found = record_of(batch, procedure, in_process(brief, acidity, amounts), title=title, formula=formula)
    return found.model_copy(update={"after": _expected(found.after, batch, unit)})


def record_of(
    batch: Batch, procedure: Procedure, checks: Part, *, title: str, formula: str, known: Sequence[Blank] = ()
) -> BatchRecord:
    """Return the batch record of a batch whose steps and checks in process are known.

    `known` are further blanks of its identity.
    """
    told = {"product": title, "version": formula}
    form = _form()
    identity, *before = form.before
    identity = _with_wanted(identity, told)
    return BatchRecord(
        title=title,
        formula=formula,
        batch=batch,
        procedure=procedure,
        before=(identity.model_copy(update={"blanks": (*identity.blanks, *known)}), *before),
        per_material=form.per_material,
        per_step=form.per_step,
        after=(checks, *form.after[1:]),
        notes=(*batch.notes, *procedure.notes),
    )


def _with_wanted(part: Part, wanted: Mapping[str, str]) -> Part:
    """Return a part with the values expected of its blanks, by key."""
    blanks = (
        blank.model_copy(update={"wanted": wanted.get(blank.key, blank.wanted)}) for blank in part.blanks
    )
    return part.model_copy(update={"blanks": tuple(blanks)})


def _expected(parts: Sequence[Part], batch: Batch, unit: Unit | None) -> tuple[Part, ...]:
    """Return blocks of blanks with the grams that a unit file expects of bulk and samples."""
    if unit is None or not unit.samples_g:
        return tuple(parts)
    bulk = batch.batch_g * unit.yield_percent / 100.0
    grams = {
        "bulk": bulk,
        "retained": unit.retained_g,
        "tested": unit.tested_g,
        "to fill": bulk - unit.samples_g,
    }
    told = {key: f"{value:.10g}" for key, value in grams.items()}
    return tuple(_with_wanted(part, told) for part in parts)


def in_process(brief: Brief, acidity: Acidity | None, amounts: Floats) -> Part:
    """Return the checks during and after making, with their limits where they are known."""
    pH = limit_of_pH(brief, amounts)
    computed = (
        f"computed {acidity.pH:.1f}, likely lots {acidity.low:.1f} to {acidity.high:.1f}"
        if acidity is not None
        else ""
    )
    before = (
        f"computed {acidity.undosed_pH:.1f}" if acidity is not None and acidity.undosed_pH is not None else ""
    )
    told = {"pH before": before, "pH after": pH or computed, "pH day 1": pH,
            "viscosity day 1": _expected_reading(brief, "viscosity", amounts)}  # fmt: skip
    return _with_wanted(_form().after[0], told)


def limit_of_pH(brief: Brief, amounts: Floats) -> str:
    """Return the pH at which brief, preservative system, materials and rules all let a batch of `amounts` pass."""
    target = brief.targets.get("pH")
    asked = (None, None) if target is None else (target.at_least, target.at_most)
    low, high = working_window(brief.library, amounts, (brief.library.rules, brief.rules))
    ends = (
        max((end for end in (low, asked[0]) if end is not None), default=None),
        min((end for end in (high, asked[1]) if end is not None), default=None),
    )
    if None not in ends and ends[0] > ends[1]:  # type: ignore[operator]
        needs, wants = window_text(low, high), window_text(*asked)
        return f"none: what is in it needs {needs}" + (f", the brief wants {wants}" if wants else "")
    return window_text(*ends)


def _expected_reading(brief: Brief, measure: str, amounts: Floats) -> str:
    """Return what a brief asks of a reading, and what the trials of its bench predict nine times in ten."""
    target = brief.targets.get(measure)
    asked = "" if target is None else window_text(target.at_least, target.at_most)
    materials = brief.library.materials
    percents = {material.id: float(x) for material, x in zip(materials, amounts, strict=True) if x > 0}
    for one in base_of_formula(brief, amounts).known.taught:
        if not isinstance(one, LearnedMeasure) or one.name != measure or not one.base <= percents.keys():
            continue
        predicted = one.interval(percents)
        if predicted is not None:
            low, high = (float(f"{end:.2g}") for end in predicted[1:])
            return "; ".join(filter(None, (asked, f"your trials predict {low:g} to {high:g}")))
    return asked
