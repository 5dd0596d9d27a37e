"""Mappings that nothing changes after they were made."""

from __future__ import annotations

from typing import Annotated, Any, NoReturn, TypeVar

from pydantic import AfterValidator

Key = TypeVar("Key")
Value = TypeVar("Value")


class FrozenDict(dict[Key, Value]):
    """A dict that refuses every change; copies of it, made with ``dict(...)``, may be changed."""

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("this mapping cannot be changed: make a dict of it, and a new value from that")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type[FrozenDict[Key, Value]], tuple[dict[Key, Value]]]:
        """Return how copies and other processes make the same mapping."""
        return FrozenDict, (dict(self),)


FrozenMap = Annotated[dict[Key, Value], AfterValidator(FrozenDict)]
"""The type of a field of a frozen model that maps keys to values."""
