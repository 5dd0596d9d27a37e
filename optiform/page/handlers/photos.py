"""Handles photos of trials: kept in the bench folder under a new name, and shown."""

from __future__ import annotations

from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput, Fault
from optiform.page.desk import Desk
from optiform.page.folder import NotHere
from optiform.page.guard import MOST_PHOTO
from optiform.page.handlers.home import fresh
from optiform.page.handlers.trials import bench_path, form_of, library_of, loaded
from optiform.page.pages import address, went

ALLOWED = f"a photo as JPEG, PNG or WebP, up to {MOST_PHOTO / 1e6:.0f} MB"
TYPES = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}
"""As which type each kind is sent to a browser, that must guess no other."""


def photo(desk: Desk, request: Request) -> Response:
    """Return one picture of a bench folder; whatever else lies there is not handed out."""
    name, file = request.path_params["name"], request.query_params.get("file", "")
    bench_path(desk, name)
    path = desk.folder.place(f"{name}/{file}")
    if "/" in file or not path.is_file() or path.stat().st_size > MOST_PHOTO:
        raise NotHere(file)
    content = path.read_bytes()
    kind = kind_of(content)
    if not kind:
        raise NotHere(file)
    return Response(content, media_type=TYPES[kind])


def take(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Keep a photo under a new name in the bench folder; it goes along with the readings that are added next."""
    name, which = request.path_params["name"], form.get("trial", "")
    library = library_of(desk, name, form.get("library", ""))
    if which not in loaded(bench_path(desk, name), desk.library(library)).trial:
        raise NotHere(which)
    kept = ""
    if not form.get("without"):
        content = form.get("photo", "").encode("latin-1", "replace")
        kind = kind_of(content)
        if not kind or len(content) > MOST_PHOTO:
            raise BadInput([Fault("", "photo", "this is no photo that can be kept", ALLOWED)])
        kept = fresh(desk, f"trial {which} {date.today().isoformat()}", f".{kind}", content, name)
    desk.folder.note_typed(form_of(name, which), {"photo": kept.rpartition("/")[2]})
    return went(address("trial", name, trial=which, library=library))


def kind_of(content: bytes) -> str:
    """Return the ending of a picture's kind (jpg, png, webp), or an empty text for what is none.

    The marks are those of ISO/IEC 10918-1 (JPEG), of the PNG specification (5.2) and of RFC 9649 (WebP). A drawing
    that can hold scripts, such as SVG, is none.
    """
    if content.startswith(b"\xff\xd8\xff"):
        return "jpg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    return "webp" if content.startswith(b"RIFF") and content[8:12] == b"WEBP" else ""
