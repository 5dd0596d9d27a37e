"""Requirements that cannot hold together, in the user's words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from optiform.answers.answer import Answer, Conflict
from optiform.answers.cautions import CAUTIONS
from optiform.solver import Session

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.brief.models import Brief
    from optiform.program import Program


def conflict(
    brief: Brief,
    program: Program,
    *,
    question: Literal["design", "check"] = "design",
    progress: Callable[[str], None] | None = None,  # noqa: ARG001
) -> Answer:
    """Return an irreducible set of requirements that no formula can meet together.

    Brief requirements are filtered with law, library and balance kept in; then those of the kept
    ones that take part are found by a second pass and listed as not movable.
    """
    session = Session(program.form)
    session.set_objective(0.0 * program.form.objective)
    movable = [k for k, r in enumerate(program.requirements) if r.origin == "brief"]
    kept = [k for k, r in enumerate(program.requirements) if r.origin != "brief"]
    wishes = deletion_filter(session, program, movable, ())
    outside = [k for k in movable if k not in wishes]
    for k in outside:
        session.release(program.rows_of[k])
    fixed = deletion_filter(session, program, kept, wishes)
    found = Conflict(
        requirements=tuple(program.requirements[k] for k in wishes),
        not_movable=tuple(program.requirements[k] for k in fixed if program.requirements[k].origin != "balance"),
    )
    return Answer(
        question=question,
        status="conflict",
        proven=True,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        conflict=found,
        notes=program.notes,
        cautions=CAUTIONS,
    )


def deletion_filter(session: Session, program: Program, candidates: Sequence[int], held: Sequence[int]) -> list[int]:
    """Return the candidates that cannot be dropped one by one without making the rest possible."""
    kept = []
    for k in candidates:
        if k in held:
            kept.append(k)
            continue
        with session.trial():
            session.release(program.rows_of[k])
            possible = session.solve().status != "infeasible"
        if possible:
            kept.append(k)
        else:
            session.release(program.rows_of[k])
    return kept
