"""Lets results show themselves: a short repr, text, pages, documents and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from optiform.views.forms import Result

SHORT = 60
LONGEST = 1_900
"""Letters of a repr."""


class ShortRepr:
    """A value that tells in one line what it is, however much it holds."""

    def __repr__(self) -> str:
        """Return the fields that are short, and how many things the others hold."""
        told = [f"{name}={_told(value)}" for name, value in _fields(self) if not _empty(value)]
        text = f"{type(self).__name__}({', '.join(told)})"
        return text if len(text) <= LONGEST else f"{text[:LONGEST]}...)"


@dataclass(frozen=True)
class Pictures:
    """The pictures of a result, as a notebook shows them.

    Attributes
    ----------
    svg : mapping of str to tuple of str
        By title, each picture as SVG documents: one, or several that stand under each other.
    """

    svg: Mapping[str, tuple[str, ...]]

    def __repr__(self) -> str:
        """Return the titles."""
        return f"Pictures({', '.join(map(repr, self.svg))})"

    def _repr_html_(self) -> str:
        """Show each picture under its title."""
        return "".join(
            f'<figure style="max-width: 32rem"><figcaption>{escape(title)}</figcaption>{"".join(parts)}</figure>'
            for title, parts in self.svg.items()
        )


class Showing(ShortRepr):
    """A result that says by itself what the command line says of it."""

    def to_text(self, *, full: bool = False) -> str:
        """Return it as text, 80 columns wide: at one look, or in full."""
        return self._result().to_text(full=full)

    def to_html(self) -> str:
        """Return it as one page without scripts or outside files."""
        return self._result().to_html()

    def to_json(self) -> str:
        """Return it as the JSON document of its question."""
        return self._result().to_json()

    def to_csv(self) -> str:
        """Return its table as CSV."""
        return self._result().to_csv()

    def frame(self) -> pd.DataFrame:
        """Return its table as a data frame."""
        return self._result().frame()

    def plot(self) -> Pictures:
        """Return the pictures of its page.

        Raises
        ------
        TypeError
            For a result whose page has none.
        """
        return self._result().plot()

    def _repr_html_(self) -> str:
        """Show the page in a notebook, apart from the notebook's own looks; its contents lead to its own parts."""
        own = self.to_html().replace("<head>", '<head>\n<base href="about:srcdoc">', 1)
        page = escape(own, quote=True)
        return f'<iframe srcdoc="{page}" title="optiform" style="width:100%;height:40em;border:0"></iframe>'

    def _result(self) -> Result:
        from optiform.views.forms import result_of  # the one import upwards: values know no words

        return result_of(self)


def _fields(value: Any) -> list[tuple[str, Any]]:
    if is_dataclass(value):
        return [(field.name, getattr(value, field.name)) for field in fields(value) if field.repr]
    return [(name, getattr(value, name)) for name in type(value).model_fields]


def _empty(value: Any) -> bool:
    return value is None or (isinstance(value, str | tuple | Mapping) and not value)


def _told(value: Any) -> str:
    """Return a value where it is short; else its type, and how many things it holds."""
    if isinstance(value, tuple | list | Mapping):
        kind = type(next(iter(value))).__name__
        return f"<{len(value)} {kind}>" if not isinstance(value, Mapping) else f"<{len(value)} entries>"
    if isinstance(value, str | int | float | bool):
        text = repr(value)
        return text if len(text) <= SHORT else f"{text[:SHORT]}..."
    return f"<{type(value).__name__}>"
