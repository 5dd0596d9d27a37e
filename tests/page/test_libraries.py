"""A library is read again whenever a byte of it changed, and not otherwise."""

from __future__ import annotations

import os

from optiform.library.adding import copy_starter
from optiform.page.libraries import remembered_library


def test_a_library_is_the_same_value_until_a_byte_of_it_changes(tmp_path):
    folder = tmp_path / "library"
    copy_starter(folder)
    first = remembered_library(folder)
    assert remembered_library(folder) is first and remembered_library() is remembered_library()
    path = folder / "materials.csv"
    text, stat = path.read_text(encoding="utf-8"), path.stat()
    path.write_text(text.replace(",oil,44,", ",oil,45,", 1), encoding="utf-8")
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))  # as large and as old as before
    assert path.stat().st_size == stat.st_size
    assert remembered_library(folder) is not first
    assert remembered_library(folder).material != first.material
