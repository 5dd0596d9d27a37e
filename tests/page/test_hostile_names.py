"""Files with hostile names in the folder: whatever a file is called, every address answers, and says it as text.

What a name may be is what POSIX lets it be: any bytes but a slash and a null, 255 of them at most.
"""

from __future__ import annotations

import json
import os
import re
from html import unescape
from urllib.parse import quote

import pytest

from optiform.faults import Fault
from optiform.page.app import FORMS, LOOKS
from optiform.page.asking import Ticket
from tests.page.bench import BRIEF, AtOnce, Bench

SOME = ("a" * 250, "<script>alert(1)<script>", "'\"`", "%2e%2e%2f", "bell\a", "\u202egpj", "\udcff\udcfe")
MORE = (
    "ü" * 125, "esc\x1b[31m", "line\nbreak", "tab\there", "del\x7f", "c1\x9b", "a..b", "<img src=x onerror=alert(1)>",
    "zero\u200bwidth", "Wash", "wash", "back\\slash", "C:", "a?b#c&d=e", " lead", "{{7*7}}", "-rf", "\u2028line",
)  # fmt: skip
FORMULA = "material,percent\nwater,q.s.\nglycerin,3\n"
RAW = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
ASKED = (
    "brief",
    "library",
    "where",
    "trial",
    "unit",
    "material",
    "q",
    "id",
    "name",
    "function",
    "batch",
    "measure",
)
TYPED = (
    *ASKED,
    "title",
    "text",
    "bench",
    "parent",
    "date",
    "edits",
    "version",
    "add",
    "rank",
    "back",
    "price",
)


class Refusing(AtOnce):
    """Refuses every question with what it was asked, for tests of what surrounds an answer."""

    def ask(self, key, question, *arguments, again=False):
        ticket = Ticket(question, arguments)
        ticket.end("refused", (Fault("", "", f"no answer for {arguments}"),))
        return ticket


@pytest.fixture
def hostile(tmp_path):
    """A folder of briefs, formulas and benches, each called something that a page would rather not say."""
    for stem in (*SOME, *MORE):
        title = json.dumps(stem.encode("utf-8", "replace").decode())
        for name, text in (
            (f"{stem}.toml", BRIEF.replace('"Plain quince wash"', title)),
            (f"{stem}.csv", FORMULA),
        ):
            (tmp_path / name).write_text(text, encoding="utf-8")
        if stem in SOME[1:]:
            (tmp_path / f"{stem} d").mkdir()
            (tmp_path / f"{stem} d" / "weighed.csv").write_text("trial,material,grams\n1,water,90\n")
            (tmp_path / f"{stem} d" / "x.batch.json").write_text("{}")
    return Bench(tmp_path, Refusing())


def looked_at(bench: Bench, names) -> int:
    """Ask every address about every name; return how many answers there were."""
    seen = 0
    for name in names:
        as_sent = quote(os.fsencode(name))
        query = "&".join(f"{word}={as_sent}" for word in ASKED)
        typed = dict.fromkeys(TYPED, name.encode("utf-8", "surrogateescape")) | {
            "skin": "oily",
            "feel": "gel",
        }
        answers = [bench.get(f"{place.replace('{name:path}', as_sent)}?{query}") for place in LOOKS]
        answers += [bench.post(place.replace("{name:path}", as_sent), typed) for place in FORMS]
        for answer in answers:
            said = answer.text + answer.headers.get("location", "")
            assert answer.status < 500, f"{name!r}: {said[-400:]}"
            assert not RAW.search(said), f"{name!r}: {said}"
            assert "<script>alert" not in said and "<img" not in said
        seen += len(answers)
    return seen


def test_every_address_answers_whatever_a_file_is_called(hostile):
    names = [*(f"{stem}.toml" for stem in SOME), f"{SOME[0]}.csv"]
    assert looked_at(hostile, names) == len(names) * (len(LOOKS) + len(FORMS))


@pytest.mark.slow
def test_every_address_answers_for_more_names(hostile):
    assert looked_at(hostile, [f"{stem}{ending}" for stem in (*SOME, *MORE) for ending in (".toml", ".csv")])


def test_what_the_first_page_lists_can_be_opened_and_what_cannot_is_named(hostile):
    """A link that leads nowhere is worse than none; a file that is passed over in silence is worse than both."""
    page = hostile.get("/").text
    links = [
        unescape(place) for place in re.findall(r'href="(/(?:brief|formula|trials|library)/[^"]*)"', page)
    ]
    assert len(links) > 20
    assert {hostile.get(place).status for place in links} <= {200, 422}
    assert RAW.search(page) is None
    told = page[page.index("Not to be opened here") :]
    assert "bell\\x07.toml" in told and "\\u202egpj.csv" in told and "\\udcff" in told and "C:.toml" in told


def test_names_that_differ_by_case_alone_are_two_files(hostile):
    fields = {
        '["targets", "mildness", "at_least"]': "57",
        "version": hostile.desk.folder.read("Wash.toml").version,
    }
    assert hostile.post("/brief/Wash.toml", fields).status == 303
    assert "at_least = 57" in hostile.text("Wash.toml") and "at_least = 55" in hostile.text("wash.toml")
    kept = [hostile.desk.folder.can_undo(name) for name in ("Wash.toml", "wash.toml")]
    assert kept == [True, False]
