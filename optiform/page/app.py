"""Maps addresses to handlers, and answers requests that fail."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from optiform.faults import BadInput, listed
from optiform.page import pages
from optiform.page.desk import Desk
from optiform.page.folder import Changed, NotHere, Taken, refused
from optiform.page.guard import MOST_BYTES, Guard, TooMuch
from optiform.page.handlers import answers, briefs, home, library, making, photos, trials, weighing

Endpoint = Callable[[Request], Awaitable[Response]]

MOST_FIELDS = 3000
LOOKS: Mapping[str, Callable[[Desk, Request], Response]] = {
    "/": home.home,
    "/new": home.new,
    "/brief/{name:path}": briefs.brief,
    "/beside/{name:path}": briefs.beside,
    "/room/{name:path}": briefs.room,
    "/design/{name:path}": answers.design,
    "/why/{name:path}": answers.why,
    "/curve/{name:path}": answers.curve,
    "/formula/{name:path}": answers.formula,
    "/plan/{name:path}": answers.plan,
    "/family/{name:path}": answers.family,
    "/records/{name:path}": answers.records,
    "/trials/{name:path}": trials.bench,
    "/trial/{name:path}": trials.trial,
    "/photo/{name:path}": photos.photo,
    "/weigh/{name:path}": weighing.weigh_form,
    "/trial-ask": trials.ask,
    "/trial-plan/{name:path}": trials.plan,
    "/trial-next/{name:path}": trials.following,
    "/prices/{name:path}": answers.prices,
    "/prices-moved/{name:path}": answers.prices_moved,
    "/sheet/{name:path}": making.sheet,
    "/batch/{name:path}": making.batch,
    "/library": library.materials,
    "/library/material": library.material,
    "/library/add": library.add_form,
    "/library/prices": library.paste_form,
}
FORMS: Mapping[str, Callable[[Desk, Request, dict[str, str]], Response]] = {
    "/new": home.create,
    "/stop": home.stop,
    "/brief/{name:path}": briefs.move,
    "/text/{name:path}": briefs.text,
    "/undo/{name:path}": briefs.undo,
    "/way/{name:path}": briefs.way,
    "/overwrite/{name:path}": briefs.overwrite,
    "/keep/{name:path}": answers.keep,
    "/begin/{name:path}": making.begin,
    "/batch/{name:path}": making.fill,
    "/trial/{name:path}": trials.read,
    "/photo/{name:path}": photos.take,
    "/trials/{name:path}": trials.take_back,
    "/weigh/{name:path}": weighing.weigh,
    "/planned/{name:path}": trials.keep,
    "/made/{name:path}": weighing.from_record,
    "/library/copy": library.copy,
    "/library/add": library.add,
    "/library/price": library.price,
    "/library/prices": library.paste,
    "/library/confirm": library.confirm,
}


def application(desk: Desk) -> ASGIApp:
    """Return the pages of one folder, guarded."""
    routes = [
        *(Route(place, _look(desk, handler), methods=["GET"]) for place, handler in LOOKS.items()),
        *(Route(place, _taken(desk, handler), methods=["POST"]) for place, handler in FORMS.items()),
        Route("/static/{name}", _static, methods=["GET"]),
        Route("/{name:path}", _look(desk, _nowhere), methods=["GET"]),
    ]
    return Guard(Starlette(routes=routes), desk.keys)


def _look(desk: Desk, handler: Callable[[Desk, Request], Response]) -> Endpoint:
    """Wrap a handler of a GET request so that it runs in a thread."""

    async def endpoint(request: Request) -> Response:
        return await run_in_threadpool(_said, desk, request, lambda: handler(desk, request))

    return endpoint


def _taken(desk: Desk, handler: Callable[[Desk, Request, dict[str, str]], Response]) -> Endpoint:
    """Wrap a handler of a form so that it checks the token of this run."""

    async def endpoint(request: Request) -> Response:
        try:
            form = await _form(request)
        except TooMuch:
            return PlainTextResponse("That is too much at once.\n", 413)
        except Exception:  # whatever a parser says of a body that is no form
            return PlainTextResponse("This is no form of ours.\n", 400)
        given = request.headers.get("x-token") or form.pop("token", "")
        if not secrets.compare_digest(given.encode(), desk.keys.token.encode()):
            return PlainTextResponse("The form is of another run: load the page again.\n", 403)
        return await run_in_threadpool(_said, desk, request, lambda: handler(desk, request, form))

    return endpoint


async def _form(request: Request) -> dict[str, str]:
    """Return the fields of a form as texts, an uploaded file among them; a photo as the letters of its bytes."""
    found: dict[str, str] = {}
    async with request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=MOST_BYTES) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                code = "latin-1" if name == "photo" else "utf-8-sig"
                found[name] = (await value.read()).decode(code, "replace")
            else:
                found[name] = value.replace("\r\n", "\n")
    return found


def _said(desk: Desk, request: Request, answer: Callable[[], Response]) -> Response:
    """Return the answer of a handler, or a page that says why there is none."""

    def sorry(status: int, heading: str, *lines: str, **more: Any) -> Response:
        return pages.shown(desk, request, "sorry.html.j2", status, heading=heading, lines=lines, **more)

    try:
        return answer()
    except NotHere:
        return sorry(
            404, "There is nothing here", "The file is not in this folder, or was given another name."
        )
    except Taken as taken:
        return sorry(409, "That name is taken", f"{taken} is there already, and was left as it is.")
    except Changed as changed:
        return pages.shown(desk, request, "changed.html.j2", 409, changed=changed)
    except BadInput as bad:
        lines = listed(refused(bad, desk.folder.root))
        return sorry(422, "One thing is wrong" if len(lines) == 1 else "Some things are wrong", *lines)
    except Exception as error:
        told = f"optiform failed, and your input is not to blame: {type(error).__name__}: {error}"
        return sorry(500, "No answer", told)


def _nowhere(desk: Desk, request: Request) -> Response:
    raise NotHere(request.url.path)


async def _static(request: Request) -> Response:
    return pages.static(request.path_params["name"]) or PlainTextResponse("There is nothing here.\n", 404)
