"""What each question costs on each shipped brief, as a multiple of importing what the program is built on.

Processor time of whole processes: it says the same on a fast machine and on a slow one, quiet or busy.
"""

from __future__ import annotations

from tests.benchmarks.children import ROOT, done, run
from tests.benchmarks.start_up import COMMANDS, IMPORTS

QUESTIONS = {
    "check": ("check",),
    "design": ("design",),
    "trade-off, a mean": ("tradeoff", "--against", "mildness"),
    "trade-off, a total": ("tradeoff", "--against", "active matter"),
}
BARS = {"check": 3.5, "design": 5.0, "trade-off, a mean": 25.0, "trade-off, a total": 60.0}
CONFLICT, CONFLICT_BAR = "too-many-wishes", 9.0
"""The brief whose design is the report of a conflict."""

ANSWERS = (0, 3)
BRIEFS = sorted((ROOT / "problems").glob("*/brief.toml"))


def multiples(limit: float) -> dict[str, dict[str, float | None]]:
    """Return by brief and question how many times the bare imports it takes; None where nothing is to be answered.

    Parameters
    ----------
    limit : float  [s]
        A run that takes longer is ended, and its multiple infinite.
    """
    bare = min(done(COMMANDS[IMPORTS]).processor for _ in range(3))
    found: dict[str, dict[str, float | None]] = {}
    for brief in BRIEFS:
        own = found.setdefault(brief.parent.name, {})
        for name, words in QUESTIONS.items():
            ran = run(("python", "-m", "optiform", words[0], str(brief), *words[1:]), limit)
            answered = ran.code in ANSWERS
            own[name] = float("inf") if ran.capped else ran.processor / bare if answered else None
    return found
