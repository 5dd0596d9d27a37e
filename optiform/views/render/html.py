"""HTML built from nested pieces: whatever is not markup already is escaped."""

from __future__ import annotations

import re
from html import escape

VOID = frozenset({"meta", "br", "hr", "col"})
BLOCKS = frozenset(
    {"div", "section", "figure", "figcaption", "details", "summary", "dl", "dt", "dd", "p", "h3", "h4"}
)

UNFIT = re.compile("[^\t\n\x20-\x7e\xa0-\ud7ff\ue000-\ufdcf\ufdf0-\ufffd\U00010000-\U0001fffd]")
"""Characters that no page and no drawing may hold."""


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()


def tag(name: str, *children: str, **attributes: str | int | None) -> Markup:
    """Return one element.

    Parameters
    ----------
    name : str
    *children : str
        `Markup` stands as it is; any other text is escaped.
    **attributes : str or int, optional
        `class_` and `for_` lose their underscore, other underscores become dashes; None leaves an attribute out.
    """
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(str(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    after = "\n" if name in BLOCKS else ""
    if name in VOID:
        return Markup(f"<{name}{written}>{after}")
    return Markup(f"<{name}{written}>{joined(*children)}</{name}>{after}")


def joined(*children: str) -> Markup:
    """Return pieces one after the other."""
    return Markup("".join(child if isinstance(child, Markup) else escape(child) for child in children))


def fit(text: str) -> str:
    """Return text with a mark in place of every character that no page and no drawing can hold."""
    return UNFIT.sub("\ufffd", text)
