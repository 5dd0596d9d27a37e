"""How long the short commands take to start, against importing what they are built on."""

from __future__ import annotations

from tests.benchmarks.children import ROOT, medians

IMPORTS = "the imports alone"
COMMANDS = {
    IMPORTS: ("python", "-c", "import pulp, pydantic, typer, highspy"),
    "optiform -h": ("python", "-m", "optiform", "-h"),
    "optiform library show water": ("python", "-m", "optiform", "library", "show", "water"),
    "optiform check": (
        "python",
        "-m",
        "optiform",
        "check",
        str(ROOT / "problems" / "nettle-gel-oily-skin" / "brief.toml"),
    ),
}


def start_up() -> dict[str, float]:
    """Return the median processor time of each command, whole process [s]."""
    return medians(COMMANDS)
