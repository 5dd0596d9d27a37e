"""The briefs that are timed: shipped ones, over made-up libraries of any size.

``python -m tests.benchmarks.instances FOLDER 50,500`` writes them. A brief loses its tie-breaks, which
the plain way has not, and asks for ten formulas.
"""

from __future__ import annotations

import sys
from pathlib import Path

PROBLEMS = {
    "nettle": "nettle-gel-oily-skin",
    "baby": "first-bath-baby-mild",
    "cream": "linden-cream-dry-skin",
}
HOW_MANY = 10
SHIPPED = Path(__file__).parents[2] / "problems"


def place(folder: Path, name: str, size: int) -> Path:
    """Return where the brief of that name over a library of that size is written."""
    return folder / f"{name}-{size}.toml"


def write(folder: Path, sizes: list[int]) -> None:
    """Write a library of each size, and each brief over it."""
    from tests.benchmarks.synthetic import synthetic_library, write_library

    for size in sizes:
        library = write_library(synthetic_library(size), folder / f"library-{size}")
        for name, problem in PROBLEMS.items():
            text = (SHIPPED / problem / "brief.toml").read_text(encoding="utf-8")
            place(folder, name, size).write_text(plainer(text, library), encoding="utf-8")


def plainer(brief: str, library: Path) -> str:
    """Return a brief over another library, without tie-breaks, that asks for ten formulas."""
    kept = [
        line for line in brief.splitlines() if line.split("=")[0].strip() not in ("then", "tie", "how_many")
    ]
    at = kept.index("[ranked]") + 1
    return "\n".join([f"library = '{library}'", *kept[:at], f"how_many = {HOW_MANY}", *kept[at:], ""])


if __name__ == "__main__":
    write(Path(sys.argv[1]), [int(size) for size in sys.argv[2].split(",")])
