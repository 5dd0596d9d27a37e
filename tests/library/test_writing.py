"""A Ctrl-C at the worst moment: files are whole or not there, and the Ctrl-C still counts."""

import os
import signal
import sys

import pytest

from optiform.library import adding, writing
from optiform.library.adding import copy_starter, starter_folder
from optiform.library.writing import uninterrupted, write_whole

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")


def press(*_):
    os.kill(os.getpid(), signal.SIGINT)


def test_a_ctrl_c_waits_until_the_work_is_done():
    done = []
    with pytest.raises(KeyboardInterrupt), uninterrupted():
        press()
        done.append("all of it")
    assert done == ["all of it"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.parametrize("when", ["mkstemp", "fsync"])
def test_a_ctrl_c_while_a_file_is_written_leaves_no_rest(tmp_path, monkeypatch, when):
    """Whether the temporary file was just made or is just full."""
    place = writing.tempfile if when == "mkstemp" else writing.os
    usual = getattr(place, when)

    def interrupted(*words, **named):
        found = usual(*words, **named)
        press()
        return found

    monkeypatch.setattr(place, when, interrupted)
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.txt", b"new")
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"a.txt": "new"}


def test_a_ctrl_c_between_two_files_of_a_library_leaves_all_of_them_changed(tmp_path, monkeypatch):
    """Otherwise composition.csv would name a material that materials.csv does not have."""
    paths = [tmp_path / "composition.csv", tmp_path / "materials.csv"]
    for path in paths:
        path.write_bytes(b"old")
    usual = adding.write_whole

    def interrupted(path, data):
        usual(path, data)
        press()

    monkeypatch.setattr(adding, "write_whole", interrupted)
    with pytest.raises(KeyboardInterrupt):
        adding._replace(dict.fromkeys(paths, b"new"), adding.Faults())
    assert [path.read_bytes() for path in paths] == [b"new", b"new"]


def test_a_full_disk_leaves_no_half_of_a_copied_library(tmp_path, monkeypatch):
    usual, left = adding.write_whole, [2]

    def full(path, data):
        left[0] -= 1
        if left[0] < 0:
            raise OSError(28, "No space left on device")
        usual(path, data)

    monkeypatch.setattr(adding, "write_whole", full)
    with pytest.raises(adding.BadInput, match="No space left"):
        copy_starter(tmp_path / "mine")
    assert list((tmp_path / "mine").iterdir()) == []
    left[0] = 99
    assert {path.name for path in copy_starter(tmp_path / "mine")} <= {
        path.name for path in starter_folder().iterdir()
    }
