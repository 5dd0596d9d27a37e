"""A real browser on real pages: a server of its own, a Chromium, an accessibility checker."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

AXE = Path(__file__).parents[1] / "views" / "browser" / "node_modules" / "axe-core" / "axe.min.js"
WIDTHS = {"phone": 390, "desk": 1280}


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
