"""Recosting on a real Dask scheduler with two worker processes on the loopback, one of them killed mid-way."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys

import pytest

from optiform.answers.recost import recost
from optiform.faults import BadInput
from tests.answers.recost.products import folder, prices

pytest.importorskip("distributed", reason="Dask is an optional extra")
pytestmark = pytest.mark.filterwarnings("ignore")


def start(*words: str) -> subprocess.Popen[str]:
    quiet = {**os.environ, "PYTHONWARNINGS": "ignore"}
    return subprocess.Popen(
        [sys.executable, "-m", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env=quiet,
    )


@pytest.fixture
def cluster(tmp_path):
    """Yield the address of a scheduler, its two workers and its own process."""
    scheduler = start(
        "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"
    )
    workers: list[subprocess.Popen[str]] = []
    try:
        assert scheduler.stderr is not None
        address = None
        for line in scheduler.stderr:
            match = re.search(r"Scheduler at:\s*(tcp://\S+)", line)
            if match:
                address = match.group(1)
                break
        assert address is not None
        for number in range(2):
            words = (
                "--nthreads",
                "1",
                "--no-dashboard",
                "--no-nanny",
                "--local-directory",
                str(tmp_path / f"w{number}"),
            )
            workers.append(start("distributed.cli.dask_worker", address, "--host", "127.0.0.1", *words))
        yield address, workers, scheduler
    finally:
        for process in (*workers, scheduler):
            process.kill()
        for process in (*workers, scheduler):
            process.communicate()


def test_nothing_is_lost_and_nothing_comes_twice_when_a_worker_dies(cluster, tmp_path):
    address, workers, _ = cluster
    from distributed import Client

    with Client(address, timeout="30s", set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)
    root = folder(tmp_path / "products", 60)
    new, journal, told = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", []

    def watch(done: int, total: int, name: str) -> None:
        told.append(name)
        if len(told) == 10:
            os.kill(workers[0].pid, signal.SIGKILL)

    results = recost(root, new, library=root / "library", scheduler=address, journal=journal, progress=watch)
    assert results == recost(root, new, library=root / "library")
    assert len(told) == len(set(told)) == 61
    keys = [json.loads(line)["key"] for line in journal.read_bytes().splitlines()]
    assert len(keys) == len(set(keys)) == 61
    assert workers[0].wait(timeout=60) == -signal.SIGKILL
    assert workers[1].poll() is None


def test_a_scheduler_that_dies_leaves_what_was_found_and_a_run_that_goes_on(cluster, tmp_path):
    address, _, scheduler = cluster
    root = folder(tmp_path / "products", 60)
    new, journal, told = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", []

    def watch(done: int, total: int, name: str) -> None:
        told.append(name)
        if len(told) == 10:
            scheduler.kill()

    results = recost(root, new, library=root / "library", scheduler=address, journal=journal, progress=watch)
    failed = {result.name for result in results if result.outcome == "failed"}
    assert len(results) == len(set(told)) == 61
    assert 1 <= len(failed) <= 51
    told.clear()
    again = recost(
        root, new, library=root / "library", journal=journal, progress=lambda *step: told.append(step[2])
    )
    assert set(told) == failed
    assert again == recost(root, new, library=root / "library")


@pytest.mark.parametrize("moment", ["scatter", "submit", "result"])
def test_a_scheduler_may_die_at_any_moment(cluster, tmp_path, monkeypatch, moment):
    """While libraries go out, while tasks do, and between a result that is ready and its handing over."""
    import distributed

    address, _, scheduler = cluster
    root = folder(tmp_path / "products", 12)
    new, journal, calls = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", []
    place = distributed.Future if moment == "result" else distributed.Client
    usual = getattr(place, moment)

    def dying(*words, **named):
        calls.append(moment)
        if len(calls) == (1 if moment == "scatter" else 4):
            scheduler.kill()
            scheduler.wait()
        return usual(*words, **named)

    monkeypatch.setattr(place, moment, dying)
    results = recost(root, new, library=root / "library", scheduler=address, journal=journal)
    monkeypatch.undo()
    whole = recost(root, new, library=root / "library")
    assert [result.name for result in results] == [result.name for result in whole]
    known = [result for result in results if result.outcome != "failed"]
    assert len(known) < len(whole)
    assert all(result in whole for result in known)
    assert recost(root, new, library=root / "library", journal=journal) == whole


def test_what_comes_back_is_read_as_text_and_never_believed_to_be_another_product(tmp_path):
    from optiform.answers.recost import Task, cluster
    from optiform.answers.recost.as_text import to_text
    from optiform.answers.recost.one import Recosted

    class Ready:
        status = "finished"

        def __init__(self, back):
            self.back = back

        def result(self):
            return self.back

    task, right = Task("k", "a.toml", "l"), Recosted("k", "a.toml", "brief", "kept", cost_before=1.0)
    assert cluster._result(Ready(to_text(right)), task) == right
    other = to_text(Recosted("other", "a.toml", "brief", "kept"))
    wrong = (right, b"", "", "{}", "[]", "1e999", other, to_text(right).replace("kept", "great"), other[:-9])
    for back in (
        *wrong,
        to_text(right).replace("1.0", '"1"'),
        to_text(right).replace('"saving"', '"savings"'),
    ):
        assert cluster._result(Ready(back), task).outcome == "failed", back


def test_a_scheduler_without_workers_is_bad_input(tmp_path, monkeypatch):
    from distributed import LocalCluster

    from optiform.answers.recost import cluster as module

    monkeypatch.setattr(module, "PATIENCE", 1)
    root = folder(tmp_path / "products", 1)
    with (
        LocalCluster(n_workers=0, dashboard_address=None, host="127.0.0.1") as lonely,
        pytest.raises(BadInput, match="has no workers"),
    ):
        recost(
            root,
            prices(root, glycerin=2.0),
            library=root / "library",
            scheduler=lonely.scheduler_address,
        )


def test_no_scheduler_is_bad_input(tmp_path, monkeypatch):
    from optiform.answers.recost import cluster as module

    monkeypatch.setattr(module, "PATIENCE", 1)
    root = folder(tmp_path / "products", 1)
    with pytest.raises(BadInput, match="no scheduler answers"):
        recost(root, prices(root, glycerin=2.0), library=root / "library", scheduler="tcp://127.0.0.1:9")
