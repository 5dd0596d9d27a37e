"""Writing results: what is refused before any work, and files that are whole or not there."""

import os
from pathlib import Path

import pytest

from optiform.faults import BadInput
from optiform.library.files import writing
from optiform.library.files.writing import write_whole
from optiform.views.forms import Result
from optiform.views.output import Format, Output, deliver, show
from optiform.views.words.blocks import Paragraph


def test_an_existing_file_is_refused_before_any_work(tmp_path):
    file = tmp_path / "a.txt"
    file.write_text("old")
    with pytest.raises(BadInput, match="exists already; allowed: another name, or --force"):
        Output(Format.TEXT, file)
    Output(Format.TEXT, file, force=True)


def test_a_folder_and_a_missing_folder_are_refused(tmp_path):
    with pytest.raises(BadInput, match="this is a folder"):
        Output(Format.TEXT, tmp_path, force=True)
    with pytest.raises(BadInput, match="no such folder"):
        Output(Format.TEXT, tmp_path / "nowhere" / "a.txt")


def test_a_folder_and_a_device_that_take_no_file_are_refused_before_any_work(tmp_path, monkeypatch):
    if os.name == "posix":
        with pytest.raises(BadInput, match="a device or a pipe"):
            Output(Format.TEXT, Path(os.devnull), force=True)
    monkeypatch.setattr(os, "access", lambda place, mode: False)
    with pytest.raises(BadInput, match="nothing can be written into this folder"):
        Output(Format.TEXT, tmp_path / "a.txt")


def test_a_file_that_appears_meanwhile_is_not_overwritten(tmp_path):
    file = tmp_path / "a.txt"
    place = Output(Format.TEXT, file)
    file.write_text("somebody else's")
    with pytest.raises(BadInput, match="exists already"):
        deliver(place, "ours")
    assert file.read_text() == "somebody else's"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_force_replaces_in_one_step_and_keeps_permissions(tmp_path):
    file = tmp_path / "a.txt"
    file.write_text("old")
    file.chmod(0o640)
    deliver(Output(Format.TEXT, file, force=True), "new\n")
    assert file.read_bytes() == b"new\n"
    assert file.stat().st_mode & 0o777 == 0o640
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_an_interruption_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "a.txt"
    file.write_text("old")

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", fail)
    with pytest.raises(BadInput, match="cannot be written \\(No space left on device\\)"):
        deliver(Output(Format.TEXT, file, force=True), "new")
    assert file.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


def test_a_new_file_has_the_usual_permissions(tmp_path):
    usual = tmp_path / "usual.txt"
    usual.write_text("x")
    write_whole(tmp_path / "ours.txt", b"x")
    assert (tmp_path / "ours.txt").stat().st_mode == usual.stat().st_mode


def test_only_the_form_that_is_wanted_is_made():
    def never():
        raise AssertionError

    show(Output(Format.TEXT), Result("t", list, "design", None, never))
    with pytest.raises(AssertionError):
        show(Output(Format.CSV), Result("t", list, "design", None, never))


def test_text_is_written_as_it_is(capsys):
    show(Output(Format.TEXT), Result("t", lambda: [Paragraph("text")], "design", None))
    assert capsys.readouterr().out == "text\n"
