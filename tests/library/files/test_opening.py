"""What is opened for reading: regular files of a sane size; everything else is a fault that names the file."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optiform.faults import Faults
from optiform.library.files import opening
from optiform.library.files.opening import is_file, is_folder, names_in, read_bytes, read_text


def refusal(path: Path, most: int = 1000) -> str:
    """Return the one fault of a file that is not read."""
    faults = Faults()
    assert read_bytes(path, faults, most=most, allowed="a file") is None
    (fault,) = faults.found
    assert fault.file == str(path)
    return fault.message


def test_a_file_is_read_to_its_last_byte(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"x" * 1000)
    assert read_bytes(path, Faults(), most=1000, allowed="") == b"x" * 1000
    assert refusal(path, most=999) == "0 MB is too large"


def test_what_is_no_file_is_named(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "device").symlink_to("/dev/zero")
    (tmp_path / "loop").symlink_to("loop")
    assert refusal(tmp_path) == "this is a folder, not a file"
    assert refusal(tmp_path / "pipe") == "this is a named pipe, not a file"
    assert refusal(tmp_path / "device") == "this is a device, not a file"
    assert "symbolic links" in refusal(tmp_path / "loop")
    assert refusal(tmp_path / "nothing") == "cannot be read (No such file or directory)"


def test_names_that_no_file_can_have(tmp_path):
    assert refusal(tmp_path / "a\0b") == "cannot be read (a NUL character in the name)"
    assert refusal(tmp_path / ("b" * 256)) == "cannot be read (File name too long)"
    assert refusal(tmp_path / "\ud800") == "cannot be read (the name is no text in UTF-8)"
    for path in (tmp_path / "a\0b", tmp_path / ("b" * 256), tmp_path / "\ud800"):
        assert not is_file(path)
        assert not is_folder(path)
        assert names_in(path) is None


def test_a_file_that_grows_while_it_is_read_is_refused(tmp_path, monkeypatch):
    """The size is looked at first; here it says less than there is, as with a file that grows in between."""
    path = tmp_path / "grows.csv"
    path.write_bytes(b"x" * 2000)
    told = os.stat_result((0o100644, 0, 0, 1, 0, 0, 10, 0, 0, 0))
    monkeypatch.setattr(opening.os, "fstat", lambda descriptor: told)
    assert refusal(path) == "it grows while it is read"


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() == 0, reason="the superuser may read everything")
def test_a_file_without_permission(tmp_path):
    path = tmp_path / "closed.csv"
    path.write_bytes(b"x")
    path.chmod(0)
    assert refusal(path) == "cannot be read (Permission denied)"


def test_the_byte_that_is_no_utf8_is_named_with_its_line(tmp_path):
    path, faults = tmp_path / "a.toml", Faults()
    path.write_bytes(b"a = 1\nb = '\xe4'\n")
    assert read_text(path, faults, most=1000, allowed="") is None
    assert (faults.found[0].place, faults.found[0].message) == ("line 2", "byte 0xE4 is not UTF-8")


def test_for_a_missing_file_the_one_beside_it_that_is_named_most_like_it_is_offered(tmp_path):
    for name in ("nettle.toml", "nettle.csv", "oat.toml"):
        (tmp_path / name).write_text("")
    for typed, meant in (("nettel.toml", "nettle.toml"), ("nettle.tsv", ""), ("quince.toml", "")):
        faults = Faults()
        assert read_bytes(tmp_path / typed, faults, most=1000, allowed="") is None
        assert faults.found[0].nearest == (str(tmp_path / meant) if meant else "")
    assert read_bytes(tmp_path / "no" / "nettle.toml", faults, most=1000, allowed="") is None
    assert faults.found[-1].nearest == ""
