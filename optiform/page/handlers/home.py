"""Handles the first page: what the folder holds, what is unfinished, and how to begin."""

from __future__ import annotations

import re

from starlette.requests import Request
from starlette.responses import Response

from optiform.page.desk import Desk
from optiform.page.folder import Taken
from optiform.page.pages import address, shown, went

TRIED = 99
"""Names that are tried for a new file before giving up."""


def home(desk: Desk, request: Request) -> Response:
    """Show what the folder holds; the choice of a first wash where it holds none."""
    held = desk.holds()
    if not any(one.kind in ("brief", "formula", "plan", "batch") for one in held):
        return new(desk, request)
    groups = {
        "brief": "Briefs",
        "formula": "Formulas",
        "trials": "Trials",
        "family": "Families on one shelf",
        "plan": "Shopping plans",
        "prices": "Price lists",
        "library": "Libraries",
    }
    return shown(
        desk,
        request,
        "home.html.j2",
        groups=[(title, kind, [one for one in held if one.kind == kind]) for kind, title in groups.items()],
        unfinished=_batches(desk),
        misnamed=[one.name for one in held if one.kind == "misnamed"],
        own=next((one.name for one in held if one.kind == "library"), ""),
    )


def _batches(desk: Desk) -> list[tuple[str, str, int, int]]:
    """Return the batch records: name, title, how many blanks are filled in of how many."""
    from optiform.faults import BadInput
    from optiform.page import records

    found = []
    for one in desk.holds("batch"):
        try:
            record = records.opened(desk.folder.read(one.name).text, one.name)
        except BadInput:
            continue
        found.append(
            (one.name, f"{record.title}, {one.title.rpartition('/')[2]}", record.filled, record.blanks)
        )
    return found


def new(desk: Desk, request: Request) -> Response:
    """Show the choice of skin and feel from which a brief begins."""
    from optiform.brief import skins, textures
    from optiform.brief.starting import described

    return shown(
        desk,
        request,
        "new.html.j2",
        skins=[(word, described("skins", word)) for word in skins()],
        feels=[(word, described("textures", word)) for word in textures()],
        libraries=desk.holds("library"),
        first=not desk.holds("brief"),
    )


def create(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write a starter brief and open it."""
    from optiform import starter_brief

    where = form.get("library", "")
    held = desk.library(where) if where else None
    if held is not None:
        held = held.model_copy(update={"folder": where})
    title = form.get("title", "").strip()
    text = starter_brief(form.get("skin", ""), form.get("feel", ""), held, title or None)
    name = fresh(desk, title or f"{form['skin']} {form['feel']}", ".toml", text)
    return went(address("brief", name))


def fresh(desk: Desk, words: str, ending: str, held: str | bytes, folder: str = "") -> str:
    """Write a new file under the first name that is free, made of some words, and return the name."""
    stem = "-".join(re.findall(r"[a-z0-9]+", words.lower())[:8])[:60] or "wash"
    lead = f"{folder}/" if folder else ""
    for number in range(1, TRIED):
        name = f"{lead}{stem}{'' if number == 1 else f'-{number}'}{ending}"
        try:
            desk.folder.put(name, held.encode("utf-8") if isinstance(held, str) else held)
        except Taken:
            continue
        return name
    raise Taken(f"{lead}{stem}{ending}")


def stop(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Ask a question to end with what it has, and go back to its page."""
    ticket = desk.asker.ticket(form.get("number", ""))
    if ticket is not None:
        desk.asker.stop(ticket)
        ticket.done.wait(8)
    back = form.get("back", "/")
    return went(back if back.startswith("/") and not back.startswith("//") else "/")
