"""The tables of docs/explanation/speed.md, as Markdown, and where in the page they stand."""

from __future__ import annotations

import math
import platform
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from tests.benchmarks.children import Run
    from tests.benchmarks.speed import Timed

BEGIN = "<!-- measured: begin; written by python -m tests.benchmarks.speed -->"
END = "<!-- measured: end -->"
WAYS = {
    "highs": "plain, HiGHS",
    "cbc": "plain, CBC",
    "scipy": "plain, SciPy",
    "ten": "plain, ten by HiGHS",
}
PACKAGES = ("numpy", "pulp", "highspy", "scipy")
NOT_HERE = 5
"""Exit code of a plain run whose solver is not there."""

CPUS = Path("/proc/cpuinfo")


def machine() -> str:
    """Return a sentence on when and on what it was measured."""
    versions = ", ".join(f"{name} {metadata.version(name)}" for name in PACKAGES)
    today = datetime.now(UTC).date().isoformat()
    return (
        f"Measured on {today}: {_processor()}, {_cores()} cores, {platform.system()}; "
        f"Python {platform.python_version()}, {versions}{_cbc()}."
    )


def _cores() -> int:
    import os

    return os.cpu_count() or 1


def _processor() -> str:
    if CPUS.exists():
        for row in CPUS.read_text(encoding="utf-8").splitlines():
            if row.startswith("model name"):
                return row.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()


def _cbc() -> str:
    """Return the version of the CBC that PuLP has, if it has one."""
    import subprocess

    import pulp

    solver = pulp.PULP_CBC_CMD(msg=False)
    if not solver.available():
        return ", no CBC"
    told = subprocess.run([solver.path, "-quit"], capture_output=True, text=True, check=False).stdout
    version = next((row.split(":")[1].strip() for row in told.splitlines() if row.startswith("Version")), "?")
    return f", CBC {version}"


def designs(rows: Sequence[Timed], limit: float) -> str:
    """Return the table of whole runs: processor time, and in brackets the most memory.

    Of a run that was ended the memory is not known: what its solver held in a process of its own is not told.
    """
    head = ["brief", "materials", "optiform, ten", *WAYS.values()]
    body = [
        [
            row.problem,
            f"{row.materials:,}",
            _cell(row.ours, limit),
            *(_cell(row.plain.get(way), limit) for way in WAYS),
        ]
        for row in rows
    ]
    ended = [f"{row.problem} at {row.materials:,}" for row in rows if row.ours.capped]
    note = f"optiform was ended before it was done ({', '.join(ended)}): nothing was compared there."
    return table(head, body) + (f"\n\n{note}" if ended else "")


def line(row: Timed, limit: float) -> str:
    """Return one line to watch while it runs."""
    told = [f"{WAYS[way]} {_cell(run, limit)}" for way, run in row.plain.items()]
    return f"{row.problem}, {row.materials:,}: " + "; ".join([f"optiform {_cell(row.ours, limit)}", *told])


def _cell(run: Run | None, limit: float) -> str:
    if run is None:
        return ""
    if run.code == NOT_HERE:
        return "not here"
    if run.capped:
        return f"> {limit:.0f} s"
    return f"{run.processor:.2f} s ({run.memory / 2**20:,.0f} MiB)"


def resolves(rows: Sequence[Mapping[str, float | str]]) -> str:
    """Return the table of re-solves per second."""
    body = [
        [
            f"one {row['change']}, choices {row['choices']}",
            f"{row['live']:,.0f}",
            f"{row['afresh']:,.0f}",
            f"{row['ratio']:.1f}",
        ]
        for row in rows
    ]
    return table(["what changes", "live, solves per second", "afresh, solves per second", "ratio"], body)


def start_up(seconds: Mapping[str, float]) -> str:
    """Return the table of start-up times."""
    return table(
        ["command", "median of five"], [[_code(name), f"{taken:.2f} s"] for name, taken in seconds.items()]
    )


def multiples(
    found: Mapping[str, Mapping[str, float | None]], bars: Mapping[str, float], conflict: tuple[str, float]
) -> str:
    """Return the table of multiples of the bare imports, and below it what is aimed at."""

    def cell(times: float | None) -> str:
        return "" if times is None else "not done" if math.isinf(times) else f"{times:.1f}"

    body = [[brief.replace("-", " "), *(cell(own[name]) for name in bars)] for brief, own in found.items()]
    aims = ", ".join(f"{name} {bar:g}" for name, bar in bars.items())
    told = f"Aimed at: {aims}; {conflict[1]:g} where a design ends in a conflict ({conflict[0].replace('-', ' ')})."
    return f"{table(['times the bare imports', *bars], body)}\n\n{told}"


def _code(name: str) -> str:
    return f"`{name}`" if name.startswith("optiform") else name


def table(head: Sequence[str], body: Sequence[Sequence[str]]) -> str:
    """Return a Markdown table: the first column to the left, the others to the right."""
    ruler = ["---", *("---:" for _ in head[1:])]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in (head, ruler, *body))


def put(page: Path, text: str) -> None:
    """Write what was measured between the two marks of a page."""
    whole = page.read_text(encoding="utf-8")
    before, rest = whole.split(BEGIN)
    _, after = rest.split(END)
    page.write_text(f"{before}{BEGIN}\n\n{text}\n\n{END}{after}", encoding="utf-8")
