"""A measured figure noted in materials.csv: its cell and its range change, every other byte stays."""

import pytest

from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.adding import copy_starter, starter_folder
from optiform.library.files.noting import note_free_alkali


def test_only_the_cells_of_the_reading_change_and_the_library_reads_them(tmp_path):
    folder = tmp_path / "mine"
    copy_starter(folder)
    path = folder / "materials.csv"
    before = path.read_bytes().splitlines(keepends=True)
    note_free_alkali(folder, {"decyl-glucoside": 20.5835, "cocamidopropyl-betaine-38": -70.9165})
    after = path.read_bytes().splitlines(keepends=True)
    changed = [old for old, new in zip(before, after, strict=True) if old != new]
    assert {line.split(b",")[0] for line in changed} == {b"decyl-glucoside", b"cocamidopropyl-betaine-38"}
    old, new = load_library(starter_folder()), load_library(folder)
    read = new.material["decyl-glucoside"]
    assert read.free_alkali == 20.5835
    # A tenth of the reading, as the page on pH lists: 20.5835 less and more 2.05835.
    assert (read.free_alkali_low, read.free_alkali_high) == pytest.approx((18.52515, 22.64185))
    changing = ("free_alkali", "free_alkali_low", "free_alkali_high")
    for material in old.materials:
        update = {name: getattr(material, name) for name in changing}
        same = new.material[material.id].model_copy(update=update)
        assert same == material


def test_quotes_line_ends_and_a_byte_order_mark_survive(tmp_path):
    path = tmp_path / "materials.csv"
    path.write_bytes(b'\xef\xbb\xbfid,name,free_alkali\r\na,"one, ""two""\r\nlines",\r\n\r\nb,Plain,3\r\n')
    note_free_alkali(tmp_path, {"a": 1.5})
    assert (
        path.read_bytes()
        == b'\xef\xbb\xbfid,name,free_alkali\r\na,"one, ""two""\r\nlines",1.5\r\n\r\nb,Plain,3\r\n'
    )


def test_every_fault_is_named_and_nothing_is_written(tmp_path):
    path = tmp_path / "materials.csv"
    path.write_text("id,name,free_alkali\nbetaine,Betaine,\n")
    with pytest.raises(BadInput) as caught:
        note_free_alkali(tmp_path, {"betain": 1.0, "gum": 2.0, "betaine": 3.0})
    assert "did you mean 'betaine'" in str(caught.value) and "'gum'" in str(caught.value)
    assert path.read_text() == "id,name,free_alkali\nbetaine,Betaine,\n"
    path.write_text("id,name\nbetaine,Betaine\n")
    with pytest.raises(BadInput, match="no column 'free_alkali'"):
        note_free_alkali(tmp_path, {"betaine": 1.0})


def test_the_starter_library_is_never_written_to(tmp_path):
    with pytest.raises(BadInput, match="starter library"):
        note_free_alkali(starter_folder(), {"water": 1.0})
    with pytest.raises(BadInput, match="No such file"):
        note_free_alkali(tmp_path / "nowhere", {"water": 1.0})
