"""What goes wrong in a worker, with a journal, or with the program itself stops no other product."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from pathlib import Path

import pytest

from optiform.answers.recost import gather, one
from optiform.answers.recost.journal import Journal
from optiform.answers.recost.processes import on_processes
from optiform.faults import BadInput
from optiform.library.overrides import read_prices
from tests.answers.recost.products import folder, prices, recost

posix = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and locks")


class Deadly:
    """Stands for a formula on which a process dies."""

    lines = property(lambda self: os._exit(9))


@posix
def test_a_worker_that_is_killed_loses_nothing_and_others_take_its_place(tmp_path):
    root = folder(tmp_path / "products", 40)
    new, told = prices(root, nettle_soap=5.0), []

    def watch(done: int, total: int, name: str) -> None:
        told.append(name)
        if len(told) in (5, 25):
            os.kill(multiprocessing.active_children()[0].pid, signal.SIGKILL)

    results = recost(root, new, library=root / "library", workers=2, progress=watch)
    assert len(told) == len(set(told)) == 41
    assert results == recost(root, new, library=root / "library")
    assert multiprocessing.active_children() == []


def test_a_product_on_which_its_process_dies_stops_no_other(tmp_path):
    root = folder(tmp_path / "products", 6)
    new = read_prices(prices(root, nettle_soap=5.0), None)
    found = gather(root, new, root / "library")
    deadly = one.Task("deadly", "deadly.csv", found.tasks[0].library, formula=Deadly())
    tasks = [found.tasks[0], deadly, *found.tasks[1:]]
    results = list(on_processes(tasks, found.libraries, new, 2))
    assert sorted(result.key for result in results) == sorted(task.key for task in tasks)
    assert [result.name for result in results if result.outcome == "failed"] == ["deadly.csv"]


def test_a_failure_of_ours_stops_no_other_and_is_tried_again(tmp_path, monkeypatch):
    root = folder(tmp_path / "products", 3)
    new, journal = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl"
    usual = one.first_listed

    def failing(brief, *more):
        if brief.title == "wash 1":
            raise KeyError("lost")
        return usual(brief, *more)

    monkeypatch.setattr(one, "first_listed", failing)
    outcomes = {r.name: r.outcome for r in recost(root, new, library=root / "library", journal=journal)}
    assert outcomes.pop("wash-0001.toml") == "failed"
    assert set(outcomes.values()) <= {"kept", "adjusted", "changed"}
    monkeypatch.undo()
    assert recost(root, new, library=root / "library", journal=journal) == recost(
        root, new, library=root / "library"
    )


def test_a_journal_is_not_believed_when_a_baseline_changed(tmp_path):
    """The brief is the same file; what it starts from is another one."""
    root = folder(tmp_path / "products", 1)
    text = 'title = "as today"\nlibrary = "library"\nlaw = "none"\n[baseline]\nformula = "today.csv"\n'
    (root / "as-today.toml").write_text(text + 'keep = ["nettle-soap"]\n', encoding="utf-8")
    new, journal = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl"
    recost(root, new, library=root / "library", journal=journal)
    (root / "today.csv").write_text("material,percent\nnettle-soap,30\nwater,q.s.\n", encoding="utf-8")
    again = recost(root, new, library=root / "library", journal=journal)
    assert again == recost(root, new, library=root / "library")
    assert next(r for r in again if r.name == "as-today.toml").cost_same == pytest.approx(1.5)


@pytest.mark.parametrize("content", ["precious", '{"title": "mine"}', "precious\n"])
def test_a_file_of_the_user_is_never_taken_for_a_journal(tmp_path, content):
    file = tmp_path / "notes.txt"
    file.write_text(content)
    with pytest.raises(BadInput, match="no line of a recost journal"):
        Journal(file)
    assert file.read_text() == content


@posix
@pytest.mark.parametrize("place", [".", "nowhere/j.jsonl", "/dev/null"])
def test_a_journal_that_cannot_be_is_refused_before_any_work(tmp_path, place):
    root, told = folder(tmp_path / "products", 1), []
    with pytest.raises(BadInput, match="--journal"):
        recost(
            root,
            prices(root, nettle_soap=5.0),
            library=root / "library",
            journal=tmp_path / place,
            progress=lambda *step: told.append(step),
        )
    assert told == []


@posix
def test_two_runs_do_not_write_one_journal(tmp_path):
    with Journal(tmp_path / "j.jsonl"), pytest.raises(BadInput, match="another run is writing"):
        Journal(tmp_path / "j.jsonl")
    with Journal(tmp_path / "j.jsonl"):
        pass


def test_a_full_disk_leaves_the_lines_before_it(tmp_path, monkeypatch):
    root = folder(tmp_path / "products", 4)
    new, journal = prices(root, nettle_soap=5.0), tmp_path / "journal.jsonl"
    usual, left = os.fsync, [2]

    def full(descriptor):
        left[0] -= 1
        if left[0] < 0:
            raise OSError(28, "No space left on device")
        usual(descriptor)

    monkeypatch.setattr("optiform.answers.recost.journal.os.fsync", full)
    with pytest.raises(BadInput, match="No space left"):
        recost(root, new, library=root / "library", journal=journal)
    assert journal.read_bytes().count(b"\n") == 2
    assert journal.read_bytes().endswith(b"\n")
    monkeypatch.undo()
    assert len(recost(root, new, library=root / "library", journal=journal)) == 5


@pytest.mark.skipif(sys.platform != "linux", reason="names of any bytes")
def test_a_file_whose_name_is_no_text_is_a_fault(tmp_path):
    root = folder(tmp_path / "products", 1)
    Path(os.fsdecode(bytes(root) + b"/w\xff.toml")).write_text('title = "x"\n')
    found = recost(root, prices(root, glycerin=2.0), library=root / "library")
    assert [(r.name, r.outcome) for r in found if r.outcome == "fault"] == [("w?.toml", "fault")]


def test_a_folder_that_cannot_be_read_is_not_passed_over(tmp_path, monkeypatch):
    root = folder(tmp_path / "products", 1)
    (root / "closed").mkdir()
    usual = os.scandir

    def refusing(place):
        if str(place).endswith("closed"):
            raise PermissionError(13, "Permission denied", str(place))
        return usual(place)

    monkeypatch.setattr(os, "scandir", refusing)
    found = recost(root, prices(root, glycerin=2.0), library=root / "library")
    assert [r.faults for r in found if r.outcome == "fault"] == [
        ("closed: this folder cannot be read (Permission denied)",)
    ]


def test_an_empty_price_list_is_bad_input(tmp_path):
    root = folder(tmp_path / "products", 1)
    with pytest.raises(BadInput, match="no prices"):
        recost(root, prices(root), library=root / "library")
