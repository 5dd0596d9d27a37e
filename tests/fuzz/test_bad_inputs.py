"""Bad inputs by kinds: each is refused with a fault that names it, never a failure of ours, never in silence.

The normal run tries each kind a few times. ``OPTIFORM_FUZZ=1000 pytest tests/fuzz/test_bad_inputs.py -s`` tries a
thousand, holds each against ten seconds and 1 GB as well, and prints the figures that the docs show.
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections import Counter
from pathlib import Path
from random import Random

import pytest

from tests.fuzz.kinds import KINDS, Make
from tests.fuzz.workshop import Run, run, write, wrong_with

THOUSAND = int(os.environ.get("OPTIFORM_FUZZ", "0"))
TRIES = 4


def tried(kind: Make, seed: int, *, timed: bool) -> tuple[Run, list[str]]:
    """Run one input of a kind in a folder of its own; return what was wrong with the run."""
    case = kind(Random(f"{kind.__name__} {seed}"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, case.files)
        if case.prepare is not None:
            case.prepare(folder)
        done = run(folder, list(case.arguments))
    found = wrong_with(done, refused=case.refused, names=case.names, timed=timed)
    if kind.__name__ == "any_title" and done.code == 0:
        assert tomllib.loads(done.out)["title"]
    if found:
        found.append(f"{kind.__name__} {seed}: {case.arguments!r:.200} {done.err[-300:]!r}")
    return done, found


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_each_kind_is_told(kind: Make) -> None:
    tries = 1 if kind.__name__ in ("many_rows", "too_large") else TRIES
    assert not [found for seed in range(tries) for found in tried(kind, seed, timed=False)[1]]


@pytest.mark.skipif(not THOUSAND, reason="OPTIFORM_FUZZ says how many inputs are tried")
def test_a_thousand() -> None:
    codes: Counter[tuple[str, int]] = Counter()
    slowest: dict[str, float] = {}
    wrong, most = [], 0.0
    for number in range(THOUSAND):
        kind = KINDS[number % len(KINDS)]
        done, found = tried(kind, number // len(KINDS), timed=True)
        codes[kind.__name__, done.code] += 1
        slowest[kind.__name__] = max(slowest.get(kind.__name__, 0.0), done.seconds)
        most = max(most, done.megabytes)
        if found:
            wrong.append(found)
            print("\n   ".join(["WRONG", *found]), flush=True)
    print(f"{THOUSAND} inputs, {len(wrong)} wrong, at most {most:.0f} MB")
    for kind in KINDS:
        told = {code: n for (name, code), n in sorted(codes.items()) if name == kind.__name__}
        print(f"| {kind.__doc__} | {sum(told.values())} | {told} | {slowest.get(kind.__name__, 0.0):.1f} s |")
    assert not wrong
