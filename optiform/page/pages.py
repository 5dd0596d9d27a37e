"""Renders pages from templates, and serves the style sheet and scripts."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

from starlette.responses import HTMLResponse, RedirectResponse, Response

from optiform.faults import printable
from optiform.page.folder import version_of
from optiform.views.render.page import style
from optiform.views.words.blocks import fit, tied

if TYPE_CHECKING:
    from collections.abc import Iterable

    from jinja2 import Environment
    from starlette.requests import Request

    from optiform.page.desk import Desk

NAVIGATION = (("/", "Work"), ("/library", "Materials"))
"""Where every page leads: address and word. A further page of the first rank is one more pair."""
SCRIPTS = {"htmx.min.js": "text/javascript", "page.js": "text/javascript"}


@cache
def _environment() -> Environment:
    """Return the templates; every text in them is escaped unless it is HTML of the views.

    `edits` writes edits as a form carries them, `ident` makes an HTML id of the name of a field.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("optiform.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.globals |= {"address": address, "navigation": NAVIGATION}
    found.filters |= {
        "printable": printable,
        "day": day,
        "edits": lambda edits: json.dumps([[edit.place, edit.value] for edit in edits]),
        "ident": lambda field: f"f{version_of(field)}",
        "offered": offered,
        "tied": tied,
    }
    return found


def day(when: float) -> str:
    """Return a moment as a day and a minute of this machine's clock."""
    from datetime import datetime

    return f"{datetime.fromtimestamp(when):%d %b %Y, %H:%M}"


def offered(held: Iterable[Any]) -> list[tuple[str, str]]:
    """Return words, or things of the folder, as the values and labels of a list."""
    return [(one, one) if isinstance(one, str) else (one.name, one.title) for one in held]


def address(*parts: str, **query: str) -> str:
    """Return an address on this page; a name keeps its slashes, and empty words of the query are left out."""
    asked = urlencode({key: value for key, value in query.items() if value})
    place = "/" + "/".join(quote(part, safe="/") for part in parts)
    return f"{place}?{asked}" if asked else place


def shown(desk: Desk, request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page of its template; only what a script asked to replace, where it did."""
    text = (
        _environment()
        .get_template(template)
        .render(
            token=desk.keys.token,
            path=request.url.path,
            where=desk.title,
            part=request.headers.get("hx-request") == "true",
            **values,
        )
    )
    return HTMLResponse(fit(text), status)


def went(place: str) -> RedirectResponse:
    """Return a redirect to another page, after a form was taken."""
    return RedirectResponse(place, 303)


def static(name: str) -> Response | None:
    """Return a file of the pages themselves, or None where there is none of that name."""
    folder = resources.files("optiform.page") / "static"
    if name == "look.css":
        return Response(style() + (folder / "look.css").read_text("utf-8"), media_type="text/css")
    if name in SCRIPTS:
        return Response((folder / name).read_text("utf-8"), media_type=SCRIPTS[name])
    return None
