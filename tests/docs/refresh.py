"""Writes anew what README and tutorial show of the program, where they show a whole screen, and the notebook's outputs.

python -m tests.docs.refresh
"""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import chdir, redirect_stdout
from io import StringIO
from pathlib import Path

from tests.docs.test_notebooks import NOTEBOOK, executed
from tests.docs.test_pages import ROOT, blocks, commands, on_the_day, printed

PAGES = ("README.md", "docs/tutorial/first-wash.md")


def refreshed(page: Path) -> str:
    """Return a page whose whole screens are those of today; a block with a line "..." stays as it is."""
    text, namespace = page.read_text(encoding="utf-8"), {"__name__": "page"}
    for language, body in blocks(page):
        if language == "python":
            with redirect_stdout(StringIO()):
                exec(compile(body, page.name, "exec"), namespace)
        if language != "console":
            continue
        screens = [(command, shown, printed(command, page.name)) for command, shown in commands(body)]
        if all("..." not in shown for _, shown, _ in screens):
            lines = [f"$ {command}\n{screen if shown else ''}" for command, shown, screen in screens]
            text = text.replace(body, "".join(lines))
    return text


def main() -> None:
    """Write README, tutorial and notebook."""
    import nbformat

    os.environ.update(COLUMNS="80", NO_COLOR="1")
    for name in PAGES:
        with tempfile.TemporaryDirectory() as desk, chdir(desk), on_the_day():
            shutil.copytree(ROOT / "problems", Path(desk) / "problems")
            (ROOT / name).write_text(refreshed(ROOT / name), encoding="utf-8")
    with tempfile.TemporaryDirectory() as desk:
        nbformat.write(executed(NOTEBOOK, Path(desk)), NOTEBOOK)


if __name__ == "__main__":
    main()
