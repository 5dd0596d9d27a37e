"""Defines the base models of JSON documents: how fields are read from a value, and the head of a document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar, Literal, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, create_model, model_validator

from optiform.version import __version__

SCHEMA: Literal[2] = 2


class Shape(BaseModel):
    """A part of a document, read from the attributes of the same names.

    Attributes
    ----------
    taken : mapping of str to callable
        How a key is read that is no attribute of its own.
    absent : mapping of str to tuple of str
        Keys that are left out where the one that leads them is null or empty.
    """

    model_config = ConfigDict(from_attributes=True, extra="forbid", frozen=True, populate_by_name=True)
    taken: ClassVar[Mapping[str, Callable[[Any], Any]]] = {}
    absent: ClassVar[Mapping[str, tuple[str, ...]]] = {}

    @model_validator(mode="before")
    @classmethod
    def _from(cls, value: Any) -> Any:
        return value if isinstance(value, Mapping) else cls._of(value)

    @classmethod
    def _of(cls, value: Any) -> dict[str, Any]:
        """Return the fields of a value, and those of its requirement where it has one."""
        asked = getattr(value, "requirement", value)
        read = {name: taken(value) for name, taken in cls.taken.items()}
        for name in cls.model_fields.keys() - read.keys():
            if name == "requirement":
                read[name] = asked.title
            elif hasattr(value, name) or hasattr(asked, name):
                read[name] = getattr(value, name) if hasattr(value, name) else getattr(asked, name)
        return read


class Document(Shape):
    """A document: the program's version, the version of the schema, the question."""

    optiform: str = __version__
    schema_version: Literal[2] = Field(SCHEMA, alias="schema")
    question: str


def whole(
    question: str, value: type[Any], names: dict[str, Any] | None = None, **before: Any
) -> type[Document]:
    """Return a document model with further fields, then those of a frozen value as they are.

    Parameters
    ----------
    question : str
    value : type
        A frozen dataclass.
    names : mapping of str to type, optional
        Names in its annotations that its module imports for type checkers only.
    **before : type
        Fields that stand before those of the value.
    """
    types = get_type_hints(value, localns=names)
    fields: dict[str, Any] = {name: (kind, ...) for name, kind in (before | types).items()}
    fields["question"] = (Literal[question], question)
    model = create_model(value.__name__, __base__=Document, __doc__=value.__doc__, **fields)
    model.model_rebuild(_types_namespace=names)
    return model
