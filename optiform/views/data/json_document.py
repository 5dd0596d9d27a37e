"""An answer as one JSON document: every digit, the same bytes on every run, never nan nor infinity."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from optiform.views.results.lots_blocks import lots_fields
from optiform.views.words import sentences

if TYPE_CHECKING:
    from optiform.answers.model.answer import (
        Acidity,
        Answer,
        Binding,
        Broken,
        Change,
        Conflict,
        Dose,
        Figure,
        Formula,
        Line,
        Relaxation,
        Slack,
        Takeover,
        Why,
        Wish,
    )
    from optiform.program.requirement import Requirement

SCHEMA = 2


def document(question: str, content: Mapping[str, Any], value: Any = None) -> str:
    """Return content, and the fields of a frozen value, as one JSON document under version and schema."""
    from optiform.version import __version__

    head = {"optiform": __version__, "schema": SCHEMA, "question": question}
    fields = {} if value is None else _fields(value)
    text = json.dumps({**head, **plain(content), **fields}, indent=2, allow_nan=False)
    return text.replace("\x7f", "\\u007f") + "\n"


def answer_document(answer: Answer) -> str:
    """Return an answer as JSON text that ends in a newline."""
    return document(answer.question, _answer(answer))


def plain(value: Any) -> Any:
    """Return a value made of what JSON knows; what is not finite becomes null, zero has no minus.

    Raises
    ------
    TypeError
        For a value that has no place in JSON.
    """
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return float(value) + 0.0 if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return _fields(value)


def _fields(value: Any) -> dict[str, Any]:
    """Return the fields of a frozen value as JSON has them."""
    if isinstance(value, BaseModel):
        names = list(type(value).model_fields)
    elif dataclasses.is_dataclass(value):
        names = [field.name for field in dataclasses.fields(value) if field.metadata.get("written", True)]
    else:
        raise TypeError(f"{type(value).__name__} has no place in JSON")
    return {name: plain(getattr(value, name)) for name in names}


def _answer(answer: Answer) -> dict[str, Any]:
    brief = answer.brief
    content: dict[str, Any] = {
        "status": answer.status,
        "proven": answer.proven,
        "aim": {
            "measure": answer.aim,
            "unit": answer.aim_unit,
            "sense": brief.aim.sense if brief else "minimise",
        },
        "brief": {
            "title": answer.title,
            "library": answer.library,
            "law": brief.law if brief else None,
            "product": brief.product if brief else None,
            "area": brief.area if brief else None,
        },
        "formulas": [_formula(formula) for formula in answer.formulas],
        "conflict": conflict_fields(answer.conflict) if answer.conflict is not None else None,
        "notes": answer.notes,
        "cautions": sentences.cautions(answer),
    }
    if answer.wishes:
        content["wishes"] = [_wish(wish) for wish in answer.wishes]
    if answer.why is not None:
        content["why"] = _why(answer.why)
    if answer.baseline is not None:
        content["baseline"] = _formula(answer.baseline)
    if answer.leave is not None:
        content["leave"] = answer.leave
    if answer.changes is not None:
        content["changes"] = answer.changes
    if answer.details:
        content["details"] = answer.details
    return content


def _formula(formula: Formula) -> dict[str, Any]:
    return {
        "rank": formula.rank,
        "aim": formula.aim,
        "cost": formula.cost,
        "currency": formula.currency,
        "system": formula.system,
        "structure": formula.structure,
        "also": formula.also,
        **_preferences(formula),
        "lines": [_line(line) for line in formula.lines],
        "measures": {figure.measure: _figure(figure) for figure in formula.figures},
        "breaks": [_broken(item) for item in formula.breaks],
        "binding": [_binding(item) for item in formula.binding],
        "slack": [_slack(item) for item in formula.slack],
        "acidity": _acidity(formula.acidity) if formula.acidity is not None else None,
        "ingredient_list": [{"inci": item.inci, "percent": item.percent} for item in formula.ingredients],
        "label": formula.label,
        "weighable": formula.weighable,
        "allowance": formula.allowance,
        "not_weighable": formula.not_weighable,
        "notes": formula.notes,
        **({} if formula.lots is None else {"lots": lots_fields(formula.lots)}),
    }


def _preferences(formula: Formula) -> dict[str, Any]:
    """Return the soft wishes, and the aim with their penalties, where the brief has any."""
    if not formula.preferences:
        return {}
    return {"preferences": formula.preferences, "aim_with_preferences": formula.aim_with_preferences}


def _line(line: Line) -> dict[str, Any]:
    return {
        "material": line.material,
        "name": line.name,
        "function": line.function,
        "phase": line.phase,
        "percent": line.percent,
        **({} if line.printed is None else {"printed": line.printed}),
        "low": line.low,
        "high": line.high,
        "cost": line.cost,
        **_role(line),
    }


def _role(line: Line) -> dict[str, Any]:
    """Return whether a formula can do without a material, where that was asked."""
    if line.role is None:
        return {}
    return {"role": line.role, "instead": line.instead, "without": line.without}


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "value": figure.value,
        "unit": figure.unit,
        "trust": str(figure.trust),
        "digits": figure.digits,
        "better": figure.better,
        "at_least": figure.at_least,
        "at_most": figure.at_most,
        "parts": dict(figure.parts),
        "note": figure.note,
        **({"low": figure.low, "high": figure.high, "lacking": figure.lacking} if figure.lacking else {}),
    }


def _requirement(requirement: Requirement) -> dict[str, Any]:
    return {
        "requirement": requirement.title,
        "key": requirement.key,
        "measure": requirement.measure,
        "side": requirement.side,
        "bound": requirement.bound,
        "origin": requirement.origin,
        "movable": requirement.movable,
        "choice": requirement.choice,
        "why": requirement.why,
        "source": requirement.source,
    }


def _binding(binding: Binding) -> dict[str, Any]:
    return {
        **_requirement(binding.requirement),
        "marginal_cost": binding.marginal_cost,
        "marginal_cost_back": binding.marginal_cost_back,
        "unit": binding.unit,
        "holds_from": binding.holds_from,
        "holds_to": binding.holds_to,
        "degenerate": binding.degenerate,
    }


def _slack(slack: Slack) -> dict[str, Any]:
    return {
        "limit": slack.limit,
        "which": slack.which,
        "keys": [requirement.key for requirement in slack.requirements],
        "origin": slack.origin,
        "value": slack.value,
        "unit": slack.unit,
        "at_least": slack.at_least,
        "at_most": slack.at_most,
        "below": slack.below,
        "above": slack.above,
        "state": slack.state,
    }


def _broken(broken: Broken) -> dict[str, Any]:
    return {
        **_requirement(broken.requirement),
        "unit": broken.requirement.unit,
        "value": broken.value,
        "message": broken.message,
    }


def _acidity(acidity: Acidity) -> dict[str, Any]:
    return {
        "pH": acidity.pH,
        "low": acidity.low,
        "high": acidity.high,
        "undosed_pH": acidity.undosed_pH,
        "ionic_strength": acidity.ionic_strength,
        "held": acidity.held,
        "buffer_capacity": acidity.buffer_capacity,
        "reserve": acidity.reserve,
        "spread_from": [{"material": material, "part": part} for material, part in acidity.spread_from],
        "doses": [_dose(dose) for dose in acidity.doses],
        "have_ready": [_dose(dose) for dose in acidity.have_ready],
    }


def _dose(dose: Dose) -> dict[str, Any]:
    return {"material": dose.material, "percent": dose.percent, "low": dose.low, "high": dose.high}


def conflict_fields(conflict: Conflict) -> dict[str, Any]:
    """Return a conflict as JSON has it."""
    return {
        "requirements": [_requirement(item) for item in conflict.requirements],
        "not_movable": [_requirement(item) for item in conflict.not_movable],
        "single_changes": [_change(item) for item in conflict.single_changes],
        "compromise": [_relaxation(item) for item in conflict.compromise],
        "compromise_cost": conflict.compromise_cost,
        "together": None
        if conflict.together is None
        else {
            "changes": [_change(item) for item in conflict.together.changes],
            "cost": conflict.together.cost,
            "lines": [_line(item) for item in conflict.together.lines],
        },
        "best_reachable": [
            {**_requirement(item), "unit": item.unit, "value": value}
            for item, value in conflict.best_reachable
        ],
        "more_conflicts": [[_requirement(item) for item in more] for more in conflict.more],
        "quick": conflict.quick,
        "complete": conflict.complete,
    }


def _wish(wish: Wish) -> dict[str, Any]:
    return {
        **_requirement(wish.requirement),
        "step": wish.step,
        "tighter": wish.tighter,
        "cost": wish.cost,
        "looser": wish.looser,
        "saving": wish.saving,
        "free_to": wish.free_to,
    }


def _why(why: Why) -> dict[str, Any]:
    return {
        "material": why.material,
        "price": why.price,
        "currency": why.currency,
        "percent": why.percent,
        "best": why.best,
        "forced": why.forced,
        "lines": [_line(line) for line in why.lines],
        "kept_out": [_requirement(item) for item in why.kept_out],
        "below": _takeover(why.below),
        "above": _takeover(why.above),
    }


def _takeover(found: Takeover | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {"price": found.price, "aim": found.aim, "lines": [_line(line) for line in found.lines]}


def _change(change: Change) -> dict[str, Any]:
    from optiform.views.words.conflict_words import given_up

    dropped = given_up(change)
    content: dict[str, Any] = {
        **_requirement(change.requirement),
        "to": None if dropped else _bound(change.requirement, change.to),
        "cost": change.cost,
        "drop": dropped,
    }
    if change.readmit:
        content["readmit"] = change.readmit
    if change.lines:
        content["lines"] = [_line(line) for line in change.lines]
    return content


def _relaxation(relaxation: Relaxation) -> dict[str, Any]:
    requirement = relaxation.requirement
    to = _bound(requirement, relaxation.to)
    from optiform.answers.describe.sensible_steps import step

    return {**_requirement(requirement), "to": to, "by": relaxation.by, "step": step(requirement)}


def _bound(requirement: Requirement, to: float | None) -> float | int | None:
    """Return a new bound; the count of a choice is a whole number."""
    if to is not None and requirement.choice and math.isfinite(to) and to == round(to):
        return round(to)
    return to
