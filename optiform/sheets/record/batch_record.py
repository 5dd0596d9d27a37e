"""The batch record: what is weighed, what is done, and every blank that a maker fills in.

The blanks are those that a batch record under ISO 22716:2007 (good manufacturing practices for
cosmetics: equipment, raw materials, production, quality control, deviations, documentation) is
expected to hold; the choice is from memory of the guideline and common practice, in our own words.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.bounds import window_text
from optiform.library.models import Frozen
from optiform.library.preserving import system_in
from optiform.library.working_range import pH_range
from optiform.sheets.record.batch import Batch
from optiform.sheets.record.making import procedure_of
from optiform.sheets.record.steps import Procedure

if TYPE_CHECKING:
    from optiform.answers.model.answer import Acidity
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.library.models import Library


class Blank(Frozen):
    """One thing to fill in by hand; `wanted` is what it should be, where that is known."""

    key: str
    title: str
    unit: str = ""
    wanted: str = ""


class Part(Frozen):
    """One block of blanks under a heading; `rows` is how many times they are needed."""

    key: str
    title: str
    blanks: tuple[Blank, ...]
    rows: int = 1


class BatchRecord(Frozen):
    """A batch record before the batch: the plan filled in, everything else blank.

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


def _blanks(*rows: tuple[str, str] | tuple[str, str, str] | tuple[str, str, str, str]) -> tuple[Blank, ...]:
    return tuple(Blank(**dict(zip(("key", "title", "unit", "wanted"), row, strict=False))) for row in rows)


IDENTITY = Part(
    key="identity",
    title="This batch",
    blanks=_blanks(
        ("product", "Product"), ("version", "Formula and version"), ("batch number", "Batch number"),
        ("made on", "Date of making"), ("made by", "Made by"), ("instructions", "Making instructions, version"),
    ),
)  # fmt: skip
EQUIPMENT = Part(
    key="equipment",
    title="Equipment and its cleaning",
    rows=5,
    blanks=_blanks(
        ("equipment", "Equipment, number"), ("cleaned on", "Cleaned on"), ("cleaned by", "Cleaned by"),
        ("checked by", "Checked by"), ("calibrated", "Calibrated until"),
    ),
)  # fmt: skip
CLEARANCE = Part(
    key="line clearance",
    title="Line clearance, before the first weighing",
    blanks=_blanks(
        ("cleared", "Materials, labels, papers of the last product are gone"),
        ("clean", "Area and tools are clean and dry"),
        ("present", "Materials here, released, labelled, within their dates"),
        ("papers", "These instructions are the current version"),
        ("protection", "Goggles, gloves, mask at hand; eye rinse within reach"),
        ("cleared by", "Cleared by, time"),
        ("clearance checked by", "Checked by"),
    ),
)
PER_MATERIAL = _blanks(
    ("lot", "Lot"), ("expiry", "Expiry"), ("actual", "Actual", "g"), ("weighed by", "Weighed by"),
    ("checked by", "Checked by"),
)  # fmt: skip
PER_STEP = _blanks(
    ("start", "Start"), ("end", "End"), ("temperature", "Temperature", "C"), ("speed", "Speed", "rpm"),
    ("done by", "By"),
)  # fmt: skip
DEVIATIONS = Part(
    key="deviations",
    title="Deviations: what was done otherwise, why, and who agreed",
    rows=3,
    blanks=_blanks(("step", "Step"), ("deviation", "What and why"), ("agreed by", "Agreed by, date")),
)
BULK = Part(
    key="bulk",
    title="Bulk and yield",
    blanks=_blanks(
        ("bulk container", "Bulk container, number, label"), ("storage", "Stored where, at which temperature"),
        ("hold until", "To be filled before"), ("bulk", "Bulk obtained", "g"),
        ("yield", "Yield, of all that was weighed in", "%"),
        ("yield explained", "If outside the usual range, why"),
    ),
)  # fmt: skip
SAMPLES = Part(
    key="samples",
    title="Retained samples",
    blanks=_blanks(
        ("sample count", "Number and size"), ("sample place", "Kept where"), ("sample until", "Kept until"),
        ("sampled by", "Taken by, date"),
    ),
)  # fmt: skip
MICRO = Part(
    key="microbiology",
    title="Microbiological result",
    blanks=_blanks(
        ("laboratory", "Laboratory, sample number, date sent"), ("count", "Result", "cfu/g"),
        ("micro limit", "Limit, and who set it"), ("micro verdict", "Within the limit?"),
    ),
)  # fmt: skip
RELEASE = Part(
    key="release",
    title="Decision",
    blanks=_blanks(
        ("record complete", "Record complete and checked"), ("decision", "Released / held / rejected"),
        ("reason", "Reason, if held or rejected"), ("decided by", "Name, signature, date"),
    ),
)  # fmt: skip


def batch_record(
    batch: Batch,
    library: Library,
    brief: Brief,
    acidity: Acidity | None,
    *,
    title: str,
    formula: str,
) -> BatchRecord:
    """Return the batch record of a batch.

    Parameters
    ----------
    batch : Batch
    library : Library
    brief : Brief
        Its rules on what a material needs and its targets for pH and viscosity go into the record.
    acidity : Acidity, optional
        The computed pH with doses and reserve.
    title, formula : str
        How product and formula are called.
    """
    needs = (*library.rules.needs, *brief.rules.needs)
    procedure = procedure_of(batch, library, needs, acidity)
    amounts = library.arrays.amounts((line.material, line.percent) for line in batch.lines)
    known = {"product": title, "version": formula}
    identity = IDENTITY.model_copy(
        update={
            "blanks": tuple(b.model_copy(update={"wanted": known.get(b.key, "")}) for b in IDENTITY.blanks)
        }
    )
    return BatchRecord(
        title=title,
        formula=formula,
        batch=batch,
        procedure=procedure,
        before=(identity, EQUIPMENT, CLEARANCE),
        per_material=PER_MATERIAL,
        per_step=PER_STEP,
        after=(_in_process(brief, acidity, amounts), DEVIATIONS, BULK, SAMPLES, MICRO, RELEASE),
        notes=(*batch.notes, *procedure.notes),
    )


def _in_process(brief: Brief, acidity: Acidity | None, amounts: Floats) -> Part:
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
    return Part(
        key="in process",
        title="Checks in process: limit and result",
        blanks=_blanks(
            ("pH before", "pH before acid or base", "", before),
            ("pH after", "pH after", "", pH or computed),
            ("dose used", "Acid or base used", "g"),
            ("viscosity day 0", "Viscosity, day 0 (spindle, rpm, C)", "mPa.s"),
            ("viscosity day 1", "Viscosity, day 1 (the same)", "mPa.s", _window(brief, "viscosity")),
            ("pH day 1", "pH, day 1", "", pH),
            ("appearance", "Look, colour, scent, against the reference sample"),
            ("density", "Density, free of air", "g/ml"),
            ("checks by", "Checked by, date"),
        ),
    )


def limit_of_pH(brief: Brief, amounts: Floats) -> str:
    """Return the pH at which brief, preservative system, materials and rules all let a batch pass.

    Parameters
    ----------
    brief : Brief
    amounts : ndarray, shape (n,)  [% w/w]
        Of the batch.
    """
    target = brief.targets.get("pH")
    asked = (None, None) if target is None else (target.at_least, target.at_most)
    library = brief.library
    used = [material.id for material, percent in zip(library.materials, amounts, strict=True) if percent > 0]
    system = system_in(library, amounts)
    systems = [] if system is None else [system]
    low, high = pH_range(library, used, used, systems, [library.rules, brief.rules])
    ends = (
        max((end for end in (low, asked[0]) if end is not None), default=None),
        min((end for end in (high, asked[1]) if end is not None), default=None),
    )
    if None not in ends and ends[0] > ends[1]:  # type: ignore[operator]
        needs, wants = window_text(low, high), window_text(*asked)
        return f"none: what is in it needs {needs}" + (f", the brief wants {wants}" if wants else "")
    return window_text(*ends)


def _window(brief: Brief, measure: str) -> str:
    target = brief.targets.get(measure)
    return "" if target is None else window_text(target.at_least, target.at_most)
