"""The flows of the page by keyboard alone, and those of the materials by thumb; opt-in, as all of these.

No test by keyboard clicks, or sets the focus: it presses Tab as often as a person has to, and wherever the focus rests
on the way it has to be seen (WCAG 2.2, success criteria 2.1.1, 2.4.3, 2.4.7 and 2.4.11).
"""

from __future__ import annotations

import pytest

from optiform import load_library
from tests.asked import PROBLEMS
from tests.page.bench import BRIEF
from tests.page.walked import FOCUS, WIDTHS, Walk, served

pytestmark = pytest.mark.browser
MILD = """[name='["targets", "mildness", "at_least"]']"""
LISTED = 'name;price\n"Glycerin, plant, 99.5 %";1,7\nNo such thing;3'
SHELF = """title = "Two on one shelf"
minimise = "materials"
then = ["cash"]
[[product]]
brief = "nettle.toml"
batch = "5kg"
within = 0.03
[[product]]
brief = "oat.toml"
batch = "3kg"
within = 0.03
"""
MARKET = """title = "Market"
aim = "cash"
[[make]]
formula = "soap.csv"
batch = "5kg"
"""


def _makes_it(walk):
    """Keep a formula, look at its card, begin a batch record, and write what was weighed."""
    page = walk.page
    walk.tab("#panel a.button")
    walk.enter()
    page.wait_for_selector(".deeds")
    walk.tab("button[name=rank]")
    walk.enter()
    page.wait_for_selector("text=Begin a batch record")
    walk.tab("button[value=card]")
    walk.enter()
    page.wait_for_selector("h1:has-text('bench card'), .aside")
    walk.tab(".crumbs a")
    walk.enter()
    page.wait_for_selector("text=Begin a batch record")
    walk.tab("form[action^='/begin'] button")
    walk.enter()
    page.wait_for_selector("#filled")
    walk.tab("[name$='/actual']")
    page.keyboard.type("812,5")
    with walk.sent():
        page.keyboard.press("Enter")
    page.wait_for_selector("#filled:has-text('Saved.')")
    assert page.evaluate("document.activeElement.name.endsWith('/lot')"), "Enter goes on to the next blank"
    assert "812,5" in next((walk.root / "batches").iterdir()).read_text()


@pytest.mark.parametrize("device", WIDTHS)
def test_a_first_wash_by_keyboard_alone(browser, device, tmp_path):
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, device)
        page, key = walk.page, walk.page.keyboard
        walk.tab("[name=skin]")
        while page.evaluate("document.activeElement.value") != "oily":
            key.press("ArrowDown")
        walk.tab("[name=feel]")
        while page.evaluate("document.activeElement.value") != "gel":
            key.press("ArrowDown")
        walk.tab("[name=title]")
        key.type("Nettle wash")
        walk.enter()
        assert "can be met" in walk.answered()

        brief = tmp_path / "nettle-wash.toml"
        before = brief.read_text()
        assert "mildness = { at_least = 65 }" in before
        walk.tab(MILD)
        walk.type("60")
        with walk.sent():
            key.press("Enter")
        walk.answered()
        kept = before.replace("mildness = { at_least = 65 }", "mildness = { at_least = 60 }")
        assert brief.read_text() == kept, "Enter keeps a wish, and gives up none"
        assert page.evaluate(f"document.activeElement.matches({MILD!r})"), (
            "an answer leaves the hand where it is"
        )
        walk.tab("input[type=range]")
        with walk.sent():
            key.press("End")
        walk.answered()
        assert page.evaluate("document.activeElement.type") == "range"
        walk.tab(MILD, "Shift+Tab")
        walk.type("97")
        with walk.sent():
            key.press("Enter")
        page.wait_for_selector("#panel .verdict.conflict")
        for reached in (
            ".to-ways",
            "#ways",
            ".ways button",
        ):  # from the wish to the first way out: three keys
            key.press("Enter" if reached == "#ways" else "Tab")
            there, _, seen, html = page.evaluate(FOCUS, reached)
            assert there and seen, f"after {reached} was asked for, the focus is on {html}"
        walk.enter()
        assert "can be met" in walk.answered()
        assert not page.locator(".to-ways:visible").count()
        if device == "desk":
            _makes_it(walk)
        else:
            walk.tab("#undo button")
            walk.enter()
            page.wait_for_selector("#panel .verdict.conflict")
        walk.close()


def test_a_button_waits_for_the_wish_that_is_on_its_way(browser, tmp_path):
    """A hand types a wish and presses another button at once, before the first one was answered."""
    brief = tmp_path / "quince.toml"
    brief.write_text(BRIEF)
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "desk")
        walk.go("/brief/quince.toml")
        walk.answered()
        walk.page.fill(MILD, "57")
        with walk.page.expect_navigation():
            walk.page.click("button[aria-label='Let in again: sulfate']")
        walk.answered()
        assert "at_least = 57" in brief.read_text() and "sulfate" not in brief.read_text()
        walk.page.fill(MILD, "58")
        with walk.page.expect_navigation():
            walk.page.click("#undo button")
        assert "at_least = 57" in brief.read_text(), "what is taken back is the wish that was on its way"
        walk.close()


def test_enter_keeps_a_wish_without_scripts(browser, tmp_path):
    brief = tmp_path / "quince.toml"
    brief.write_text(BRIEF)
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "desk", scripts=False)
        walk.go("/brief/quince.toml")
        walk.page.fill(MILD, "57")
        with walk.page.expect_navigation():
            walk.page.press(MILD, "Enter")
        assert brief.read_text() == BRIEF.replace("at_least = 55", "at_least = 57")
        walk.close()


@pytest.mark.parametrize("device", WIDTHS)
def test_materials_by_keyboard_alone(browser, device, tmp_path):
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, device)
        page, key = walk.page, walk.page.keyboard
        walk.tab("nav a[href='/library']")
        walk.enter()
        walk.tab("form[action='/library/copy'] button")
        walk.enter()
        page.wait_for_selector("text=Paste a price list")
        walk.tab("[name=q]")
        key.type("glycerin")
        walk.enter()
        page.wait_for_selector("p:has-text('materials')")
        walk.tab("tbody a[href*='id=glycerin']")
        walk.enter()
        page.wait_for_selector("[name=price]")
        walk.tab("[name=price]")
        walk.type("9,5")
        walk.enter()
        page.wait_for_selector("[name=price][value='9.5']")

        walk.tab(".crumbs a")
        walk.enter()
        walk.tab("a[href^='/library/add']")
        walk.enter()
        for field, text in (("name", "Quay betaine, 30 %"), ("price", "3,2"), ("content", "Nonsense 30")):
            walk.tab(f"[name={field}]")
            key.type(text)
        walk.tab("form button")
        walk.enter()
        page.wait_for_selector("ul.bad")
        walk.tab("[name=content]")
        walk.type("Cocamidopropyl Betaine 30")
        walk.tab("form button")
        walk.enter()
        page.wait_for_selector("h1:has-text('Quay betaine')")

        walk.tab(".crumbs a")
        walk.enter()
        walk.tab("a[href^='/library/prices']")
        walk.enter()
        walk.tab("[name=text]")
        key.type(LISTED)
        walk.tab("form button")
        walk.enter()
        page.wait_for_selector("text=Write these prices")
        walk.tab("form[action='/library/confirm'] button")
        walk.enter()
        page.wait_for_selector("text=Add a material")
        walk.close()
    held = load_library(tmp_path / "library").material
    assert (held["glycerin"].price, held["quay-betaine-30"].price) == (1.7, 3.2)


def test_materials_by_thumb(browser, tmp_path):
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "phone")
        page = walk.page
        page.tap("nav >> text=Materials")
        page.tap("text=Make a copy")
        page.tap("[name=q]")
        page.keyboard.type("glycerin")
        page.tap("text=Find")
        page.tap("tbody a[href*='id=glycerin']")
        page.tap("[name=price]")
        walk.type("9,5")
        page.tap("text=Save the price")
        page.wait_for_selector("[name=price][value='9.5']")
        page.tap(".crumbs a")
        page.tap("text=Add a material")
        for field, text in (
            ("name", "Quay betaine"),
            ("price", "3,2"),
            ("content", "Cocamidopropyl Betaine 30"),
        ):
            page.tap(f"[name={field}]")
            page.keyboard.type(text)
        page.tap("text=Check it and add it")
        page.wait_for_selector("h1:has-text('Quay betaine')")
        page.tap(".crumbs a")
        page.tap("text=Paste a price list")
        page.tap("[name=text]")
        page.keyboard.type(LISTED)
        page.tap("text=Match it")
        page.tap("text=Write these prices")
        page.wait_for_selector("text=Add a material")
        walk.close()
    held = load_library(tmp_path / "library").material
    assert (held["glycerin"].price, held["quay-betaine"].price) == (1.7, 3.2)


def _looks_at_plans(walk):
    """Open the family and the shopping list from the first page by keyboard, then by hand."""
    page = walk.page
    walk.tab("a[href^='/family/']")
    walk.enter()
    page.wait_for_selector("h1:has-text('Two on one shelf')")
    page.wait_for_selector("main:not([hx-get])")
    walk.seen("family")
    walk.tab("nav a[href='/']")
    walk.enter()
    walk.tab("a[href^='/plan/']")
    walk.enter()
    page.wait_for_selector("h1:has-text('Market')")
    walk.seen("shopping")
    press = page.tap if walk.device == "phone" else page.click
    for title in ("Two on one shelf", "Market"):
        press("nav >> text=Work")
        press(f"li a:text-is('{title}')")
        page.wait_for_selector(f"h1:has-text('{title}')")
    walk.close()


def test_a_shelf_and_the_shopping_by_keyboard_and_by_hand(browser, tmp_path):
    for name, kept in (("nettle-gel-oily-skin", "nettle"), ("oat-conditioning-wash", "oat")):
        (tmp_path / f"{kept}.toml").write_bytes((PROBLEMS / name / "brief.toml").read_bytes())
    (tmp_path / "soap.csv").write_text("material,percent\nwater,q.s.\ndecyl-glucoside,12\nglycerin,3\n")
    (tmp_path / "shelf.toml").write_text(SHELF)
    (tmp_path / "market.toml").write_text(MARKET)
    with served(tmp_path) as address:
        for device in WIDTHS:
            _looks_at_plans(Walk(browser, address, tmp_path, device))
