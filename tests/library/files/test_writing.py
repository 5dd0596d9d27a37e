"""The one writer under every fault of a disk and every signal: files are whole or as they were, and no rest stays.

The oracle is the folder itself: after whatever happens it holds the old bytes or the new ones, and nothing else.
"""

from __future__ import annotations

import errno
import os
import re
import signal
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest

import optiform
from optiform.faults import BadInput
from optiform.library.adding import copy_starter, starter_folder
from optiform.library.files import writing
from optiform.library.files.writing import append_whole, write_together, write_whole
from optiform.stopping import later

posix = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")

STEPS = ("mkstemp", "write", "fsync", "chmod", "replace")
"""What the writer asks of the system, in order."""


@contextmanager
def at(step, monkeypatch, happen, *, nth=1):
    """Let something happen at the n-th time that the writer takes a step: an error raised, or a signal sent."""
    calls = [0]

    def wrapped(usual):
        def instead(*words, **named):
            calls[0] += 1
            if calls[0] == nth:
                happen(words, usual)
            return usual(*words, **named)

        return instead

    with monkeypatch.context() as patched:
        if step == "write":
            put = writing._put_all
            patched.setattr(writing, "_put_all", wrapped(put))
        else:
            place = {"mkstemp": tempfile, "fsync": os, "chmod": Path, "replace": Path}[step]
            patched.setattr(place, step, wrapped(getattr(place, step)))
        yield calls


def no_room(words, usual):
    raise OSError(errno.ENOSPC, "No space left on device")


def torn(words, usual):
    """Half of the bytes reach the disk, then it is full."""
    stream, content = words
    stream.write(content[: len(content) // 2])
    raise OSError(errno.ENOSPC, "No space left on device")


def ctrl_c(words, usual):
    os.kill(os.getpid(), signal.SIGINT)


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("there", [False, True])
def test_a_fault_at_any_step_leaves_the_file_as_it_was(tmp_path, monkeypatch, step, there):
    if there:
        (tmp_path / "a.txt").write_bytes(b"old")
    before = contents(tmp_path)
    with at(step, monkeypatch, torn if step == "write" else no_room) as calls:
        with pytest.raises(BadInput, match=r"a\.txt.*cannot be written \(No space left on device\)"):
            write_whole(tmp_path / "a.txt", b"new" * 1000)
        assert calls[0] >= 1
    assert contents(tmp_path) == before


@posix
@pytest.mark.parametrize("step", STEPS)
def test_a_ctrl_c_at_any_step_waits_until_the_file_is_whole_and_then_counts(tmp_path, monkeypatch, step):
    (tmp_path / "a.txt").write_bytes(b"old")
    with at(step, monkeypatch, ctrl_c), pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.txt", b"new")
    assert contents(tmp_path) == {"a.txt": b"new"}
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@posix
def test_a_signal_waits_until_the_work_is_done_and_is_seen_meanwhile():
    done = []
    with pytest.raises(KeyboardInterrupt), later() as came:
        ctrl_c((), None)
        done.append(came.is_set())
    assert done == [True]


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("nth", [1, 2, 3])
def test_files_of_a_library_are_all_changed_or_none(tmp_path, monkeypatch, step, nth):
    """Otherwise composition.csv would name a material that materials.csv does not have."""
    names = ("substances.csv", "composition.csv", "materials.csv")
    for name in names[1:]:
        (tmp_path / name).write_bytes(b"old " + name.encode())
    before = contents(tmp_path)
    new = {tmp_path / name: b"new " + name.encode() for name in names}
    with at(step, monkeypatch, torn if step == "write" else no_room, nth=nth), pytest.raises(BadInput):
        write_together(new)
    assert contents(tmp_path) == before
    write_together(new)
    assert contents(tmp_path) == {path.name: content for path, content in new.items()}


@posix
@pytest.mark.parametrize("nth", [1, 2])
def test_a_ctrl_c_between_two_files_of_a_library_leaves_all_of_them_changed(tmp_path, monkeypatch, nth):
    new = {tmp_path / "composition.csv": b"new", tmp_path / "materials.csv": b"new"}
    for path in new:
        path.write_bytes(b"old")
    with at("replace", monkeypatch, ctrl_c, nth=nth), pytest.raises(KeyboardInterrupt):
        write_together(new)
    assert set(contents(tmp_path).values()) == {b"new"}


def test_a_full_disk_leaves_no_half_of_a_copied_library(tmp_path, monkeypatch):
    with at("write", monkeypatch, torn, nth=3), pytest.raises(BadInput, match="No space left"):
        copy_starter(tmp_path / "mine")
    assert contents(tmp_path / "mine") == {}
    copied = {path.name for path in copy_starter(tmp_path / "mine")}
    assert copied <= {path.name for path in starter_folder().iterdir()}


def test_a_file_that_appears_meanwhile_is_not_replaced(tmp_path, monkeypatch):
    def somebody(words, usual):
        (tmp_path / "b.txt").write_bytes(b"somebody else's")

    with at("fsync", monkeypatch, somebody), pytest.raises(BadInput, match=r"b\.txt.*exists already"):
        write_together({tmp_path / "a.txt": b"a", tmp_path / "b.txt": b"b"}, replace=False)
    assert contents(tmp_path) == {"b.txt": b"somebody else's"}


@posix
def test_a_link_stays_a_link_to_what_was_replaced(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "a.txt").write_bytes(b"old")
    (tmp_path / "a.txt").symlink_to(tmp_path / "real" / "a.txt")
    write_whole(tmp_path / "a.txt", b"new")
    assert (tmp_path / "a.txt").is_symlink()
    assert contents(tmp_path / "real") == {"a.txt": b"new"}


def test_a_name_as_long_as_a_name_may_be_is_written(tmp_path):
    """255 bytes on the usual file systems: the file beside it has a short name of its own."""
    write_whole(tmp_path / ("n" * 255), b"new")
    assert contents(tmp_path) == {"n" * 255: b"new"}


@pytest.mark.parametrize("step", ["write", "fsync"])
def test_a_line_is_appended_whole_or_not_at_all(tmp_path, monkeypatch, step):
    file = tmp_path / "journal"
    file.write_bytes(b"first\n")
    with file.open("r+b", buffering=0) as stream:
        stream.seek(0, os.SEEK_END)
        with (
            at(step, monkeypatch, torn if step == "write" else no_room),
            pytest.raises(OSError, match="No space"),
        ):
            append_whole(stream, b"a second line\n")
        assert file.read_bytes() == b"first\n"
        append_whole(stream, b"second\n")
    assert file.read_bytes() == b"first\nsecond\n"


def test_nothing_else_in_the_program_opens_a_file_to_write():
    """Read from the sources: only the writer, the journal that appends through it, and a bench's copies to read first.

    Those stand in a temporary folder, and are gone once they were read.
    """
    package = Path(optiform.__file__).parent
    opens = re.compile(r'write_text\(|write_bytes\(|"wb"|"a"|\.to_csv\((?!\))|to_excel\(|O_CREAT|mkstemp\(')
    found = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if opens.search(path.read_text(encoding="utf-8"))
    }
    assert found == {"library/files/writing.py", "answers/recost/journal.py", "trials/adding.py"}
