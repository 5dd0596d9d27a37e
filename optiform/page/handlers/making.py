"""Handles pages of making: card, label, cost and shopping of a formula, and its batch record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput, Fault
from optiform.page import questions, records
from optiform.page.desk import Desk
from optiform.page.folder import Changed
from optiform.page.handlers.answers import held_against
from optiform.page.handlers.home import fresh
from optiform.page.handlers.waiting import answered, page_of
from optiform.page.pages import address, shown, went

PARTS = ("card", "batch", "label", "cost", "shopping")
BENCH = "bench"
"""What the first bench of a folder is called."""
TIMES = 20
"""How often an entry is written again where another window writes at the same moment."""


def sheet(desk: Desk, request: Request) -> Response:
    """Show one part of a sheet, ready to be printed."""
    name, asked = request.path_params["name"], request.query_params
    desk.folder.read(name)
    brief, library = held_against(desk, asked)
    part = asked.get("part", "card")
    if part not in PARTS:
        raise BadInput([Fault("", "part", "there is no such part of a sheet", ", ".join(PARTS))])
    unit = asked.get("unit", "")
    if part == "cost" and not unit:
        allowed = "a file with a table [unit] in this folder: what one sold bottle holds and costs besides"
        raise BadInput([Fault("", "cost", "nothing says what one unit is", allowed)])
    if unit:
        desk.folder.read(unit)
    told, waits = page_of(
        desk, request, questions.sheet, desk.path(name), desk.safe(brief), desk.path(library),
        asked.get("batch", "1kg"), part, desk.path(unit),
    )  # fmt: skip
    crumbs = [(address("formula", name, brief=brief, library=library), "The formula")]
    return waits or shown(desk, request, "told.html.j2", told=told, crumbs=crumbs)


def begin(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Begin a batch record of a formula: a new file, which opens."""
    name, brief, library = request.path_params["name"], form.get("brief", ""), form.get("library", "")
    desk.folder.read(name)
    if library and not brief:
        desk.library(library)
    ticket = desk.ask(
        questions.record, desk.path(name), desk.safe(brief), desk.path(library), form.get("batch", "1kg")
    )
    made = answered(ticket, 60.0)
    if made is None:
        raise BadInput([Fault(name, "batch record", ticket.failure or "it takes too long", "ask again")])
    today = date.today().isoformat()
    stem = name.rpartition("/")[2].removesuffix(".csv")
    written = records.begun(made, name, today, brief, library)
    return went(address("batch", fresh(desk, f"{today} {stem}", records.SUFFIX, written, "batches")))


def batch(desk: Desk, request: Request) -> Response:
    """Show a batch record as it stands, to be filled in or printed."""
    return record_page(desk, request, {})


def record_page(
    desk: Desk, request: Request, form: Mapping[str, str], status: int = 200, *,
    clashes: Sequence[records.Clash] = (), lines: tuple[str, ...] = (),
) -> Response:  # fmt: skip
    """Show a batch record, with what others wrote meanwhile, or with what keeps it from being a trial."""
    name = request.path_params["name"]
    benches = desk.holds("trials")
    return shown(
        desk, request, "batch.html.j2", status, name=name, clashes=clashes, lines=lines, benches=benches,
        record=records.opened(desk.folder.read(name).text, name), parent=form.get("parent", ""),
        bench=form.get("bench") or (benches[0].name if benches else BENCH), right=form.get("right", ""),
    )  # fmt: skip


def entries_written(
    desk: Desk, name: str, form: Mapping[str, str]
) -> tuple[str, dict[str, str], list[records.Clash]]:
    """Write the entries of a form into a batch record; return its text, the entries, and what somebody else changed."""
    seen = {key.removeprefix("was "): value for key, value in form.items() if key.startswith("was ")}
    values = {key: value for key, value in form.items() if key in seen}
    clashes: list[records.Clash] = []
    text = ""
    for _ in range(TIMES):
        held = desk.folder.read(name)
        text, clashes = records.entered(held.text, name, values, seen)
        try:
            desk.folder.replace(name, text, held.version, keep=False)
            break
        except Changed:
            continue
    return text, values, clashes


def fill(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write entries into a batch record; where somebody else changed one meanwhile, both are shown."""
    name = request.path_params["name"]
    text, values, clashes = entries_written(desk, name, form)
    record = records.opened(text, name)
    if request.headers.get("hx-request") == "true":
        return shown(
            desk, request, "entered.html.j2", name=name, record=record, clashes=clashes, fields=values
        )
    if clashes:
        return record_page(desk, request, {}, 409, clashes=clashes)
    return went(address("batch", name))
