"""A real browser on real pages: a server of its own, a Chromium, an accessibility checker."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest

AXE = Path(__file__).parents[1] / "views" / "browser" / "node_modules" / "axe-core" / "axe.min.js"
WIDTHS = {"phone": 390, "desk": 1280}
LONG = 60_000
"""Milliseconds that a proof may take on a busy machine; a test waits for what it shows, not for a time."""
PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
WIDE = """() => document.documentElement.scrollWidth <= window.innerWidth ? [] :
  [...document.querySelectorAll("body *")].filter((one) => one.getBoundingClientRect().right > window.innerWidth)
    .map((one) => one.outerHTML.slice(0, 200))"""
"""What stands out on the right of a page that scrolls sideways."""
FOCUS = """async (to) => {
  await new Promise((painted) => requestAnimationFrame(() => requestAnimationFrame(painted)));
  const one = document.activeElement, look = getComputedStyle(one);
  const box = one.getClientRects()[0] || one.getBoundingClientRect();
  const within = (low, high, most) => (Math.max(low, 0) + Math.min(high, most)) / 2;
  const x = within(box.left, box.right, innerWidth), y = within(box.top, box.bottom, innerHeight);
  const top = document.elementFromPoint(x, y);
  const ring = look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2;
  const ours = [one, ...(one.labels || [])].some((part) => top && (part.contains(top) || top.contains(part)));
  return [one.matches(to), one === document.body, ring && ours, one.outerHTML.slice(0, 160)];
}"""
"""Whether what has the focus is what is looked for, is nothing, and is seen to have it: a ring, and nothing over it.

A page scrolls to what got the focus when it paints next, so that is waited for.
"""


def chromium() -> str:
    """Return a Chromium; where none is, skip, or fail where one has to be."""
    names = ("chromium", "chromium-browser", "google-chrome")
    found = os.environ.get("OPTIFORM_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    if found is None and os.environ.get("OPTIFORM_NEEDS_BROWSER"):
        pytest.fail("a Chromium has to be here, and is not: apt-get install chromium")
    if found is None:
        pytest.skip("needs a Chromium: apt-get install chromium, or OPTIFORM_CHROMIUM=path")
    return found


def axe() -> str:
    """Return the accessibility checker's script, or nothing where it was not installed."""
    place = Path(os.environ.get("OPTIFORM_AXE") or AXE)
    return place.read_text(encoding="utf-8") if place.is_file() else ""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a folder as `optiform open` does; yield the address with its key."""
    command = [sys.executable, "-m", "optiform", "open", str(folder), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.terminate()


class Walk:
    """One visitor: where they are, what went wrong on the way, which addresses were asked for."""

    def __init__(self, browser, address: str, root: Path, device: str, *, scripts: bool = True) -> None:
        self.root, self.device, self.base = root, device, address.partition("/?")[0]
        width = WIDTHS[device]
        self.context = browser.new_context(
            viewport={"width": width, "height": 844}, has_touch=device == "phone", java_script_enabled=scripts
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(LONG)
        self.wrong: list[str] = []
        self.asked: set[str] = set()
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("console", lambda word: self.wrong.append(word.text) if word.type == "error" else None)
        self.page.on("request", lambda asked: self.asked.add(urlsplit(asked.url).hostname or "data"))
        self.page.goto(address)

    def go(self, place: str) -> None:
        self.page.goto(self.base + place)

    def seen(self, name: str, picture: str = "") -> None:
        """Look at a page: nothing scrolls sideways, nothing is out of reach for a reader, nothing failed.

        `picture` is the name of the picture that the documentation has of it, with the device at its end.
        """
        page = self.page
        page.wait_for_load_state()
        if picture.endswith(f"-{self.device}") and "OPTIFORM_PICTURES" in os.environ:
            page.evaluate("window.scrollTo(0, 0)")
            page.screenshot(path=PICTURES / f"open-{picture}.png")
        assert page.evaluate(WIDE) == [], name
        if folder := os.environ.get("OPTIFORM_SCREENSHOTS"):
            page.screenshot(path=Path(folder) / f"{name}-{self.device}.png", full_page=True)
        if script := axe():
            page.evaluate(script)
            found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
            told = [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]
            assert not told, f"{name}: {told}"
        assert self.wrong == [], name

    def answered(self) -> str:
        """Wait until the answer beside a brief is proven; return the line that says it."""
        self.page.wait_for_selector("#panel .verdict.solved, #panel .verdict.conflict")
        return self.page.inner_text("#panel .verdict")

    def sent(self):
        """Wait until a form that a hand moved was taken."""
        return self.page.expect_response(lambda answer: answer.request.method == "POST")

    def tab(self, to: str, key: str = "Tab", most: int = 250) -> None:
        """Reach something by one key alone; wherever the focus rests on the way, it is seen (WCAG 2.2, 2.4.11)."""
        for _ in range(most):
            self.page.keyboard.press(key)
            there, nowhere, seen, html = self.page.evaluate(FOCUS, to)
            assert nowhere or seen, f"the focus is not seen on {html}"
            if there:
                return
        raise AssertionError(f"no {key} leads to {to}")

    def enter(self) -> None:
        """Press Enter where it leads to another page."""
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def type(self, text: str) -> None:
        """Type over what stands in the field that has the focus."""
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def close(self) -> None:
        self.context.close()
        assert self.asked <= {"127.0.0.1", "data"}, "no request leaves this machine"
