"""Who is let in: attacks on a page that listens on this machine.

What a page of this kind has to withstand is listed in the OWASP cheat sheets on cross-site request forgery, DNS
rebinding (host header) and content security policy; the cases here are ours.
"""

from __future__ import annotations

import asyncio

import pytest

from optiform.page.app import FORMS, LOOKS
from optiform.page.guard import MOST_BYTES
from tests.page.bench import HOST, ORIGIN, PORT, Bench, Unasked, asked, request, scope_of

PLACES = [place.replace("{name:path}", "quince.toml") for place in LOOKS]
WRITES = [place.replace("{name:path}", "quince.toml") for place in FORMS]


def test_the_key_of_the_address_opens_and_is_gone_from_the_address(bench):
    answer = request(bench.app, "GET", f"/?key={bench.desk.keys.address}", {"host": HOST}, [b""])
    assert (answer.status, answer.place) == (303, "/")
    assert "HttpOnly" in answer.headers["set-cookie"]
    assert "SameSite=strict" in answer.headers["set-cookie"]
    assert bench.desk.keys.address not in answer.headers["set-cookie"]


@pytest.mark.parametrize("place", [*PLACES, "/static/look.css", "/?key=guess", "/nowhere"])
def test_nobody_looks_without_the_cookie(briefed, place):
    for cookie in ({}, {"cookie": f"optiform-{PORT}=guess"}, {"cookie": f"optiform-{PORT}="}):
        answer = request(briefed.app, "GET", place, {"host": HOST, **cookie}, [b""])
        assert answer.status == 403
        assert b"quince" not in answer.body.lower()


@pytest.mark.parametrize("host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:80", ""])
def test_another_host_is_another_site(bench, host):
    headers = {**bench.headers(), "host": host}
    assert request(bench.app, "GET", "/", headers, [b""]).status == 421
    assert request(bench.app, "POST", "/new", headers, [b""]).status == 421


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "", f"http://127.0.0.1:{PORT + 1}", f"https://{HOST}"]
)
def test_another_origin_writes_nothing(bench, origin):
    answer = bench.post("/new", {"skin": "oily", "feel": "gel", "title": "x"}, origin=origin)
    assert answer.status == 403
    assert list(bench.root.iterdir()) == []


@pytest.mark.parametrize("place", WRITES)
@pytest.mark.parametrize("token", ["", "guess"])
def test_no_form_counts_without_the_token(briefed, place, token):
    before = briefed.text("quince.toml")
    assert briefed.post(place, {"token": token, "text": "title = 'x'", "version": "0"}).status == 403
    assert briefed.text("quince.toml") == before


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_no_other_method_is_answered(bench, method):
    assert request(bench.app, method, "/", bench.headers(), [b""]).status == 405


def test_a_hundred_megabytes_are_refused_by_their_header_and_by_their_length(bench):
    form = {"content-type": "application/x-www-form-urlencoded"}
    told = request(bench.app, "POST", "/new", bench.headers(**form, **{"content-length": "100000000"}), [b""])
    assert told.status == 413
    chunk = b"a" * 1_000_000
    silent = request(
        bench.app, "POST", "/new", bench.headers(**form), [chunk] * (MOST_BYTES // len(chunk) + 2)
    )
    assert silent.status == 413


def test_every_answer_holds_its_page_in(briefed):
    for place in ("/", "/brief/quince.toml", "/static/page.js", "/nowhere"):
        headers = briefed.get(place).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"


def test_no_page_has_a_script_or_a_handler_inside(briefed):
    for place in PLACES:
        text = briefed.get(place).text.lower()
        assert "<script>" not in text
        assert not any(f" {handler}=" in text for handler in ("onclick", "onload", "onerror", "oninput"))


def test_a_script_in_every_name_is_shown_as_text(tmp_path):
    bench = Bench(tmp_path, Unasked())
    nasty = "<script>alert(1)</script>\"'"
    bench.write(
        f"{nasty.replace('/', '')}.toml", f"title = {nasty!r}\n[targets]\nmildness = {{ at_least = 50 }}\n"
    )
    bench.write("x.toml", 'title = "<img src=x onerror=alert(1)>"\n[targets]\n"<b>" = { at_least = 5 }\n')
    bench.write("<svg>.csv", "material,percent\n<script>,100\n")
    for place in (
        "/",
        "/brief/x.toml",
        "/formula/%3Csvg%3E.csv",
        "/library?q=%3Cscript%3E&where=",
        "/%3Cscript%3E",
    ):
        text = bench.get(place).text
        assert "<script>" not in text
        assert "<img src=x" not in text
        assert "<svg>" not in text


def test_a_websocket_is_not_answered(bench):
    sent = []

    async def talk():
        async def receive():
            return {"type": "websocket.connect"}

        async def send(message):
            sent.append(message)

        await bench.app({**scope_of("GET", "/", bench.headers()), "type": "websocket"}, receive, send)

    asyncio.run(talk())
    assert sent == []


def test_fifty_requests_at_once_are_all_answered(briefed):
    async def all_at_once():
        places = ["/", "/library", "/brief/quince.toml", "/new", "/nowhere"] * 10
        return await asyncio.gather(
            *(asked(briefed.app, scope_of("GET", place, briefed.headers()), [b""]) for place in places)
        )

    answers = asyncio.run(all_at_once())
    assert sorted({answer.status for answer in answers}) == [200, 404]


def test_two_runs_on_one_machine_keep_their_cookies_apart(tmp_path):
    one, other = Bench(tmp_path), Bench(tmp_path)
    assert request(one.app, "GET", "/", {**one.headers(), "cookie": other.cookie}, [b""]).status == 403
    assert ORIGIN.startswith("http://127.0.0.1")
