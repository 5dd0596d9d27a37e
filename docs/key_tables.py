"""The keys of a brief as a Markdown page, taken from the models themselves."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from optiform.brief.keys import LISTS, SCALARS, SECTIONS, BriefKeys
from optiform.library.models import Frozen

ABOUT = {
    "aim": "What is made as small or as large as possible.",
    "targets": 'Bounds on any measure: `"active matter" = { at_least = 8.0, at_most = 9.0 }`.',
    "include": "What must be there: name one material, substance, function or tag.",
    "exclude": "What must not be there, at substance level: name one material, substance, function or tag.",
    "choose": "How many different materials: of a function, of a tag, or among a list.",
    "share": "Shares of active matter: `of` one part, or of `each` single substance.",
    "ratio": "One amount in proportion to another.",
    "prefer": "A soft wish: falling short is allowed and costs `worth` for each unit, told apart from the cost.",
    "needs": "Whenever `material` is used, `other` is used as well.",
    "incompatible": "Never together.",
    "when": "Whenever `material` is used, a measure stays within bounds; not while `unless` is used as well.",
    "linear": "Any linear rule over sums; a term is `{ measure = ..., times = 1.0 }`, or with `material`.",
    "waive": "A guard of the library that this brief does without, by its name; the answer says so.",
    "baseline": "The formula that a reformulation starts from.",
    "weighing": "With this table every formula is also given in amounts that the balance can weigh.",
    "certainty": "With it limits hold within the suppliers' specifications, not only at typical values.",
    "ranked": "How many formulas are listed.",
}
RULE_WORDS = {
    "material": "a material, or function:, tag:, substance:",
    "other": "a material, or function:, tag:, substance:",
    "one": "a material, or function:, tag:, substance:",
    "ratio": "other is at least this many times material; without it: merely used",
    "measure": "any measure",
    "at_least": "lower bound",
    "at_most": "upper bound",
    "name": "how messages call the rule",
    "terms": "what is added up; a measure named here is a total, not a mean",
    "why": "the reason, shown with the rule",
    "trust": "where it comes from: own, published, common practice, memory, estimate, invented",
    "source": "who says so",
}


def brief_reference() -> str:
    """Return a Markdown page with every key of a brief: type, unit, default and meaning."""
    sections = ["## Top of the file\n\n" + _table({name: BriefKeys.model_fields[name] for name in SCALARS})]
    for name in SECTIONS:
        model = _model(BriefKeys.model_fields[name].annotation)
        head = f"## [[{name}]]" if name in LISTS else f"## [{name}]"
        sections.append(f"{head}\n\n{ABOUT[name]}\n\n{model_table(model)}")
    return "\n\n".join(sections) + "\n"


def model_table(model: type[Frozen]) -> str:
    """Return the fields of a model as a Markdown table: key, type, unit, default and meaning."""
    return _table({name: info for name, info in model.model_fields.items() if name != "extra"})


def _table(fields: dict[str, FieldInfo]) -> str:
    rows = ["| key | type | unit | default | meaning |", "|---|---|---|---|---|"]
    for name, info in sorted(fields.items(), key=lambda item: item[0] in ("why", "trust", "source")):
        meaning = info.description or RULE_WORDS.get(name, "")
        cells = (f"`{name}`", _type(info.annotation), _unit(info), _default(info), meaning)
        rows.append("| " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _model(annotation: Any) -> type[Frozen]:
    if isinstance(annotation, type) and issubclass(annotation, Frozen):
        return annotation
    return next(_model(part) for part in get_args(annotation) if part not in (str, type(None), ...))


def _type(annotation: Any) -> str:
    """Say a type in words a formulator reads."""
    plain = {str: "text", float: "number", int: "whole number", date: "day"}
    if annotation in plain:
        return plain[annotation]
    parts = [part for part in get_args(annotation) if part not in (type(None), ...)]
    origin = get_origin(annotation)
    if origin is tuple:
        return (
            "list of tables"
            if isinstance(parts[0], type) and issubclass(parts[0], Frozen)
            else "list of texts"
        )
    if origin is dict:
        return "table of numbers"
    if parts and all(isinstance(part, str) for part in parts):
        return " or ".join(f'"{part}"' for part in parts)
    if hasattr(annotation, "__metadata__"):
        return _type(parts[0])
    return " or ".join(_type(part) for part in parts) if parts else "text"


def _unit(info: FieldInfo) -> str:
    """Return the unit that the type of a field carries."""
    if info.json_schema_extra and isinstance(info.json_schema_extra, dict):
        return str(info.json_schema_extra.get("unit", "-"))
    return next((unit for unit in map(_unit_inside, (info.annotation, *info.metadata)) if unit), "-")


def _unit_inside(annotation: Any) -> str:
    for item in (*getattr(annotation, "__metadata__", ()), *get_args(annotation)):
        extra = getattr(item, "json_schema_extra", None)
        found = str(extra["unit"]) if isinstance(extra, dict) and "unit" in extra else _unit_inside(item)
        if found:
            return found
    return ""


def _default(info: FieldInfo) -> str:
    if info.is_required():
        return "required"
    value = info.get_default(call_default_factory=True)
    if value is None or value == {}:
        return "-"
    if isinstance(value, tuple):
        return "[" + ", ".join(f'"{item}"' for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"
