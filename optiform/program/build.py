"""Builds the program of a brief and its library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.brief.checking import conditions_of
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault
from optiform.measures import Catalogue, Measure
from optiform.measures.acidity import Acidity, BufferCapacity
from optiform.measures.amounts import Count
from optiform.measures.learned import as_aim, bent
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated
from optiform.program.program import Form, Program
from optiform.program.rows import acid_rows, baseline_rows, choices, law_rows, preferences, rules, wishes
from optiform.program.rows.certainty_rows import Lots, refuse_exact
from optiform.program.rows.draft import Draft
from optiform.program.rows.levels import Moves
from optiform.program.structure import add_structure
from optiform.program.windows import Windows, windows_of
from optiform.vectors import Floats

START_STRENGTH = 0.1
"""Ionic strength from which a dosed pH is first computed, mol per kg of water."""


def build(
    brief: Brief,
    ionic_strength: float = START_STRENGTH,
    *,
    open_pH: bool = False,
    watched: Windows | None = None,
) -> Program:
    """State everything that must hold as one program in array form.

    Parameters
    ----------
    ionic_strength : float  [mol per kg of water]
        At which the charges of a dosed pH are taken.
    open_pH : bool
        Whether the dosed pH target is meant to move: every pH window of the library then has its
        row, also those that the target as it stands makes needless.
    watched : Windows, optional
        Bound every limit for all lots within these windows, whatever the brief asks for; exact
        demands are not refused. For asking of a formula which limits which lots would break.

    Raises
    ------
    BadInput
        If a rule or the aim names a measure that cannot serve there.
    """
    brief = baseline_rows.held_brief(brief)
    lots = _lots(brief, ionic_strength) if watched is None else lots_of(brief, watched, ionic_strength)
    draft = drafted(brief, ionic_strength, open_pH=open_pH, lots=lots)
    catalogue = draft.catalogue
    found = catalogue.find(brief.aim.measure)
    sign = 1.0 if brief.aim.sense == "minimise" else -1.0
    objective, aim = aim_columns(draft, found), as_aim(found)
    preferences.add_preferences(draft)
    if watched is None:
        refuse_exact(draft)
        if brief.certainty is not None and brief.certainty.lots != "all":
            draft.notes.append(
                "A share of lots is counted for a whole answer; here limits hold at typical lots."
            )
    draft.faults.file = draft.faults.file or brief.file
    draft.faults.raise_if_any()
    return _freeze(draft, aim, sign, objective)


def drafted(
    brief: Brief,
    ionic_strength: float,
    *,
    open_pH: bool = False,
    lots: Lots | None = None,
    probing: bool = False,
) -> Draft:
    """Write the draft of a program: every row, but no aim; probing: also rows in which nothing stands."""
    asked = conditions_of(brief.targets, brief.known)
    catalogue = Catalogue(brief.library, replace(asked, ionic_strength=ionic_strength))
    draft = Draft(brief, catalogue, open_pH, lots=lots, probing=probing)
    choices.add_materials(draft)
    draft.structure = add_structure(draft)
    wishes.add_targets(draft)
    acid_rows.add_pH(draft)
    wishes.add_includes(draft)
    wishes.add_counts(draft)
    wishes.add_shares(draft)
    wishes.add_ratios(draft)
    rules.add_rules(draft, brief.rules, "brief")
    rules.add_rules(draft, brief.library.rules, "library")
    law_rows.add_law(draft)
    wishes.add_excludes(draft)
    wishes.add_shelf(draft)
    baseline_rows.add_baseline(draft)
    acid_rows.close_gates(draft)
    return draft


def _lots(brief: Brief, ionic_strength: float) -> Lots | None:
    """Return what makes limits hold for every lot, where the brief asks for that and any composition varies."""
    if brief.certainty is None or brief.certainty.lots != "all":
        return None
    windows = windows_of(brief.library)
    return None if windows is None else lots_of(brief, windows, ionic_strength)


def lots_of(brief: Brief, windows: Windows, ionic_strength: float = START_STRENGTH) -> Lots:
    """Return what each limit of a brief counts in each part of the materials that vary.

    What is kept or held of a baseline stays at the typical composition.
    """
    bare = brief.model_copy(update={"baseline": None, "certainty": None})
    drafts = (
        drafted(bare.model_copy(update={"library": library}), ionic_strength, probing=True)
        for library in windows.pure
    )
    return Lots(windows, tuple(draft.seen for draft in drafts))


def aim_columns(draft: Draft, aim: Measure) -> Floats:
    """Return the linear form of an aim over all columns (its numerator, where it is a ratio).

    Raises
    ------
    BadInput
        If the measure is no linear form: pH and viscosity are windows, not aims.
    """
    if bent(aim) or isinstance(aim, (Acidity, BufferCapacity, Viscosity, Undissociated)):
        raise BadInput(
            [
                Fault(
                    draft.brief.file,
                    "[aim]",
                    f"'{aim.name}' can be limited, not aimed at",
                    "any total or mean",
                )
            ]
        )
    wishes.refuse_missing(draft, aim)
    if isinstance(aim, Count):
        columns = wishes.ingredient_columns(draft)
        return np.bincount(columns, minlength=len(draft.lower)).astype(float)
    return np.concatenate([aim.numerator, np.zeros(len(draft.lower) - len(aim.numerator))])


def _freeze(draft: Draft, aim: Measure, sign: float, objective: Floats) -> Program:
    """Turn the lists of a draft into the arrays of a program."""
    width = len(draft.lower)
    rows = draft.rows.joined()
    denominator = None
    if aim.denominator is not None:
        denominator = np.concatenate([aim.denominator, np.zeros(width - len(aim.denominator))])
    none = np.zeros(0, dtype=np.intp)
    return Program(
        library=draft.library,
        catalogue=draft.catalogue,
        aim=aim,
        aim_sign=sign,
        form=Form(
            lower=np.array(draft.lower),
            upper=np.array(draft.upper),
            integer=np.array(draft.integer, dtype=bool),
            objective=preferences.priced(
                draft, sign * np.concatenate([objective, np.zeros(width - len(objective))])
            ),
            starts=np.concatenate([[0], np.cumsum(rows.lengths)]).astype(np.intp),
            indices=rows.indices,
            values=rows.values,
            row_lower=rows.lower,
            row_upper=rows.upper,
            norms=tuple(draft.norms),
        ),
        row_requirement=np.array(draft.row_requirement, dtype=np.intp),
        requirements=draft.requirements,
        moves=Moves({key: tuple(moves) for key, moves in draft.moves.items()}, draft.levels),
        uses=tuple(draft.uses.get(index, none) for index in range(len(draft.library.materials))),
        systems=dict(draft.systems),
        helpers=tuple(draft.helpers),
        hulls=tuple(draft.hulls),
        upper_ends=tuple(draft.upper_ends.values()),
        structure=draft.structure.columns,
        serving=draft.structure.names,
        grades=draft.structure.grades,
        ratio_aim=denominator,
        acid_rows=tuple(draft.acid_rows),
        preferences=tuple(draft.preferences),
        asleep=tuple(draft.asleep),
        notes=tuple(draft.notes),
    )
