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
    time.sleep(0.1)
    assert workers[0].poll() is not None and workers[1].poll() is None


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


def test_no_scheduler_is_bad_input(tmp_path):
    root = folder(tmp_path / "products", 1)
    with pytest.raises(BadInput, match="no scheduler answers"):
        recost(root, prices(root, glycerin=2.0), library=root / "library", scheduler="tcp://127.0.0.1:9")
