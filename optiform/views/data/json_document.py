"""A result as one JSON document: every digit, the same bytes on every run, never nan nor infinity."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer
    from optiform.views.data.document import Document

ANSWERS = ("design", "check", "why", "evaluate", "reformulate", "weigh")
BENCH = ("lot", "bench", "swap")
LIBRARY = ("library list", "library show", "library match")
TRIALS = ("trial list", "trial add", "trial learn", "trial plan", "trial next")
QUESTIONS = (
    *ANSWERS, *BENCH, "tradeoff", "sheet", "shop", "family", "recost", "library check", *LIBRARY, "doctor", *TRIALS,
)  # fmt: skip


def document(question: str, value: Any) -> str:
    """Return the document of a question as JSON text that ends in a newline."""
    found = document_of(question).model_validate(value)
    text = json.dumps(plain(found), indent=2, allow_nan=False)
    return text.replace("\x7f", "\\u007f") + "\n"


@cache
def document_of(question: str) -> type[Document]:
    """Return the model of a question's document."""
    if question in LIBRARY:
        from optiform.views.data import library_documents as of_library

        listed: tuple[type[Document], ...] = (
            of_library.LibraryList,
            of_library.LibraryShow,
            of_library.LibraryMatch,
        )
        return listed[LIBRARY.index(question)]
    if question in TRIALS:
        from optiform.views.data.trial_documents import trial_document_of

        return trial_document_of(question)
    from optiform.views.data import documents

    bench: tuple[type[Document], ...] = (documents.Lot, documents.Bench, documents.Swap)
    model: type[Document] = documents.Answer
    if question in BENCH:
        model = bench[BENCH.index(question)]
    elif question not in ANSWERS:
        from optiform.views.data.more_documents import more_document_of

        model = more_document_of(question)
    model.model_rebuild(_types_namespace=documents.NAMES)
    return model


def answer_document(answer: Answer) -> str:
    """Return an answer about formulas as JSON text."""
    return document(answer.question, answer)


def schema(question: str) -> str:
    """Return the JSON Schema (draft 2020-12) of a question's document."""
    found = document_of(question).model_json_schema()
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return json.dumps({**dialect, **found}, indent=2) + "\n"


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
