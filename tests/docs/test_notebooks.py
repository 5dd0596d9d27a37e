"""The notebook of the tutorial runs from top to bottom, and says what is stored in it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NOTEBOOK = ROOT / "docs" / "tutorial" / "first-wash.ipynb"
SECONDS = 600
LARGEST = 150_000


def executed(notebook: Path, desk: Path) -> dict:
    """Return a notebook with the outputs of now, as it is stored: without times and counts of this run.

    Parameters
    ----------
    desk : Path
        The folder in which it runs.
    """
    import nbformat
    from nbclient import NotebookClient

    book = nbformat.read(notebook, as_version=4)
    for cell in book.cells:
        cell.metadata.clear()
    NotebookClient(
        book, timeout=SECONDS, kernel_name="python3", record_timing=False,
        resources={"metadata": {"path": str(desk)}},
    ).execute()  # fmt: skip
    return book


def told(book: dict) -> list[tuple[str, list[str], str]]:
    """Return each output of a notebook: its kind, its forms, and what it says in plain text."""
    found = []
    for cell in book["cells"]:
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            text = output.get("text", "") if output["output_type"] == "stream" else data.get("text/plain", "")
            found.append((output["output_type"], sorted(data), "".join(text)))
    return found


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:DeprecationWarning:jupyter_client", "ignore::ResourceWarning")
def test_the_notebook_says_what_is_stored_in_it(tmp_path: Path) -> None:
    stored = json.loads(NOTEBOOK.read_text(encoding="utf-8"))
    assert told(executed(NOTEBOOK, tmp_path)) == told(stored)
    assert not list(tmp_path.iterdir())  # it leaves nothing behind


def test_what_the_notebook_stores_is_small() -> None:
    assert NOTEBOOK.stat().st_size < LARGEST
