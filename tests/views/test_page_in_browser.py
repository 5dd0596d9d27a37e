"""Pages in front of a validator, an accessibility checker and a real browser: opt-in, ``pytest -m browser``."""

import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from optiform.answers.tradeoff import tradeoff
from optiform.views.render import page
from optiform.views.screens import tradeoff_blocks
from optiform.views.words.blocks import Bullets, Column, Heading, Paragraph, Table
from tests.views import pages

HERE = Path(__file__).parent / "browser"
SMALLEST = 9.0
"""Words in a picture are at least so many pixels high in type size, on every width."""
UNFIT = ("Wide",)
"""A table of twelve columns, wider than any of ours, that a laptop has no room for: it scrolls, the page does not."""
ONE_LOOK = 3_300
"""Pixels of an answer on a phone before any of its parts is opened: four screens."""

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def tools(request):
    if "browser" not in (request.config.option.markexpr or ""):
        pytest.skip("opt-in: pytest -m browser")
    names = ("chromium", "chromium-browser", "google-chrome")
    chromium = os.environ.get("OPTIFORM_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    modules = Path(os.environ.get("OPTIFORM_NODE_MODULES") or HERE / "node_modules")
    if shutil.which("node") is None or chromium is None:
        pytest.skip("needs node and a chromium")
    if not (modules / "puppeteer-core").is_dir():
        pytest.skip(f"needs the packages of {HERE / 'package.json'}: npm install")
    return chromium, modules


@pytest.fixture(scope="module")
def found(tools, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    made = {name: pages.answer_page(answer()) for name, answer in pages.ALL.items()} | pages.bench()
    wide = Table(
        "Wide", tuple(Column(f"column {k}", head=k == 0) for k in range(12)), (("a long cell",) * 12,)
    )
    curve = tradeoff(pages.brief(), "cost", "mildness")
    made["curve"] = page.render(tradeoff_blocks(curve, drawn=True), "A curve")
    made["blocks"] = page.render(
        [Heading("Plain", 1), Paragraph("p", "bad"), Bullets(("a", "b")), wide], "Plain"
    )
    for name, content in made.items():
        (folder / f"{name}.html").write_text(content, encoding="utf-8")
    out = os.environ.get("OPTIFORM_SCREENSHOTS") or "-"
    files = [str(folder / f"{name}.html") for name in made]
    command = ["node", str(HERE / "check.mjs"), str(tools[0]), str(tools[1]), out, *files]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_validator_finds_nothing(found):
    assert {name: report["faults"] for name, report in found.items()} == {name: [] for name in found}


def test_the_accessibility_checker_finds_nothing(found):
    assert {name: report["violations"] for name, report in found.items()} == {name: [] for name in found}


def test_nothing_is_fetched_and_nothing_fails(found):
    for report in found.values():
        assert report["outside"] == []
        assert report["failures"] == []


@pytest.mark.parametrize("device", ["phone", "laptop", "paper"])
def test_every_width_shows_the_whole_page_and_every_word_of_its_pictures(found, device):
    seen = 0
    for report in found.values():
        width = report["widths"][device]
        assert width["overflow"] <= 0, "the page must not scroll sideways"
        assert {*width["scrolling"]} <= {*UNFIT}, "no table of ours must scroll sideways"
        for picture in width["pictures"]:
            assert picture["cut"] == []
            assert picture["overlapping"] == []
            assert picture["smallest"] >= SMALLEST
            seen += 1
    assert seen >= 10


def test_a_phone_shows_one_look_and_opens_the_rest_from_the_contents(found):
    for name in pages.ALL:
        widths = found[name]["widths"]
        assert widths["phone"]["height"] <= ONE_LOOK
        assert [width["folded"] for width in widths.values()] == [0, 0, 0]
