"""Two hundred moves of each shipped wash, each answer timed beside a fresh `check` in the same process; opt-in.

Asked of the medians and of 95 % of the moves: at most 0.35 of a `check` for gentle ones, at most one for any.

The processor time of both is compared: what else the machine does is in neither. What was made before the first move
is taken out of garbage collection: one that falls into either of the two would be timed with it.
"""

from __future__ import annotations

import gc
import os
import random
import time

import numpy as np
import pytest

from optiform.answers.check import check
from optiform.answers.live import LiveBrief
from optiform.faults import BadInput
from tests.answers.live.moves import anything, gentle
from tests.answers.live.test_live_brief import WASHES
from tests.asked import problem

pytestmark = pytest.mark.benchmark
MOVES = int(os.environ.get("OPTIFORM_MOVES", "200"))
ANEW = 10
"""Moves after which a walk starts anew from the brief as it is shipped."""
MOST = {"gentle": 0.35, "any": 1.0}


@pytest.mark.parametrize("name", WASHES)
@pytest.mark.parametrize("kind", MOST)
def test_a_moved_brief_takes_less_than_a_fresh_check(name, kind, capsys):
    brief, draw = problem(name), random.Random(f"{name} {kind}")
    drawn = gentle if kind == "gentle" else anything
    check(brief)
    live = LiveBrief(brief)
    live.proven()
    gc.collect()
    gc.freeze()
    parts, provisional = [], []
    while len(parts) < MOVES:
        began = time.process_time()
        try:
            live.move(drawn(live.brief, draw))
        except BadInput:
            continue
        moved = time.process_time()
        proven = live.proven()
        ended = time.process_time()
        fresh = check(live.brief)
        parts.append((ended - began) / (time.process_time() - ended))
        provisional.append(1e3 * (moved - began))
        assert proven.status == fresh.status
        if fresh.formulas:
            assert proven.aim == pytest.approx(fresh.formulas[0].aim, abs=1e-6)
        if proven.status != "solved" or len(parts) % ANEW == 0:
            live = LiveBrief(brief)
            live.proven()
    gc.unfreeze()
    median, most = np.percentile(parts, [50, 95])
    with capsys.disabled():
        print(
            f"\n{name}, {kind}: part of a check {median:.2f}, 95 % {most:.2f}, most {max(parts):.2f}; "
            f"provisional {np.median(provisional):.1f} ms, 95 % {np.percentile(provisional, 95):.1f} ms"
        )
    assert median <= MOST[kind] and most <= MOST[kind]
