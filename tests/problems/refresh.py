"""Rewrite expected.json of our own problems from the program's answers of today, on request.

    python -m tests.problems.refresh NAME [NAME ...]
    python -m tests.problems.refresh --all

Look at an answer before it is recorded: what stands in expected.json is what the next change has
to live up to. Problems with a library of their own come from books; what a book prints is never
rewritten.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optiform.answers.design import design
from optiform.brief import load_brief

if TYPE_CHECKING:
    from optiform.answers.model import Answer

PROBLEMS = Path(__file__).parents[2] / "problems"
OURS = sorted(
    path.parent.name for path in PROBLEMS.glob("*/brief.toml") if not (path.parent / "library").exists()
)


def recorded(answer: Answer) -> dict[str, Any]:
    """Return what expected.json says of an answer.

    Raises
    ------
    ValueError
        If the answer is not proven: only what is sure is recorded.
    """
    if not answer.proven or answer.status not in ("solved", "conflict"):
        raise ValueError(f"the answer is {answer.status} and not proven")
    if answer.conflict is not None:
        return {"status": "conflict", "conflict": [r.title for r in answer.conflict.requirements]}
    return {
        "status": "solved",
        "aims": [round(formula.aim, 4) for formula in answer.formulas],
        "within": 0.01,
        "lines": {line.material: round(line.percent, 3) for line in answer.formulas[0].lines},
        "percent_within": 0.02,
    }


def refresh(name: str) -> bool:
    """Rewrite the expected answer of one problem; tell whether it changed."""
    folder = PROBLEMS / name
    file = folder / "expected.json"
    before = file.read_text(encoding="utf-8") if file.exists() else ""
    after = json.dumps(recorded(design(load_brief(folder / "brief.toml"))), indent=2) + "\n"
    file.write_text(after, encoding="utf-8")
    return before != after


def main(arguments: list[str]) -> int:
    """Refresh the problems named, or all of ours with --all; exit 2 on anything else."""
    names = OURS if arguments == ["--all"] else arguments
    unknown = [name for name in names if name not in OURS]
    if not names or unknown:
        print(f"not one of ours: {', '.join(unknown)}" if unknown else "name a problem", file=sys.stderr)
        print(f"known: {', '.join(OURS)}; or --all", file=sys.stderr)
        return 2
    for name in names:
        print(f"{name}: {'rewritten' if refresh(name) else 'as it was'}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
