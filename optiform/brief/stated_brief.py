"""Returns the brief that stands in where none is given, from what a formula's file states."""

from __future__ import annotations

from optiform.bounds import window_text
from optiform.brief.checking import check_targets, check_users
from optiform.brief.context import Context
from optiform.brief.models import Brief
from optiform.brief.validation import read_entries
from optiform.faults import Faults
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.waiving import waive
from optiform.measures import Catalogue

SCALARS = ("product", "area", "users", "law", "on")


def stated_brief(formula: TypedFormula, library: Library) -> Brief:
    """Return what a formula is held against where no brief is given.

    Parameters
    ----------
    formula : TypedFormula
        Its `stated` has keys of a brief: law, product, area, users, day, pH window, waived guards.
    library : Library

    Raises
    ------
    BadInput
        If what the file states means nothing.

    Notes
    -----
    A formula for which no pH window is stated is judged at its own pH: nobody promised that it may have another.
    """
    title = formula.name or "a formula"
    faults = Faults(formula.file)
    entries = read_entries({"title": title, **formula.stated}, faults)
    context = Context(library, Catalogue(library), faults)
    check_targets(entries.targets, context)
    check_users(entries.scalars.get("users", ()), context)
    faults.raise_if_any()
    waived = tuple(entry for _, entry in entries.lists["waive"])
    return Brief(
        title=title,
        library=waive(library, tuple(entry.rule for entry in waived)),
        **{key: entries.scalars[key] for key in SCALARS},
        targets=entries.targets,
        waive=waived,
    )


def told_ground(brief: Brief) -> str:
    """Return in a sentence what a formula without a brief was judged by."""
    law = "no legal limits" if brief.law == "none" else f"{brief.law} limits"
    words = [law, brief.product, brief.area, *brief.users]
    if (pH := brief.targets.get("pH")) is not None:
        bench = ", set at the bench" if pH.set == "bench" else ""
        words.append(f"pH {window_text(pH.at_least, pH.at_most)}{bench}")
    waived = f"; waived: {', '.join(one.rule for one in brief.waive)}" if brief.waive else ""
    return f"Judged without a brief, by the library's rules and for: {', '.join(words)}{waived}."
