"""Handles the page of a brief: move a wish, see whether it can be met, take a way out, undo."""

from __future__ import annotations

import json
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from optiform.brief import Brief
from optiform.faults import BadInput, Fault, listed
from optiform.page import moving, questions
from optiform.page.asking import Ticket
from optiform.page.desk import Desk
from optiform.page.edits import Edit, edited
from optiform.page.folder import Held, refused, version_of
from optiform.page.handlers.waiting import LATER, SOON, answered, known
from optiform.page.pages import address, shown, went
from optiform.page.wishes import edits_of, field_of, form_of

AT_ONCE = 0.3
"""Seconds that a moved wish waits for its first answer."""
LOTS = "certainty"
"""A brief with this table asks for what holds with every lot: it is checked afresh."""
ADDED = {"material": "include", "function": "include", "measure": "targets", "tag": "exclude"}


def brief(desk: Desk, request: Request) -> Response:
    """Show a brief as a form, its text, and whether it can be met."""
    held = desk.folder.read(request.path_params["name"])
    try:
        sound = desk.sound(held)
    except BadInput as bad:
        lines = listed(refused(bad, desk.folder.root))
        return shown(
            desk, request, "text.html.j2", 422, held=held, text=held.text, lines=lines,
            undo=desk.folder.can_undo(held.name),
        )  # fmt: skip
    keys = desk.keys_of(held)
    ticket = _asked(desk, held, keys)
    ticket.done.wait(SOON)
    told, proven = known(ticket, 0.0)
    return shown(
        desk, request, "brief.html.j2", held=held, form=form_of(keys, sound.library),
        undo=desk.folder.can_undo(held.name), told=told, ticket=ticket, proven=proven,
        fresh=LOTS in keys, offered=_offered(sound),
    )  # fmt: skip


def _asked(desk: Desk, held: Held, keys: dict[str, Any]) -> Ticket:
    """Ask for the proven answer of a brief; what was still asked about it before is stopped."""
    if LOTS in keys:
        return desk.ask(questions.check, desk.path(held.name))
    ticket = desk.follow(moving.proven, held)
    desk.newest(held, ticket)
    return ticket


def _offered(brief: Brief) -> dict[str, list[tuple[str, str]]]:
    """Return what a wish may be added for: fields with their names."""
    from optiform.measures import Catalogue
    from optiform.measures.parts import known_tags
    from optiform.views.words.names import names_in

    names, catalogue = names_in(brief.library), Catalogue(brief.library)
    asked = {entry.material for entry in brief.include}
    return {
        "measure": [(word, names.measure(word)) for word in catalogue.names() if word not in brief.targets],
        "material": sorted(
            ((item.id, item.name) for item in brief.library.materials if item.id not in asked),
            key=lambda pair: pair[1].casefold(),
        ),
        "tag": [(word, word) for word in sorted(known_tags(brief.library))],
    }


def beside(desk: Desk, request: Request) -> Response:
    """Show whether a brief can be met, as soon as it is proven."""
    held = desk.folder.read(request.path_params["name"])
    keys = desk.keys_of(held)
    ticket = _asked(desk, held, keys)
    ticket.done.wait(LATER)
    told, proven = known(ticket, 0.0)
    return shown(
        desk, request, "beside.html.j2", held=held, told=told, ticket=ticket, proven=proven, fresh=LOTS in keys,
    )  # fmt: skip


def room(desk: Desk, request: Request) -> Response:
    """Show how far each wish of a brief can go with all else held."""
    held = desk.folder.read(request.path_params["name"])
    keys = desk.keys_of(held)
    if LOTS in keys or not _asked(desk, held, keys).done.is_set():  # moved meanwhile: its answer comes first
        return shown(desk, request, "room.html.j2", name=held.name, reaches=(), more=False)
    ticket = desk.follow(moving.rooms, held)
    desk.newest(held, ticket)
    form = form_of(keys, desk.sound(held).library)
    ends = {end.field: end for _, wishes in form.groups for wish in wishes for end in wish.ends if end.value}
    found = answered(ticket, SOON)
    more = not ticket.done.is_set()
    reaches = ticket.step if found is None else found
    drawn = [(reach, ends[reach.field]) for reach in reaches or () if reach.field in ends]
    return shown(desk, request, "room.html.j2", name=held.name, reaches=drawn, more=more)


def move(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write the wishes of a form into the brief."""
    held = desk.folder.read(request.path_params["name"])
    keys = desk.keys_of(held)
    edits = edits_of(form, keys)
    if form.get("remove"):
        edits.append(Edit(_place(form["remove"], keys), None))
    if form.get("add"):
        edits += _addition(form["add"], form.get(f"add {form['add']}", ""), keys)
    return _written(desk, request, held, form, edits)


def _place(field: str, keys: dict[str, Any]) -> tuple[str | int, ...]:
    """Return the place of a wish that is given up; it must be one of the brief's own."""
    known = {
        field_of((section, name))
        for section, table in keys.items()
        if isinstance(table, dict | list)
        for name in (table if isinstance(table, dict) else range(len(table)))
    }
    if field not in known:
        raise BadInput([Fault("", "remove", "there is no such wish in this brief")])
    return tuple(json.loads(field))


def _addition(kind: str, word: str, keys: dict[str, Any]) -> list[Edit]:
    """Return the edit that adds a wish for a measure, a material or something to be free from."""
    section = ADDED.get(kind)
    if section is None or not word:
        raise BadInput([Fault("", "add", "nothing was chosen", "one of the list")])
    if section == "targets":
        return [Edit(("targets", word), {"at_least": 0})]
    return [Edit((section, len(keys.get(section, ()))), {kind: word})]


def _written(desk: Desk, request: Request, held: Held, form: dict[str, str], edits: list[Edit]) -> Response:
    """Write edits where the brief stays a sound one, and show it as it then is.

    What a slider passes on its way is written too, and only what was there before it began to move is kept for undo.
    The answer is asked for before the text is checked and on the disk: it is wanted soon, and changes nothing.
    """
    text = edited(held.text, edits)
    now = Held(held.name, text, version_of(text))
    keys = desk.keys_of(now)
    scripted = request.headers.get("hx-request") == "true"
    if scripted and LOTS not in keys:
        _asked(desk, now, keys)
    desk.sound(now)
    begins = desk.begins(held.name, form.get("drag", ""))
    desk.folder.replace(held.name, text, form.get("version", ""), keep=begins)
    return _moved(desk, request, now, keys) if scripted else went(address("brief", held.name))


def _moved(desk: Desk, request: Request, held: Held, keys: dict[str, Any]) -> Response:
    """Return what a move changes on the page: the answer with the same materials, until another is proven."""
    ticket = _asked(desk, held, keys)
    told, proven = known(ticket, AT_ONCE)
    return shown(
        desk, request, "moved.html.j2", held=held, undo=desk.folder.can_undo(held.name), told=told, ticket=ticket,
        proven=proven, fresh=LOTS in keys,
    )  # fmt: skip


def text(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write a brief as it was typed, where it is a sound one; else show it with what is wrong."""
    name, typed = request.path_params["name"], form.get("text", "")
    held = desk.folder.read(name)
    try:
        desk.sound(Held(name, typed, ""))
    except BadInput as bad:
        lines = listed(refused(bad, desk.folder.root))
        return shown(
            desk, request, "text.html.j2", 422, held=Held(name, held.text, form.get("version", "")), text=typed,
            lines=lines, undo=False,
        )  # fmt: skip
    desk.folder.replace(name, typed, form.get("version", ""))
    return went(address("brief", name))


def undo(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write the brief as it was before its last change."""
    name = request.path_params["name"]
    desk.folder.undo(name, form.get("version", ""))
    return went(address("brief", name))


def way(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write a way out, or a point of a curve, into the brief: exactly that change."""
    held = desk.folder.read(request.path_params["name"])
    try:
        read = json.loads(form.get("edits", ""))
        edits = [Edit(tuple(place), value) for place, value in read]
        sane = all(isinstance(part, str | int) for edit in edits for part in edit.place)
    except (ValueError, TypeError, RecursionError):
        edits, sane = [], False
    if not edits or not sane:
        raise BadInput([Fault("", "edits", "this is no change of a brief")])
    try:
        changed = edited(held.text, edits)
    except (KeyError, IndexError, TypeError, AttributeError):
        raise BadInput([Fault(held.name, "", "the brief says something else by now", "look again")]) from None
    desk.sound(Held(held.name, changed, ""))
    desk.folder.replace(held.name, changed, form.get("version", ""))
    return went(address("brief", held.name))


def overwrite(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write one's own version over one that changed meanwhile, which stays in reach of undo."""
    name = request.path_params["name"]
    desk.folder.replace(name, form.get("text", ""), form.get("version", ""))
    return went(address("brief", name) if name.endswith(".toml") else "/")
