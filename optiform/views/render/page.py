"""Blocks as one self-contained page: headings, lists and tables that a screen reader can walk."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from optiform.views.words.blocks import fit, to_fill

if TYPE_CHECKING:
    from collections.abc import Iterable

    from jinja2 import Environment

    from optiform.views.words.blocks import Block


def render(blocks: Iterable[Block], title: str) -> str:
    """Return blocks as one HTML page without scripts or outside files."""
    return fit(_environment().get_template("page.html.j2").render(blocks=list(blocks), title=title))


@cache
def _environment() -> Environment:
    """Return the templates; every text in them is escaped unless it is a drawing of ours."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("optiform.views.render"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    found.filters["kind"] = lambda block: type(block).__name__
    found.tests["to_fill"] = to_fill
    return found
