"""Every example in README and docs runs, and prints what the page says it prints.

A ```python block runs in the page's own namespace, blocks of a page in order. In a ```console block each
line that starts with "$ optiform" runs in the page's folder; the lines below it, up to the next "$", must
appear in what it prints, in order. A line "..." stands for anything.
"""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
FENCE = re.compile(r"^```(\w+)[^\n]*\n(.*?)^```", re.MULTILINE | re.DOTALL)


def blocks(page: Path, language: str) -> list[str]:
    return [body for found, body in FENCE.findall(page.read_text(encoding="utf-8")) if found == language]


def name(page: Path) -> str:
    return str(page.relative_to(ROOT))


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of the reader's own, with the shipped problems beside it."""
    shutil.copytree(ROOT / "problems", tmp_path / "problems")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")
    return tmp_path


@pytest.mark.parametrize("page", [page for page in PAGES if blocks(page, "python")], ids=name)
def test_python_of_a_page_runs(page: Path, desk: Path) -> None:
    namespace: dict[str, object] = {"__name__": "page"}
    for number, body in enumerate(blocks(page, "python"), 1):
        exec(compile(body, f"{name(page)}, block {number}", "exec"), namespace)  # noqa: S102


def commands(body: str) -> list[tuple[str, list[str]]]:
    """Return each command of a console block with the lines that the page shows below it."""
    found: list[tuple[str, list[str]]] = []
    for line in body.splitlines():
        if line.startswith("$ "):
            found.append((line.removeprefix("$ "), []))
        elif found:
            found[-1][1].append(line)
    return found


@pytest.mark.parametrize("page", [page for page in PAGES if blocks(page, "console")], ids=name)
def test_commands_of_a_page_run_as_shown(page: Path, desk: Path) -> None:
    from optiform.cli import app

    for body in blocks(page, "console"):
        for command, shown in commands(body):
            words = shlex.split(command)
            if words[0] == "cd":
                continue
            assert words[0] == "optiform", f"{name(page)}: {command}"
            target = None
            if ">" in words:
                cut = words.index(">")
                words, target = words[:cut], Path(words[cut + 1])
            result = CliRunner().invoke(app, words[1:])
            assert result.exit_code in (0, 3), (
                f"{name(page)}: {command}\n{result.output}\n{result.exception!r}"
            )
            if target is not None:
                target.write_text(result.stdout, encoding="utf-8")
                continue
            expect_in_order(shown, result.output, f"{name(page)}: {command}")


def expect_in_order(shown: list[str], printed: str, where: str) -> None:
    lines = iter(line.rstrip() for line in printed.splitlines())
    for wanted in shown:
        if not wanted.strip() or wanted.strip() == "...":
            continue
        assert any(wanted.rstrip() == line for line in lines), (
            f"{where}: not printed (in this order): {wanted!r}\n{printed}"
        )


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_of_a_page_lead_somewhere(page: Path) -> None:
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    for target in re.findall(r"\]\(([^)#\s]+)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{name(page)} links to {target}"
