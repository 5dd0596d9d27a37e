"""The whole job in a real browser, by mouse, thumb and keyboard: opt-in, ``pytest -m browser tests/page``.

With OPTIFORM_SCREENSHOTS set to a folder, a picture of every step is left there to be looked at; with OPTIFORM_PICTURES
set, the pictures of docs/how-to/open.md are taken anew.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optiform import check
from optiform.page.records import opened
from tests.asked import PROBLEMS
from tests.page.walked import WIDTHS, Walk, served

pytestmark = pytest.mark.browser
MILD = '["targets", "mildness", "at_least"]'
NETTLE = "nettle-wash.toml"


@pytest.mark.parametrize("device", WIDTHS)
def test_from_the_first_wish_to_a_batch_that_is_filled_in(browser, device, tmp_path):
    """Somebody who never opened a terminal: skin and feel, a formula, gentler until it breaks, a way out, the card."""
    folder = tmp_path / "quayside-washes"
    folder.mkdir()
    with served(folder) as address:
        walk = Walk(browser, address, folder, device)
        page = walk.page
        walk.seen("1-first", "first-phone")
        press = page.tap if device == "phone" else page.click
        page.check("input[name=skin][value=oily]")
        page.check("input[name=feel][value=gel]")
        page.fill("input[name=title]", "Nettle wash")
        press("text=Make the wish list")
        assert "can be met" in walk.answered()
        page.locator(".room .reach").nth(2).wait_for(state="attached")
        heights = page.evaluate(
            "[...new Set([...document.querySelectorAll('.room')].map((one) => one.offsetHeight))]"
        )
        assert len(heights) == 1, "a room that comes late moves nothing under the hand"
        walk.seen("2-brief", "wishes-desk")

        mild = page.get_by_label("mildness at least, slider")
        end = float(mild.get_attribute("max"))
        mild.focus()
        with walk.sent():
            page.keyboard.press("End")
        walk.answered()
        assert f"mildness = {{ at_least = {end:g} }}" in (folder / NETTLE).read_text()
        number = page.locator(f"[name='{MILD}']")
        with walk.sent():
            number.fill("97")
            number.press("Tab")
        page.wait_for_selector("#panel .verdict.conflict")
        walk.seen("3-conflict", "ways-out-desk")
        press(".ways button >> nth=0")
        assert "can be met" in walk.answered()
        assert check(folder / NETTLE).status == "solved"
        press("text=Undo the last change")
        page.wait_for_selector("#panel .verdict.conflict")
        page.get_by_role("button", name="Take this way").first.click()
        walk.answered()

        press("text=All formulas, explained")
        page.wait_for_selector(".deeds")
        walk.seen("4-formulas")
        press("button[name=rank] >> nth=0")
        page.wait_for_selector("text=Begin a batch record")
        walk.seen("5-formula")
        press("text=Bench card")
        page.wait_for_selector("h1:has-text('bench card'), .aside, table")
        walk.seen("6-card")
        page.go_back()
        page.wait_for_selector("text=Begin a batch record")
        press("text=Begin a batch record")
        lot = page.get_by_label("Lot of").first
        lot.fill("L-1")
        page.wait_for_selector("#filled:has-text('Saved.')")
        walk.seen("7-record", "record-phone")
        record = next((folder / "batches").iterdir())
        assert '"L-1"' in record.read_text()
        walk.go("/")
        walk.seen("8-work")
        walk.close()
        assert opened(record.read_text(), record.name).filled == 4


@pytest.mark.parametrize("device", WIDTHS)
def test_materials_and_prices(browser, device, tmp_path):
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, device)
        walk.go("/library")
        walk.seen("library-1")
        walk.page.click("text=Make a copy")
        walk.page.fill("input[name=q]", "glycerin")
        walk.page.keyboard.press("Enter")
        walk.page.wait_for_selector("td")
        walk.page.click("tbody a >> nth=0")
        walk.page.wait_for_selector("input[name=price]")
        walk.seen("library-2")
        walk.page.fill("input[name=price]", "9,5")
        walk.page.keyboard.press("Enter")
        walk.page.wait_for_selector("input[name=price][value='9.5']")
        for place in ("add", "prices"):
            walk.go(f"/library/{place}?where=library")
            walk.seen(f"library-{place}")
        walk.page.fill("textarea", 'name;price\n"Glycerin, plant, 99.5 %";1,7\nNo such thing;3\n')
        walk.page.click("text=Match it")
        walk.page.wait_for_selector("text=Write these prices")
        walk.seen("library-matched")
        walk.close()


def test_everything_reads_prints_and_saves_without_scripts(browser, tmp_path):
    (tmp_path / "wash.toml").write_text((PROBLEMS / "nettle-gel-oily-skin" / "brief.toml").read_text())
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "phone", scripts=False)
        walk.go("/brief/wash.toml")
        while not walk.page.locator("#panel .verdict.solved").count():
            walk.page.click(
                "#panel noscript a"
            )  # a search by text passes over what stands there without scripts
            walk.page.wait_for_load_state()
        walk.page.fill(f"[name='{MILD}']", "60")
        walk.page.click("text=Save the wishes and check them")
        assert "60" in walk.page.input_value(f"[name='{MILD}']")
        assert "at_least = 60" in (tmp_path / "wash.toml").read_text()
        walk.page.pdf(path=tmp_path / "brief.pdf", prefer_css_page_size=True)
        assert (tmp_path / "brief.pdf").stat().st_size > 1000
        walk.close()


def test_a_record_by_keyboard_alone_survives_a_closed_browser(browser, tmp_path):
    (tmp_path / "f.csv").write_text(
        "material,percent\npurified-water,q.s.\ndecyl-glucoside,12\ncocamidopropyl-betaine-30,8\nglycerin,3\n"
    )
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "desk")
        walk.go("/formula/f.csv")
        walk.page.get_by_role("button", name="Begin a batch record").focus()
        walk.page.keyboard.press("Enter")
        walk.page.wait_for_selector("#filled")
        field = walk.page.get_by_label("Batch number")
        field.focus()
        walk.page.keyboard.type("N-007")
        walk.page.keyboard.press("Tab")
        walk.page.wait_for_selector("#filled:has-text('Saved.')")
        here = walk.page.url
        walk.close()
        again = Walk(browser, address, tmp_path, "desk")
        again.page.goto(here)
        assert again.page.get_by_label("Batch number").input_value() == "N-007"
        again.seen("record-again")
        if folder := os.environ.get("OPTIFORM_SCREENSHOTS"):
            again.page.pdf(path=Path(folder) / "record.pdf", prefer_css_page_size=True)
        again.close()


def test_what_is_typed_before_the_scripts_are_there_is_saved(browser, tmp_path):
    (tmp_path / "f.csv").write_text("material,percent\npurified-water,q.s.\ndecyl-glucoside,12\nglycerin,3\n")
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "desk")
        walk.go("/formula/f.csv")
        walk.page.get_by_role("button", name="Begin a batch record").click()
        walk.page.wait_for_selector("#filled")
        here, held = walk.page.url, []

        def hold(route):
            held.append(route)

        walk.page.route("**/htmx.min.js", hold)
        walk.page.goto(here, wait_until="commit")
        field = walk.page.get_by_label("Batch number")
        field.fill("N-008")
        field.press("Tab")
        held[0].continue_()
        walk.page.wait_for_selector("#filled:has-text('Saved.')")
        walk.close()
    record = next((tmp_path / "batches").glob("*.json"))
    assert "N-008" in record.read_text()
