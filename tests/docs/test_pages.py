"""Every example in README and docs runs, and prints what the page says it prints.

The blocks of a page run in order, in a folder of their own: a ```python block in the page's own namespace; in a
```console block each line that starts with "$ optiform", and the lines below it, up to the next "$", must appear
in what it prints, in order. A line "..." stands for anything.
"""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from unittest.mock import patch

import pytest
from typer.testing import CliRunner

from optiform import BadInput, TypedFormula, evaluate, load_library, read_formula
from optiform.cli import entry

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
FENCE = re.compile(r"^```(\w+)[^\n]*\n(.*?)^```", re.MULTILINE | re.DOTALL)


def blocks(page: Path) -> list[tuple[str, str]]:
    """Return the language and the body of each fenced block, in order."""
    return FENCE.findall(page.read_text(encoding="utf-8"))


def name(page: Path) -> str:
    return str(page.relative_to(ROOT))


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder of the reader's own, with the shipped problems beside it."""
    shutil.copytree(ROOT / "problems", tmp_path / "problems")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    with on_the_day():
        yield tmp_path


@contextmanager
def on_the_day() -> Iterator[None]:
    """Let the law be that of the day on which the pages were written."""

    class Then(date):
        @classmethod
        def today(cls) -> date:
            return date(2026, 11, 1)

    with patch("optiform.law.reading.date", Then), patch("optiform.answers.describe.remarks.date", Then):
        yield


def commands(body: str) -> list[tuple[str, list[str]]]:
    """Return each command of a console block with the lines that the page shows below it."""
    found: list[tuple[str, list[str]]] = []
    for line in body.splitlines():
        if line.startswith("$ "):
            found.append((line.removeprefix("$ "), []))
        elif found:
            found[-1][1].append(line)
    return found


RUNNABLE = [page for page in PAGES if {"python", "console"} & {language for language, _ in blocks(page)}]


LONG = tuple(
    f"docs/how-to/{page}.md"
    for page in (
        "be-sure",
        "hang-it-on-the-wall",
        "recost",
        "reformulate",
        "share-one-shelf",
        "trade-off",
        "weigh-and-correct",
    )
)
"""Pages whose commands take long; README, tutorial and the rest run every time."""


@pytest.mark.parametrize(
    "page",
    [pytest.param(page, marks=pytest.mark.slow) if name(page) in LONG else page for page in RUNNABLE],
    ids=name,
)
def test_a_page_runs_from_top_to_bottom(page: Path, desk: Path) -> None:
    namespace: dict[str, object] = {"__name__": "page"}
    for number, (language, body) in enumerate(blocks(page), 1):
        if language == "python":
            exec(compile(body, f"{name(page)}, block {number}", "exec"), namespace)
        elif language == "console":
            for command, shown in commands(body):
                run(command, shown, f"{name(page)}: {command}")
    for written, formula in formulas(namespace, desk):
        broken = [item.requirement.title for item in evaluate(formula).formulas[0].breaks]
        assert not broken, f"{name(page)}: {written} breaks {broken}"


def formulas(namespace: dict[str, object], desk: Path) -> Iterator[tuple[str, TypedFormula]]:
    """Yield the formulas that a page wrote down, in a file or as a value: a reader may copy each of them."""
    library = load_library()
    for file in sorted(desk.glob("*.csv")):
        with suppress(BadInput):  # a price list, or a list that is asked about
            yield file.name, read_formula(file, library)
    for word, value in namespace.items():
        if isinstance(value, TypedFormula):
            yield word, value


def run(command: str, shown: list[str], where: str) -> None:
    """Run one command as a reader would, and hold what it prints against what the page shows."""
    expect_in_order(shown, printed(command, where), where)


def printed(command: str, where: str) -> str:
    """Return what a command prints, and write it to a file where the line ends with "> FILE"."""
    words = shlex.split(command)
    assert words[0] == "optiform", where
    target = Path(words[-1]) if ">" in words else None
    result = CliRunner().invoke(entry.app, words[1:-2] if target else words[1:])
    assert result.exit_code in (0, 3), f"{where}\n{result.output}\n{result.exception!r}"
    if target is None:
        return result.stdout
    target.write_text(result.stdout, encoding="utf-8")
    return ""


def expect_in_order(shown: list[str], printed: str, where: str) -> None:
    lines = iter(line.rstrip() for line in printed.splitlines())
    for wanted in shown:
        if not wanted.strip() or wanted.strip() == "...":
            continue
        assert any(wanted.rstrip() == line for line in lines), (
            f"{where}: not printed (in this order): {wanted!r}\n{printed}"
        )


def test_the_readme_counts_the_materials_of_the_starter_library() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"holds {len(load_library().materials)} raw materials" in text


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_of_a_page_lead_somewhere(page: Path) -> None:
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    for target in re.findall(r"\]\(([^)#\s]+)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{name(page)} links to {target}"
