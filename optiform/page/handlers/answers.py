"""Handles pages of answers: ranked formulas, why, a curve, one formula, a plan, a price list."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput, listed
from optiform.measures import Catalogue
from optiform.page import questions
from optiform.page.desk import Desk
from optiform.page.folder import NotHere, refused
from optiform.page.handlers.home import fresh
from optiform.page.handlers.waiting import LATER, answered, page_of
from optiform.page.pages import address, shown, went

BETTER = ("mildness", "natural origin", "active matter", "ingredients")
"""What a curve of cost is usually asked against."""


def design(desk: Desk, request: Request) -> Response:
    """Show the ranked formulas of a brief, each to be kept and made."""
    name = request.path_params["name"]
    told, waits = page_of(desk, request, questions.design, desk.safe(name))
    if waits is not None:
        return waits
    held = desk.folder.read(name)
    brief = desk.sound(held)
    return shown(
        desk, request, "answer.html.j2", told=told, name=name, version=held.version, bench=brief.bench,
        materials=[(item.id, item.name) for item in brief.library.materials],
        against=[word for word in BETTER if Catalogue(brief.library).known(word)],
    )  # fmt: skip


def why(desk: Desk, request: Request) -> Response:
    """Show why a material is in the best formula of a brief or left out."""
    name = request.path_params["name"]
    material = request.query_params.get("material", "")
    told, waits = page_of(desk, request, questions.why, desk.safe(name), material)
    return waits or shown(desk, request, "told.html.j2", told=told, crumbs=_crumbs(name))


def curve(desk: Desk, request: Request) -> Response:
    """Show the curve of one measure against another; a point of it becomes the brief's."""
    name = request.path_params["name"]
    against = request.query_params.get("against", "mildness")
    of = request.query_params.get("of", "cost")
    told, waits = page_of(desk, request, questions.tradeoff, desk.safe(name), of, against)
    version = desk.folder.read(name).version
    return waits or shown(
        desk, request, "curve.html.j2", told=told, name=name, version=version, crumbs=_crumbs(name)
    )


def _crumbs(name: str) -> list[tuple[str, str]]:
    return [(address("brief", name), "The brief"), (address("design", name), "Its formulas")]


def keep(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write one formula of an answer into the folder, and open it."""
    name = request.path_params["name"]
    told = answered(desk.ask(questions.design, desk.safe(name)), 60.0)
    found = [one for one in told.formulas if str(one.rank) == form.get("rank")] if told is not None else []
    if not found:
        raise NotHere(name)
    stem = name.rpartition("/")[2].removesuffix(".toml")
    kept = fresh(desk, f"{stem} formula", ".csv", found[0].csv)
    return went(address("formula", kept, brief=name))


def formula(desk: Desk, request: Request) -> Response:
    """Show what a formula is and what it breaks, and what can be made of it."""
    name = request.path_params["name"]
    desk.folder.read(name)
    brief, library = held_against(desk, request.query_params)
    asked = (desk.path(name), desk.safe(brief), desk.path(library))
    told, waits = page_of(desk, request, questions.evaluate, *asked)
    return waits or shown(
        desk, request, "formula.html.j2", told=told, name=name, brief=brief, library=library,
        briefs=desk.holds("brief"), libraries=desk.holds("library"), units=desk.holds("unit"),
    )  # fmt: skip


def held_against(desk: Desk, asked: Mapping[str, str]) -> tuple[str, str]:
    """Return the brief and the library that a look at a formula names; both are in the folder, or empty."""
    brief, library = (asked.get(word, "") for word in ("brief", "library"))
    if brief:
        desk.folder.read(brief)
    elif library:
        desk.library(library)
    return brief, "" if brief else library


def plan(desk: Desk, request: Request) -> Response:
    """Show the packs to buy for a plan."""
    told, waits = page_of(desk, request, questions.shop, desk.safe(request.path_params["name"]))
    return waits or shown(desk, request, "told.html.j2", told=told, crumbs=[])


def family(desk: Desk, request: Request) -> Response:
    """Show the products of a family plan on one shelf."""
    crumb = (address("records", request.path_params["name"]), "Batch records")
    return _of_family(desk, request, questions.family, crumb)


def records(desk: Desk, request: Request) -> Response:
    """Show the batch records of a family plan."""
    crumb = (address("family", request.path_params["name"]), "The shelf")
    return _of_family(desk, request, questions.records, crumb)


def _of_family(
    desk: Desk, request: Request, question: Callable[..., questions.Told], crumb: tuple[str, str]
) -> Response:
    path = desk.safe(request.path_params["name"])
    for one in desk.holds("brief"):
        desk.safe(one.name)
    told, waits = page_of(desk, request, question, path)
    return waits or shown(desk, request, "told.html.j2", told=told, crumbs=[crumb])


def prices(desk: Desk, request: Request) -> Response:
    """Show what a price list changes for everything in the folder."""
    name = request.path_params["name"]
    desk.folder.read(name)
    for one in desk.holds("brief", "plan"):
        desk.safe(one.name)
    library = request.query_params.get("library", "")
    if library:
        desk.library(library)
    told, waits = page_of(
        desk, request, questions.recost, str(desk.folder.root), desk.path(name), desk.path(library)
    )
    return waits or shown(desk, request, "told.html.j2", told=told, crumbs=[])


def prices_moved(desk: Desk, request: Request) -> Response:
    """Tell in a line what a price list moves, for the page that lists it."""
    name = request.path_params["name"]
    desk.folder.read(name)
    library = request.query_params.get("library", "")
    desk.library(library)
    formulas = "\n".join(desk.path(one.name) for one in desk.holds("formula"))
    ticket = desk.ask(questions.prices_moved, desk.path(name), desk.path(library), formulas)
    try:
        told = answered(ticket, LATER) or ticket.failure
    except BadInput as bad:
        told = listed(refused(bad, desk.folder.root))[0]
    return shown(desk, request, "line.html.j2", told=told)
