"""A folder with its pages, answered at once in this process, and a browser's part of the talk."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlencode, urlsplit

from optiform.page.app import application
from optiform.page.asking import Asker, Ticket, answered
from optiform.page.desk import Desk
from optiform.page.folder import Folder
from optiform.page.guard import Keys
from optiform.page.questions import Told

PORT = 4711
HOST = f"127.0.0.1:{PORT}"
ORIGIN = f"http://{HOST}"
BRIEF = """# What the bench wants.
title = "Plain quince wash"

[targets]
# Strong enough to wash.
"active matter" = { at_least = 6, at_most = 9 }  # a comment beside it
mildness = { at_least = 55 }

[[exclude]]
tag = "sulfate"
"""


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8")

    @property
    def place(self) -> str:
        """Return where the answer leads."""
        return self.headers["location"]


async def asked(app, scope: dict, chunks: list[bytes]) -> Answer:
    """Return what an application answers to one request."""
    left = list(chunks)
    started: dict = {}
    body = bytearray()

    async def receive():
        if left:
            return {"type": "http.request", "body": left.pop(0), "more_body": bool(left)}
        return {"type": "http.disconnect"}

    async def send(message):
        if message["type"] == "http.response.start":
            started.update(message)
        else:
            body.extend(message.get("body", b""))

    await app(scope, receive, send)
    headers = {name.decode(): value.decode() for name, value in started["headers"]}
    return Answer(started["status"], headers, bytes(body))


def request(app, method: str, place: str, headers: dict[str, str], chunks: list[bytes]) -> Answer:
    return asyncio.run(asked(app, scope_of(method, place, headers), chunks))


def scope_of(method: str, place: str, headers: dict[str, str]) -> dict:
    parts = urlsplit(place)
    return {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "path": unquote(parts.path),
        "raw_path": parts.path.encode(),
        "query_string": parts.query.encode(),
        "root_path": "",
        "scheme": "http",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 1),
        "headers": [(name.lower().encode(), value.encode()) for name, value in headers.items()],
    }


class AtOnce(Asker):
    """Answers questions in this process, one after the other."""

    def __init__(self):
        super().__init__(workers=0)

    def ask(self, key, question, *arguments, again=False):
        with self._lock:
            if again or key not in self._tickets:
                ticket = Ticket(question, arguments)
                ticket.end(*answered(question, arguments, ticket.reach))
                self._tickets[key] = ticket
            return self._tickets[key]

    def stop(self, ticket):
        """Do nothing: every question is answered already."""


class Unasked(AtOnce):
    """Answers every question about a formula with the same words: for tests of what surrounds an answer."""

    def ask(self, key, question, *arguments, again=False):
        ticket = Ticket(question, arguments)
        ticket.end("answered", Told("A wash", "<h1>A wash</h1>"))
        return ticket


class Bench:
    """One folder, its pages, and somebody who was let in."""

    def __init__(self, root: Path, asker: AtOnce | None = None) -> None:
        self.root = root
        answers = asker or AtOnce()
        self.desk = Desk(Folder(root), answers, answers, Keys(PORT))
        self.app = application(self.desk)
        let_in = request(self.app, "GET", f"/?key={self.desk.keys.address}", {"host": HOST}, [b""])
        self.cookie = let_in.headers["set-cookie"].partition(";")[0]

    def headers(self, **more: str) -> dict[str, str]:
        return {"host": HOST, "cookie": self.cookie, "origin": ORIGIN, **more}

    def get(self, place: str, **headers: str) -> Answer:
        return request(self.app, "GET", place, self.headers(**headers), [b""])

    def post(self, place: str, fields: dict[str, str] | None = None, **headers: str) -> Answer:
        body = urlencode({"token": self.desk.keys.token, **(fields or {})}).encode()
        form = {"content-type": "application/x-www-form-urlencoded", "content-length": str(len(body))}
        return request(self.app, "POST", place, self.headers(**form, **headers), [body])

    def write(self, name: str, text: str) -> None:
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def text(self, name: str) -> str:
        return (self.root / name).read_text(encoding="utf-8")


class _Fields(HTMLParser):
    """Gathers the attributes of the fields of a page, unescaped."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[dict[str, str]] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        if tag in ("input", "button"):
            self.found.append({name: value or "" for name, value in attrs})


def values_of(page: str, name: str) -> list[str]:
    """Return the values of the fields of a name."""
    return [field["value"] for field in _Fields(page).found if field.get("name") == name]


def value_of(page: str, name: str) -> str:
    """Return the value of the first field of a name."""
    return values_of(page, name)[0]
