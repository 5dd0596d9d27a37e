"""The measuring itself: children are ended in time, memory is theirs, and tables say what was run."""

from __future__ import annotations

import resource
import time

import pytest

from tests.benchmarks import report
from tests.benchmarks.children import Failed, Run, done, run
from tests.benchmarks.instances import plainer
from tests.benchmarks.speed import AGREE, SIZES, Timed, plainly, ways

DEAF = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(60)"
PARENT = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {DEAF!r}])"


def test_a_child_that_does_not_listen_is_ended_with_its_own_children():
    begun = time.perf_counter()
    found = run(("python", "-c", PARENT), limit=1.0)
    assert found.capped
    assert 1.0 <= found.seconds <= time.perf_counter() - begun < 10.0


def own_peak():
    """Return the most that this process held at once, below which no child's figure can lie  [bytes]."""
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def test_memory_and_time_are_those_of_the_child():
    small = done(("python", "-c", "pass"))
    large = done(("python", "-c", "kept = bytearray(b'x') * 300_000_000"))
    assert 300e6 < large.memory < max(own_peak(), 400e6) * 1.1
    assert small.memory < max(own_peak(), 100e6) * 1.1
    assert not large.capped


def test_a_child_that_fails_is_told():
    with pytest.raises(Failed, match="code 7"):
        done(("python", "-c", "raise SystemExit(7)"))


def test_another_answer_fails_loudly(monkeypatch):
    told = Run(1.0, 1.0, 1, 0, False, '{"aims": [1.5]}', "")
    monkeypatch.setattr("tests.benchmarks.speed.run", lambda words, limit: told)
    assert plainly("highs", report.CPUS, 0.1, [1.5 * (1 + AGREE / 2), 2.0], 1.0) is told
    with pytest.raises(Failed, match="another answer"):
        plainly("highs", report.CPUS, 0.1, [1.5 * (1 + 2 * AGREE), 2.0], 1.0)
    with pytest.raises(Failed, match="another answer"):
        plainly("ten", report.CPUS, 0.1, [1.5, 2.0], 1.0)


def test_a_run_that_was_ended_is_written_as_more_than_its_limit():
    ours = Run(1.0, 1.25, 90 * 2**20, 0, False, "", "")
    plain = {
        "highs": Run(120.1, 1.0, 500 * 2**20, -9, True, "", ""),
        "cbc": Run(1.0, 1.0, 0, report.NOT_HERE, False, "", ""),
    }
    *_, row = report.designs([Timed("nettle", 50_000, ours, plain)], 120.0).splitlines()
    assert row == "| nettle | 50,000 | 1.25 s (90 MiB) | > 120 s | not here |  |  |"


def test_only_what_stands_between_the_marks_is_written_anew(tmp_path):
    page = tmp_path / "page.md"
    page.write_text(f"before\n{report.BEGIN}\nold\n{report.END}\nafter\n", encoding="utf-8")
    for text in ("new", "newer"):
        report.put(page, text)
        assert (
            page.read_text(encoding="utf-8") == f"before\n{report.BEGIN}\n\n{text}\n\n{report.END}\nafter\n"
        )


def test_the_brief_that_is_timed_has_no_tie_break(tmp_path):
    text = '[aim]\nminimise = "cost"\nthen = ["ingredients"]\ntie = 0.01\n\n[ranked]\nhow_many = 3\n'
    assert plainer(text, tmp_path) == (
        f"library = '{tmp_path}'\n[aim]\nminimise = \"cost\"\n\n[ranked]\nhow_many = 10\n"
    )


def test_every_size_has_a_plain_run_beside_it():
    assert all("highs" in ways("nettle", size) for size in SIZES)
