"""An evening at the bench in a real browser: a wash weighed, read, asked about and planned; opt-in, as all of these."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optiform import list_trials
from tests.page.test_photos import PNG
from tests.page.walked import WIDTHS, Walk, served

pytestmark = pytest.mark.browser
EVENINGS = Path(__file__).parents[2] / "problems" / "three-evenings"


@pytest.fixture
def quay(tmp_path):
    """A folder with the three evenings of the quay."""
    folder = tmp_path / "quay"
    (folder / "bench").mkdir(parents=True)
    for file in (EVENINGS / "bench").glob("*.csv"):
        (folder / "bench" / file.name).write_bytes(file.read_bytes())
    for name in ("first", "nettle"):
        (folder / f"{name}.toml").write_bytes((EVENINGS / f"{name}.toml").read_bytes())
    return folder


@pytest.mark.parametrize("device", WIDTHS)
def test_a_trial_is_planned_weighed_read_and_taken_back(browser, device, quay):
    with served(quay) as address:
        walk = Walk(browser, address, quay, device)
        page = walk.page
        press = page.tap if device == "phone" else page.click
        press("a:text-is('bench')")
        page.wait_for_selector(".tree")
        walk.seen("trials-1-bench", "bench-desk")

        page.select_option("select[name=name]", "nettle.toml")
        press("text=Which is next?")
        page.wait_for_selector("button:has-text('The next trial')")
        walk.seen("trials-2-next")
        press("button:has-text('The next trial')")
        page.wait_for_selector("text=Add the trial")
        first = page.locator("[name^='grams ']").first
        first.fill("12x")
        first.press("Tab")
        page.wait_for_selector("#filled:has-text('look at again')")
        first.fill("121,4")
        first.press("Tab")
        page.wait_for_selector("#filled:has-text('Kept')")
        walk.seen("trials-3-weigh")
        page.fill("[name=parent]", "4")
        press("text=Add the trial")
        page.wait_for_selector(".tree .tree")
        assert [one.name for one in list_trials(quay / "bench").trials][-1] == "10"

        press(".tree a:text-is('Trial 10')")
        viscosity = page.locator("[name='value viscosity']")
        viscosity.fill("32000")
        viscosity.press("Tab")
        page.wait_for_selector(".wrong:has-text('predict')")
        walk.seen("trials-4-asked", "reading-phone")
        page.go_back()
        page.go_forward()
        page.wait_for_selector(".wrong:has-text('predict')")
        assert page.input_value("[name='value viscosity']") == "32000", "kept"
        page.fill("[name='value viscosity']", "3200")
        page.locator("[name='value viscosity']").press("Tab")
        page.wait_for_selector("#filled:has-text('1 to add')")
        page.select_option("[name='value one phase']", "yes")
        page.wait_for_selector("#filled:has-text('2 to add')")
        with page.expect_file_chooser() as chosen:
            press("text=Take a photo")
        chosen.value.set_files({"name": "IMG_1.jpg", "mimeType": "image/png", "buffer": PNG})
        page.wait_for_selector(".shot img")
        assert page.evaluate("document.querySelector('.shot img').naturalWidth") == 1
        assert page.input_value("[name='value viscosity']") == "3200", "a photo leaves what was typed"
        walk.seen("trials-5-photo")
        press("text=Add to the bench")
        page.wait_for_selector("td:has-text('3200'), td:has-text('3,200')")
        page.wait_for_selector("figcaption:has-text('Photo, with viscosity')")
        walk.seen("trials-6-read")
        walk.go("/trials/bench")
        press("text=Take back the last readings of trial 10")
        page.wait_for_selector(".tree li:has-text('Trial 10') >> text=not read yet")
        walk.close()


def test_a_reading_by_keyboard_alone(browser, quay):
    """Tab to the field, type, Enter keeps; nothing is added by a key that was pressed too often."""
    before = (quay / "bench" / "readings.csv").read_text()
    with served(quay) as address:
        walk = Walk(browser, address, quay, "desk")
        walk.go("/trial/bench?trial=2")
        page = walk.page
        page.focus("[name='value viscosity']")
        page.keyboard.type("305")
        with walk.sent():
            page.keyboard.press("Enter")
        page.wait_for_selector("#filled:has-text('1 to add')")
        assert (quay / "bench" / "readings.csv").read_text() == before
        assert page.evaluate("document.activeElement.name") == "instrument viscosity", "Enter goes on"
        walk.tab("#shot")
        with page.expect_file_chooser():
            page.keyboard.press("Space")
        walk.tab("[name=add]")
        page.keyboard.press("Enter")
        page.wait_for_selector("td:has-text('305')")
        assert "2,viscosity,305" in (quay / "bench" / "readings.csv").read_text()
        if folder := os.environ.get("OPTIFORM_SCREENSHOTS"):
            walk.go("/trials/bench")
            page.pdf(path=Path(folder) / "bench.pdf", prefer_css_page_size=True)
        walk.close()


def test_a_reading_without_scripts(browser, quay):
    with served(quay) as address:
        walk = Walk(browser, address, quay, "phone", scripts=False)
        walk.go("/trial/bench?trial=2")
        walk.page.fill("[name='value pH']", "4,9")
        walk.page.click("text=Keep what is typed")
        assert walk.page.input_value("[name='value pH']") == "4,9"
        walk.page.click("text=Add to the bench")
        assert "2,pH,4.9" in (quay / "bench" / "readings.csv").read_text()
        walk.close()
