"""Times optiform against the plain way, and writes the tables into docs/explanation/speed.md.

``python -m tests.benchmarks.speed`` runs everything; ``-h`` tells how to run less of it. Each run is a
process of its own. Where two ways disagree, the whole run fails and the page stays as it is.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks import multiples, report
from tests.benchmarks.children import ROOT, Failed, Run, done, run
from tests.benchmarks.instances import PROBLEMS, place
from tests.benchmarks.start_up import start_up

SIZES = (50, 500, 5000, 50_000)
SECONDS = 120.0
AGREE = 1e-6
"""Two aims this near, as a part of them, are the same answer."""
AT_ONE_STRENGTH = 1e-3
"""The plain way lists ten at one ionic strength, optiform each at its own: that moves an aim by less than this part."""

EVERY_PROBLEM = (500, 5000)
"""Sizes at which all three briefs are timed; at the others the first one stands for all."""

PLAIN = ("highs", "cbc", "scipy")
LARGEST_FOR_ALL = 500
"""Libraries up to which every plain solver is tried on the first brief; elsewhere the two through PuLP are."""

TEN_FOR_ALL = 500
"""Libraries up to which ten formulas are asked of the plain way."""

START = 0.1
"""Ionic strength of a plain run where optiform was ended and told none, mol per kg of water."""

PARTS = ("design", "start-up", "re-solves", "multiples")
PAGE = ROOT / "docs" / "explanation" / "speed.md"


@dataclass(frozen=True)
class Timed:
    """One brief over one library: what each way came to.

    Attributes
    ----------
    materials : int
        In the library.
    ours : Run
        Ten formulas, proven.
    plain : dict of str to Run
        By the name of the way; those that were not tried are absent.
    """

    problem: str
    materials: int
    ours: Run
    plain: dict[str, Run]


def ways(problem: str, size: int) -> tuple[str, ...]:
    """Return the plain ways that are tried at a size."""
    most = problem == next(iter(PROBLEMS)) and size <= LARGEST_FOR_ALL
    each = PLAIN if most else PLAIN[:2]
    return (*each, "ten") if most or size <= TEN_FOR_ALL else each


def problems(size: int) -> tuple[str, ...]:
    """Return the briefs that are timed at a size."""
    return tuple(PROBLEMS) if size in EVERY_PROBLEM else tuple(PROBLEMS)[:1]


def designed(brief: Path, limit: float = SECONDS) -> tuple[Run, list[float], float]:
    """Return how `optiform design` fared, its aims and the ionic strength of its first formula.

    There are no aims where it was ended.

    Raises
    ------
    Failed
        If it fails, or its list is not proven.
    """
    ours = run(("python", "-m", "optiform", "design", "--format", "json", str(brief)), limit)
    if ours.capped:
        return ours, [], START
    if ours.code != 0:
        raise Failed(f"optiform design {brief}: code {ours.code}\n{ours.err[-2000:]}")
    answer = json.loads(ours.out)
    if not answer["proven"] or not answer["formulas"]:
        raise Failed(f"{brief}: the list is not proven")
    aims = [formula["aim"] for formula in answer["formulas"]]
    return ours, aims, answer["formulas"][0]["acidity"]["ionic_strength"]


def plainly(way: str, brief: Path, strength: float, aims: list[float], limit: float) -> Run:
    """Return how a plain way fared on the same brief; without aims there is nothing to hold it against.

    Raises
    ------
    Failed
        If it ends with another answer than optiform, or with none.
    """
    words = ("python", "-m", "tests.benchmarks.plain", way, str(brief), repr(strength))
    found = run(words, limit)
    if found.capped or found.code == report.NOT_HERE:
        return found
    if found.code != 0:
        raise Failed(f"{' '.join(words)}: code {found.code}\n{found.err[-2000:]}")
    if not aims:
        return found
    theirs = json.loads(found.out.splitlines()[-1])["aims"]
    ours = aims if way == "ten" else aims[:1]
    near = [AGREE, *[AT_ONE_STRENGTH] * (len(ours) - 1)]
    if len(theirs) != len(ours) or any(
        abs(a - b) > part * abs(a) for a, b, part in zip(ours, theirs, near, strict=True)
    ):
        raise Failed(f"{way} on {brief.name} came to another answer: {theirs}, optiform to {ours}")
    return found


def timed(folder: Path, problem: str, size: int, limit: float) -> Timed:
    """Time one brief over one library every way."""
    brief = place(folder, problem, size)
    ours, aims, strength = designed(brief, limit)
    plain = {way: plainly(way, brief, strength, aims, limit) for way in ways(problem, size)}
    with (folder / f"library-{size}" / "materials.csv").open(encoding="utf-8") as rows:
        materials = sum(1 for _ in rows) - 1
    return Timed(problem, materials, ours, plain)


def main() -> None:
    """Run what is asked for, print it, and write it into the page when everything was run."""
    asked = arguments()
    only = asked.only or (*PARTS[1:], *PROBLEMS)
    written: list[str] = []
    names = [name for name in PROBLEMS if name in only or "design" in only]
    if names:
        written.append(report.designs(list(_designs(asked.sizes, names, asked.seconds)), asked.seconds))
    if "re-solves" in only:
        measured = done(("python", "-m", "tests.benchmarks.resolves"))
        written.append(report.resolves(json.loads(measured.out.splitlines()[-1])))
    if "start-up" in only:
        written.append(report.start_up(start_up()))
    if "multiples" in only:
        conflict = (multiples.CONFLICT, multiples.CONFLICT_BAR)
        written.append(report.multiples(multiples.multiples(asked.seconds), multiples.BARS, conflict))
    text = "\n\n".join([report.machine(), *written])
    print(text)
    if asked.only or asked.dry:
        print("\nThe page stays as it is.")
    else:
        report.put(PAGE, text)


def _designs(sizes: list[int], names: list[str], limit: float):
    """Yield each brief over each library, told as it is done."""
    with tempfile.TemporaryDirectory(prefix="optiform-speed-") as kept:
        folder = Path(kept)
        done(("python", "-m", "tests.benchmarks.instances", kept, ",".join(map(str, sizes))), 300.0)
        for size in sizes:
            for problem in problems(size):
                if problem in names:
                    found = timed(folder, problem, size, limit)
                    print(report.line(found, limit), flush=True)
                    yield found


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.speed", description=__doc__)
    parser.add_argument(
        "--sizes",
        type=lambda text: [int(word) for word in text.split(",")],
        default=list(SIZES),
        metavar="50,500",
        help="materials in the libraries (default: %(default)s)",
    )
    parser.add_argument(
        "--seconds",
        type=float,
        default=SECONDS,
        metavar="S",
        help="end a run after so long (%(default)s)",
    )
    parser.add_argument(
        "--only",
        action="append",
        choices=(*PARTS, *PROBLEMS),
        help="only this part or brief; may be repeated; the page is not written then",
    )
    parser.add_argument("--dry", action="store_true", help="print, but leave the page as it is")
    return parser.parse_args()


if __name__ == "__main__":
    main()
