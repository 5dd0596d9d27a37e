"""From a moved wish to what is painted, in a real browser, beside the answer itself; opt-in.

A MutationObserver inside the page notes when its panel changes. After each move a live brief in this process makes the
same move and the same proof: what the solver takes, without a description, a file, a server or a browser. On a machine
that does other work as well both take longer on the clock than by themselves; how much longer the answer took than its
processor time is divided out.
"""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import numpy as np
import pytest

from optiform import load_brief, starter_brief
from optiform.answers.live import Bound, LiveBrief
from optiform.program import Key
from tests.page.walked import Walk, served

pytestmark = pytest.mark.benchmark
MOVES = int(os.environ.get("OPTIFORM_MOVES", "200"))
WARM = 40
"""Moves after which memory is looked at for the first time."""
MORE = 40.0
"""Milliseconds that the page may take beyond its answer."""
GROWN = 1.15
"""By how much memory may be larger at the end than after the first moves: allocators keep some."""
MILD = '["targets", "mildness", "at_least"]'
MOVED = """([field, value]) => new Promise((done) => {
  const began = performance.now(), told = {};
  const watch = new MutationObserver(() => requestAnimationFrame(() => {
    told.first ??= performance.now() - began;
    if (!document.querySelector("#panel .verdict.solved, #panel .verdict.conflict")) return;
    watch.disconnect();
    told.proven = performance.now() - began;
    done(told);
  }));
  watch.observe(document.querySelector(".beside"), { childList: true, subtree: true });
  const input = document.getElementsByName(field)[0];
  input.value = value;
  input.dispatchEvent(new Event("change", { bubbles: true }));
})"""


def memory(pid: int) -> float:
    """Return the megabytes that a process and its children hold; 0 where the system does not say."""
    held = 0.0
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            told = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        if pid in (int(told["Pid"]), int(told["PPid"])):
            held += float(told.get("VmRSS", "0 kB").split()[0]) / 1024
    return held


def server_of(folder: Path) -> int:
    """Return the number of the process that serves a folder."""
    for place in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = place.read_bytes().split(b"\0")
        except OSError:
            continue
        if str(folder).encode() in words and b"open" in words:
            return int(place.parent.name)
    return 0


def test_a_moved_wish_is_painted_soon_after_its_answer_and_memory_stays_flat(browser, tmp_path, capsys):
    path = tmp_path / "wash.toml"
    path.write_text(starter_brief("oily", "gel"), encoding="utf-8")
    draw, painted, answers, busy, held = random.Random(5), [], [], [], []
    with served(tmp_path) as address:
        walk = Walk(browser, address, tmp_path, "desk")
        walk.go("/brief/wash.toml")
        walk.answered()
        live = LiveBrief(load_brief(path))
        live.proven()
        pid, bound = server_of(tmp_path), 62.0
        for number in range(MOVES):
            bound = round(min(max(bound + draw.uniform(-1.5, 1.5), 55.0), 75.0), 2)
            painted.append(walk.page.evaluate(MOVED, [MILD, str(bound)]))
            began, worked = time.perf_counter(), time.process_time()
            live.move(Bound(Key("targets", ("mildness",), "at_least"), bound))
            first = time.perf_counter()
            live.proven()
            ended, worked = time.perf_counter(), time.process_time() - worked
            answers.append((1e3 * (first - began), 1e3 * (ended - began)))
            busy.append((ended - began) / worked)
            if number in (WARM, MOVES - 1):
                held.append((memory(pid), walk.page.evaluate("performance.memory.usedJSHeapSize") / 1e6))
        walk.close()
    first, proven = (np.array([one[kind] for one in painted]) for kind in ("first", "proven"))
    alone, told, times = np.array(answers), [], max(1.0, float(np.median(busy)))
    for kind, page, answer in (("first", first, alone[:, 0]), ("proven", proven, alone[:, 1])):
        more = (np.median(page) - np.median(answer)) / times
        told.append(more)
        with capsys.disabled():
            print(
                f"\n{kind}: painted {np.median(page):.0f} ms, 95 % {np.percentile(page, 95):.0f}; the answer alone "
                f"{np.median(answer):.0f}, 95 % {np.percentile(answer, 95):.0f}; more {more:.0f} ms on a machine "
                f"that does nothing else (this one was {times:.1f} times slower)"
            )
    with capsys.disabled():
        print(f"memory, MB, of the server and of the page: {held}")
    assert held[-1][0] <= GROWN * held[0][0] + 1.0
    assert max(told) <= MORE
