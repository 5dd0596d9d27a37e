"""Writes a result as one JSON document: every digit, the same bytes on every run, no nan, no infinity."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

if TYPE_CHECKING:
    from optiform.views.data.document import Document


MODELS = {
    **dict.fromkeys(("design", "check", "why", "evaluate", "reformulate", "weigh"), "documents.Answer"),
    **{"lot": "documents.Lot", "bench": "documents.Bench", "swap": "documents.Swap"},
    "tradeoff": "tradeoff_document.TradeOff",
    "sheet": "sheet_documents.Sheets",
    "shop": "sheet_documents.Shop",
    "family": "family_document.Family",
    "family batch": "family_document.FamilyBatch",
    "recost": "report_documents.RECOSTING",
    "library check": "report_documents.REPORT",
    "library list": "library_documents.LibraryList",
    "library show": "library_documents.SHOWN",
    "library match": "library_documents.MATCHED",
    "doctor": "report_documents.DIAGNOSIS",
    "trial list": "trial_documents.LISTED",
    "trial add": "trial_documents.ADDED",
    "trial learn": "trial_documents.Learned",
    "trial plan": "trial_documents.PLANNED",
    "trial next": "trial_documents.FOLLOWING",
}
"""Where the model of each question's document stands in this room."""

QUESTIONS = tuple(MODELS)


def document(question: str, value: Any) -> str:
    """Return the document of a question as JSON text that ends in a newline."""
    found = document_of(question).model_validate(value)
    text = json.dumps(plain(found), indent=2, allow_nan=False)
    return text.replace("\x7f", "\\u007f") + "\n"


@cache
def document_of(question: str) -> type[Document]:
    """Return the model of a question's document; only its module is loaded."""
    module, _, name = MODELS[question].partition(".")
    model: type[Document] = getattr(import_module(f"optiform.views.data.{module}"), name)
    return model


def schema(question: str) -> str:
    """Return the JSON Schema (draft 2020-12) of a question's document."""
    found = document_of(question).model_json_schema()
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return json.dumps({**dialect, **found}, indent=2) + "\n"


def plain(value: Any) -> Any:
    """Return a value in the types of JSON; what is not finite becomes null, minus zero becomes zero.

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
    return {key: plain(item) for key, item in _fields(value)}


def _fields(value: Any) -> list[tuple[str, Any]]:
    """Return the fields of a frozen value that are written, and their keys."""
    if dataclasses.is_dataclass(value):
        kept = [field.name for field in dataclasses.fields(value) if field.metadata.get("written", True)]
        return [(name, getattr(value, name)) for name in kept]
    if not isinstance(value, BaseModel):
        raise TypeError(f"{type(value).__name__} has no place in JSON")
    absent: Mapping[str, tuple[str, ...]] = getattr(value, "absent", {})
    left_out = {
        name for leader, names in absent.items() if getattr(value, leader) in (None, (), {}) for name in names
    }
    fields = type(value).model_fields
    return [
        (field.alias or name, getattr(value, name)) for name, field in fields.items() if name not in left_out
    ]
