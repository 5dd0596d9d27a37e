"""Defines the JSON documents of a library and its materials; loads no heavy module."""

from __future__ import annotations

from typing import Literal

from optiform.library.about import About
from optiform.library.models import Material
from optiform.library.typed.matched_list import MatchedList
from optiform.views.data.document import Document, whole


class LibraryList(Document):
    """Materials of a library."""

    question: Literal["library list"] = "library list"
    library: str
    materials: tuple[Material, ...]


MATCHED = whole("library match", MatchedList, library=str)
SHOWN = whole("library show", About, library=str)
