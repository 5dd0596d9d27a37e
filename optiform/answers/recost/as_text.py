"""Writes and reads a result as one line of JSON, for the journal and for a cluster."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache

from pydantic import TypeAdapter

from optiform.answers.recost.one import Recosted


def to_text(result: Recosted) -> str:
    """Return a result as one line of ASCII, without its end."""
    return json.dumps(asdict(result), sort_keys=True)


def from_text(text: str | bytes) -> Recosted | None:
    """Return the result that a line states, every field of its own type, or None where it states none."""
    from pydantic import ValidationError

    try:
        return _adapter().validate_json(text, strict=True)
    except ValidationError:
        return None


@cache
def _adapter() -> TypeAdapter[Recosted]:
    from pydantic import TypeAdapter

    return TypeAdapter(Recosted)
