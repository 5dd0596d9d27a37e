"""Recosting on a real Dask scheduler with two worker processes on the loopback, one of them killed mid-way."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time

import pytest

from optiform.answers.recost import cluster as module
from optiform.faults import BadInput
from tests.answers.recost.products import folder, prices, recost

distributed = pytest.importorskip("distributed", reason="Dask is an optional extra")
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


CEILING = 600
"""Seconds after which an event that is waited for counts as one that never comes."""


@pytest.fixture
def cluster(tmp_path, monkeypatch):
    """Yield what starts a scheduler with so many workers: its address, the workers, its own process."""
    monkeypatch.setattr(module, "PATIENCE", 60)
    started: list[subprocess.Popen[str]] = []

    def begin(count: int) -> tuple[str, list[subprocess.Popen[str]], subprocess.Popen[str]]:
        words = ("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        started.append(scheduler := start(*words))
        assert scheduler.stderr is not None
        said = (re.search(r"Scheduler at:\s*(tcp://\S+)", line) for line in scheduler.stderr)
        address = next(match.group(1) for match in said if match)
        alone = ("--host", "127.0.0.1", "--nthreads", "1", "--no-dashboard", "--no-nanny")
        for number in range(count):
            place = ("--local-directory", str(tmp_path / f"w{number}"))
            started.append(start("distributed.cli.dask_worker", address, *alone, *place))
        with distributed.Client(address, timeout=CEILING, set_as_default=False) as client:
            client.wait_for_workers(count, timeout=CEILING)
        return address, started[1:], scheduler

    try:
        yield begin
    finally:
        for process in started:
            process.kill()
        for process in started:
            process.communicate()


def test_nothing_is_lost_and_nothing_comes_twice_when_a_worker_dies(cluster, tmp_path):
    address, workers, _ = cluster(2)
    root = folder(tmp_path / "products", 30)
    new, journal, told = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", []

    def watch(done: int, total: int, name: str) -> None:
        told.append(name)
        if len(told) == 10:
            os.kill(workers[0].pid, signal.SIGKILL)

    results = recost(root, new, library=root / "library", scheduler=address, journal=journal, progress=watch)
    assert results == recost(root, new, library=root / "library")
    assert len(told) == len(set(told)) == 31
    keys = [json.loads(line)["key"] for line in journal.read_bytes().splitlines()]
    assert len(keys) == len(set(keys)) == 31
    assert workers[0].wait(timeout=CEILING) == -signal.SIGKILL
    assert workers[1].poll() is None


def test_a_result_that_dies_with_its_worker_before_it_is_handed_over_is_computed_again(
    cluster, tmp_path, monkeypatch
):
    """The scheduler says that a product is done, and the only worker that holds its result is killed."""
    address, _, _ = cluster(2)
    root = folder(tmp_path / "products", 6)
    new, seen = prices(root, nettle_soap=5.0), []
    usual = module._result

    def late(future, task):
        if not seen:
            client = future.client
            (holder,) = client.who_has([future])[future.key]
            pid = client.run(os.getpid)[holder]
            os.kill(pid, signal.SIGKILL)
            until = time.monotonic() + CEILING
            while future.status == "finished" and time.monotonic() < until:
                time.sleep(0.01)
            seen.append(future.status)
        return usual(future, task)

    monkeypatch.setattr(module, "_result", late)
    results = recost(root, new, library=root / "library", scheduler=address)
    assert seen and seen != ["finished"]
    assert results == recost(root, new, library=root / "library")


@pytest.mark.parametrize("moment", ["scatter", "submit", "result"])
def test_a_scheduler_may_die_at_any_moment(cluster, tmp_path, monkeypatch, moment):
    """While libraries go out, while tasks do, and between a result that is ready and its handing over.

    What was found stays, and the same journal goes on from there.
    """
    address, _, scheduler = cluster(1)
    root = folder(tmp_path / "products", 12)
    new, journal, calls, told = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl", [], []
    place = distributed.Future if moment == "result" else distributed.Client
    usual = getattr(place, moment)

    def dying(asked, *words, **named):
        calls.append(moment)
        if len(calls) == (1 if moment == "scatter" else 4):
            getattr(asked, "client", asked)._timeout = 0.1  # or Dask looks for it as long as we are patient
            scheduler.kill()
            scheduler.wait()
        return usual(asked, *words, **named)

    monkeypatch.setattr(place, moment, dying)
    results = recost(root, new, library=root / "library", scheduler=address, journal=journal)
    monkeypatch.undo()
    whole = recost(root, new, library=root / "library")
    assert [result.name for result in results] == [result.name for result in whole]
    failed = {result.name for result in results if result.outcome == "failed"}
    assert failed and (moment != "result" or len(failed) < len(whole))
    assert all(result in whole for result in results if result.name not in failed)
    again = recost(
        root, new, library=root / "library", journal=journal, progress=lambda *step: told.append(step[2])
    )
    assert again == whole and set(told) == failed


def test_what_comes_back_is_read_as_text_and_never_believed_to_be_another_product(tmp_path):
    from optiform.answers.recost import Task
    from optiform.answers.recost.one import Recosted, to_text

    class Ready:
        status = "finished"

        def __init__(self, back):
            self.back = back

        def result(self):
            return self.back

    task, right = Task("k", "a.toml", "l"), Recosted("k", "a.toml", "brief", "kept", cost_before=1.0)
    assert module._result(Ready(to_text(right)), task) == right
    other = to_text(Recosted("other", "a.toml", "brief", "kept"))
    wrong = (right, b"", "", "{}", "[]", "1e999", other, to_text(right).replace("kept", "great"), other[:-9])
    for back in (
        *wrong,
        to_text(right).replace("1.0", '"1"'),
        to_text(right).replace('"saving"', '"savings"'),
    ):
        assert module._result(Ready(back), task).outcome == "failed", back


def test_a_product_that_loses_its_workers_again_and_again_fails_alone():
    from optiform.answers.recost import Task

    class Killer:
        status = "error"

        def result(self):
            raise RuntimeError("it died on four workers")

    found = module._result(Killer(), Task("k", "a.toml", "l"))
    assert found.outcome == "failed" and found.faults[0].endswith(
        "(lost on the cluster: it died on four workers)"
    )


def test_a_scheduler_without_workers_is_bad_input(tmp_path, monkeypatch):
    usual = distributed.Client.wait_for_workers
    monkeypatch.setattr(
        distributed.Client, "wait_for_workers", lambda *words, timeout: usual(*words, timeout=0.1)
    )
    root = folder(tmp_path / "products", 1)
    with (
        distributed.LocalCluster(n_workers=0, dashboard_address=None, host="127.0.0.1") as lonely,
        pytest.raises(BadInput, match="has no workers"),
    ):
        recost(
            root,
            prices(root, glycerin=2.0),
            library=root / "library",
            scheduler=lonely.scheduler_address,
        )


def test_no_scheduler_is_bad_input(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "PATIENCE", 1)
    root = folder(tmp_path / "products", 1)
    with pytest.raises(BadInput, match="no scheduler answers"):
        recost(root, prices(root, glycerin=2.0), library=root / "library", scheduler="tcp://127.0.0.1:9")
