"""Refuses requests unless they come from this machine, with the key of this run, from a page of its own."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from urllib.parse import parse_qs

from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 4_000_000
"""Most bytes that one request may bring: a price list of some ten thousand rows."""
MOST_PHOTO = 12_000_000
"""Most bytes of one picture: a large photo of a phone (memory)."""
PHOTOS = "/photo/"
"""Below this address a request may bring a picture, up to `MOST_PHOTO`."""
METHODS = ("GET", "HEAD", "POST")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Drawings set the width of their strokes in place, so that styles may stand inside a page; scripts may not."""
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
CLOSED = "This page opens with the address that `optiform open` printed; its key changes with every start.\n"


class TooMuch(Exception):
    """A request brings more than it may."""


@dataclass(frozen=True)
class Keys:
    """The secrets of one run.

    Attributes
    ----------
    address : str
        Stands in the address that is printed, and lets a browser in once.
    cookie, token : str
        What a browser keeps, and what every form and every script of a page sends along.
    """

    port: int
    address: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)

    @property
    def name(self) -> str:
        """Return the name of the cookie: browsers share cookies between the ports of a machine."""
        return f"optiform-{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """Return the hosts under which a page may be asked for."""
        return (f"127.0.0.1:{self.port}", f"localhost:{self.port}")


class Guard:
    """Refuses a request before any handler sees it, and sets the headers that hold a page in."""

    def __init__(self, app: ASGIApp, keys: Keys) -> None:
        self.app, self.keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        refusal = self._refusal(scope, headers)
        answer = self.app if refusal is None else refusal

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name for name, _ in message["headers"]}
                more = ((name.encode(), value.encode()) for name, value in HEADERS.items())
                message["headers"] = [*message["headers"], *(pair for pair in more if pair[0] not in given)]
            await send(message)

        await answer(scope, _limited(receive, _most(scope)), with_headers)

    def _refusal(self, scope: Scope, headers: dict[str, str]) -> ASGIApp | None:
        """Return the answer to a request that is not let in, or None."""
        method, host = scope["method"], headers.get("host", "")
        if host not in self.keys.hosts:
            return PlainTextResponse("This page answers on this machine alone.\n", 421)
        if method not in METHODS:
            return PlainTextResponse("Only GET and POST are answered.\n", 405)
        size = headers.get("content-length", "0")
        most = _most(scope)
        if not size.isdigit() or int(size) > most:
            return PlainTextResponse(f"At most {most / 1e6:.0f} MB at once.\n", 413)
        if self._has_key(scope) and method == "GET":
            return self._let_in()
        foreign = method == "POST" and headers.get("origin") != f"http://{host}"
        if foreign or not self._has_cookie(headers):
            return PlainTextResponse(CLOSED, 403)
        return None

    def _has_cookie(self, headers: dict[str, str]) -> bool:
        """Tell whether a browser was let in."""
        held = cookie_parser(headers.get("cookie", "")).get(self.keys.name, "")
        return secrets.compare_digest(held.encode(), self.keys.cookie.encode())

    def _has_key(self, scope: Scope) -> bool:
        """Tell whether the address has the key of this run."""
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        return scope["path"] == "/" and secrets.compare_digest(given.encode(), self.keys.address.encode())

    def _let_in(self) -> RedirectResponse:
        """Return the answer that hands the cookie over and takes the key out of the address."""
        answer = RedirectResponse("/", 303)
        answer.set_cookie(self.keys.name, self.keys.cookie, httponly=True, samesite="strict")
        return answer


def _most(scope: Scope) -> int:
    """Return the most bytes that a request may bring: those of a form, or of a picture."""
    return MOST_PHOTO + 10_000 if scope["path"].startswith(PHOTOS) else MOST_BYTES


def _limited(receive: Receive, most: int) -> Receive:
    """Return a receiver that ends a body longer than what is allowed, whatever its header said."""
    left = most

    async def taken() -> Message:
        nonlocal left
        message = await receive()
        left -= len(message.get("body", b""))
        if left < 0:
            raise TooMuch
        return message

    return taken
