"""Handles pages of materials: list, one material, a new one, a price, a pasted price list."""

from __future__ import annotations

import re
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput, Fault
from optiform.library import Library
from optiform.library.about import chosen
from optiform.library.files.columns import number
from optiform.library.selection import FUNCTIONS
from optiform.library.typed.supplier_sheet import CLASSES
from optiform.page import questions
from optiform.page.desk import Desk
from optiform.page.folder import NotHere, Taken
from optiform.page.handlers.waiting import page_of
from optiform.page.pages import address, shown, went

COPY = "library"
"""What the first copy of the starter library is called."""
ASKED = {
    "--ph-10": "pH of 10 % in water", "--content": "what it holds", "--new": "new substances", "--neutral": "neutral",
    "--preserves": "preserves at", "--preserves-ph": "preserves at pH", "--function": "what it is there for",
    "--set": "further columns",
}  # fmt: skip
"""What the form calls an option of the command line."""


def materials(desk: Desk, request: Request) -> Response:
    """Show the materials of a library, all or those of a function or a word."""
    asked = request.query_params
    where, function, word = (asked.get(key, "") for key in ("where", "function", "q"))
    library = desk.library(where)
    found = chosen(library, function or None)
    terms = word.casefold().split()
    kept = [item for item in found if all(term in _words(library, item) for term in terms)]
    return shown(
        desk, request, "library.html.j2", library=library, lib=where, libraries=desk.holds("library"),
        materials=kept, functions=FUNCTIONS, function=function, word=word,
    )  # fmt: skip


def _words(library: Library, material: Any) -> str:
    """Return what a material is found by: its name, id, tags and the INCI names in it."""
    inci = " ".join(part.inci for part in library.composition[material.id])
    return f"{material.name} {material.id} {' '.join(material.tags)} {inci}".casefold()


def material(desk: Desk, request: Request) -> Response:
    """Show one material with all that is known of it, and its price to be changed where the library is one's own."""
    where, which = request.query_params.get("where", ""), request.query_params.get("id", "")
    library = desk.library(where)
    if which not in library.material:
        raise NotHere(which)
    told, waits = page_of(desk, request, questions.material, desk.path(where), which)
    return waits or shown(
        desk, request, "material.html.j2", told=told, lib=where, item=library.material[which],
        currency=library.currency,
    )  # fmt: skip


def copy(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Copy the starter library into the folder, to be changed there."""
    from optiform.library.adding import copy_starter

    name = form.get("name", "").strip() or COPY
    if desk.folder.place(name).exists():
        raise Taken(name)
    copy_starter(desk.folder.place(name))
    return went(address("library", where=name))


def price(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write one price into a library of the folder."""
    where, which, text = (form.get(key, "") for key in ("where", "id", "price"))
    _priced(desk, where, {which: _price(text, "price", f"'{text}' is no price")})
    return went(address("library", "material", where=where, id=which))


def _price(text: str, place: str, message: str) -> float:
    """Return a price as typed."""
    value = number(text.strip(), comma_decimals=True)
    if value is None or value < 0:
        raise BadInput([Fault("", place, message, "a number, 0 or more")])
    return value


def _priced(desk: Desk, where: str, prices: dict[str, float]) -> None:
    """Write prices into a library of the folder."""
    from optiform.library.files.noting import note_prices

    _own(desk, where, "price")
    note_prices(desk.path(where), prices)


def _own(desk: Desk, where: str, place: str) -> Library:
    """Return a library of the folder; the starter library is never one."""
    if not where:
        allowed = "a copy of it in this folder"
        raise BadInput([Fault("", place, "the starter library is not changed", allowed)])
    return desk.library(where)


def paste_form(desk: Desk, request: Request) -> Response:
    """Show where a price list is pasted."""
    where = request.query_params.get("where", "")
    desk.library(where)
    return shown(
        desk, request, "paste.html.j2", lib=where, libraries=desk.holds("library"), rows=None, text=""
    )


def paste(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Show what a pasted price list certainly means, and what is to be chosen."""
    where = form.get("where", "")
    text = form.get("file") or form.get("text", "")
    desk.library(where)
    ticket = desk.ask(questions.match, text, desk.path(where))
    ticket.done.wait(60)
    if ticket.faults:
        raise BadInput(ticket.faults)
    return shown(
        desk, request, "paste.html.j2", lib=where, libraries=desk.holds("library"), rows=ticket.answer or (),
        text=text,
    )  # fmt: skip


def confirm(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write the prices that were confirmed."""
    where = form.get("where", "")
    prices = {}
    for name, text in form.items():
        row = re.fullmatch(r"material (\d+)", name)
        if row and text:
            prices[text] = _price(form.get(f"price {row.group(1)}", ""), text, "this is no price")
    if not prices:
        raise BadInput([Fault("", "prices", "nothing was confirmed", "a material beside a price")])
    _priced(desk, where, prices)
    return went(address("library", where=where))


def add_form(desk: Desk, request: Request) -> Response:
    """Show the questions about a material of one's own."""
    return _add(desk, request, {"where": request.query_params.get("where", "")})


def _add(desk: Desk, request: Request, form: dict[str, str], lines: tuple[str, ...] = ()) -> Response:
    where = form.get("where", "")
    library = desk.library(where)
    return shown(
        desk, request, "add.html.j2", 422 if lines else 200, lib=where, given=form, lines=lines, functions=FUNCTIONS,
        classes=CLASSES, currency=library.currency, substances=sorted(library.substance),
    )  # fmt: skip


def add(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write a material of one's own by its supplier's sheet, or say what is wrong with it."""
    from optiform.answers.library.own_material import own_material, typed_sheet
    from optiform.library.adding import write_rows

    where = form.get("where", "")
    library = _own(desk, where, "library")
    try:
        keys, stated = typed_sheet(_given(form), library)
        found = own_material(library, keys, neutral=bool(form.get("neutral")), pH_10=stated)
        write_rows(desk.folder.place(where), found.added)
    except BadInput as bad:
        told = tuple(
            str(Fault("", ASKED.get(item.place, item.place), item.message, item.allowed, item.nearest))
            for item in bad.faults
        )
        return _add(desk, request, form, told)
    return went(address("library", "material", where=where, id=found.added.material.id))


def _given(form: dict[str, str]) -> dict[str, Any]:
    """Return the answers of the form as the options of `optiform library add` have them."""
    text = {key: value.strip() for key, value in form.items()}
    name = text.get("name", "")
    contents = (line.strip() for line in form.get("content", "").splitlines() if line.strip())
    return {
        "id": "-".join(re.findall(r"[a-z0-9]+", name.lower())),
        "name": name or None,
        "function": text.get("function") or None,
        "price": _price(text.get("price", ""), "price", f"'{text.get('price', '')}' is no price"),
        "salt": number(text.get("salt", ""), comma_decimals=True),
        "content": [
            re.sub(r"\s*[=:]?\s*([\d.,]+)\s*%?$", lambda m: f"={m[1].replace(',', '.')}", line)
            for line in contents
        ],
        "new": [line.strip() for line in form.get("new", "").splitlines() if line.strip()],
        "neutral": bool(text.get("neutral")),
        "pH_10": re.sub(r"\s*(?:to|-)\s*", ":", text.get("pH_10", "")).replace(",", ".") or None,
        "titration": None,
        "tag": [],
        "preserves": re.sub(r"\s*(?:to|-)\s*", ":", text.get("preserves", "")) or None,
        "preserves_pH": re.sub(r"\s*(?:to|-)\s*", ":", text.get("preserves_pH", "")) or None,
        "source": text.get("source", ""),
        "column": [],
        "specification": None,
    }
