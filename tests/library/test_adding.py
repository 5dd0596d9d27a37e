"""A new material is appended, and nothing else in the files changes."""

import pytest

from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.adding import copy_starter, joined, new_material, starter_folder, write_rows
from optiform.library.files import writing
from optiform.library.files.widening import widened
from optiform.library.models import Trust
from tests.library.on_disk import COMPOSITION, MATERIALS, SUBSTANCES, write_folder

BETAINE = {
    "id": "betaine-38",
    "name": "Betaine, 38 %",
    "function": "surfactant",
    "price": 4.1,
    "min_if_used": 1.0,
    "max_use": 35.0,
    "tags": ("coconut", "palm?"),
    "contents": [{"inci": "Cocamidopropyl Betaine", "percent": 37.9, "low": 36.5, "high": 39.0}],
}
SALT = {"inci": "Sodium Chloride", "charge_acid_form": -1, "strong_charge": 1, "molar_mass": 58.44}


def messages(call, *arguments):
    with pytest.raises(BadInput) as caught:
        call(*arguments)
    return [(fault.place, fault.message, fault.nearest) for fault in caught.value.faults]


@pytest.fixture
def folder(tmp_path):
    return write_folder(tmp_path / "mine")


def test_water_is_the_rest_in_exact_decimals(folder):
    added = new_material(load_library(folder), BETAINE)
    assert [(part.inci, part.percent, part.low) for part in added.parts] == [
        ("Cocamidopropyl Betaine", 37.9, 36.5),
        ("Aqua", 62.1, None),
    ]


def test_rows_are_appended_and_every_old_byte_stays(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    added = new_material(load_library(folder), BETAINE)
    changed = write_rows(folder, added)
    assert sorted(path.name for path in changed) == ["composition.csv", "materials.csv"]
    after = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert after.keys() == before.keys()
    assert all(after[name].startswith(data) for name, data in before.items())
    assert after["materials.csv"][len(MATERIALS) :] == (
        b'betaine-38,"Betaine, 38 %",surfactant,4.1,1,35,,,coconut palm?\n'
    )
    assert after["composition.csv"][len(COMPOSITION) :] == (
        b"betaine-38,Cocamidopropyl Betaine,37.9,36.5,39\nbetaine-38,Aqua,62.1,,\n"
    )


def test_what_was_written_is_what_is_read(folder):
    library = load_library(folder)
    added = new_material(library, BETAINE)
    write_rows(folder, added)
    assert load_library(folder) == joined(library, added)


def test_line_ends_byte_order_mark_and_column_order_of_the_file_are_kept(tmp_path):
    header, *rows = MATERIALS.splitlines()
    turned = "\r\n".join(",".join(reversed(line.split(","))) for line in (header, *rows))
    folder = write_folder(tmp_path, materials=b"\xef\xbb\xbf" + turned.encode())
    write_rows(folder, new_material(load_library(folder), BETAINE))
    data = (folder / "materials.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbf" + turned.encode() + b"\r\n")
    assert data.endswith(b'coconut palm?,,,35,1,4.1,surfactant,"Betaine, 38 %",betaine-38\r\n')
    assert "betaine-38" in load_library(folder).material


def test_new_substance_with_its_data_and_salt(folder):
    with_salt = {**BETAINE, "salt": 5.3, "new_substances": [SALT]}
    write_rows(folder, new_material(load_library(folder), with_salt))
    library = load_library(folder)
    assert library.substance["Sodium Chloride"].strong_charge == 1.0
    assert [part.percent for part in library.composition["betaine-38"]] == [37.9, 5.3, 56.8]


def test_columns_that_a_measure_named_are_kept_and_filled(tmp_path):
    toml = 'name = "Quay"\n[[measure]]\nname = "acid demand"\ncolumn = "acid_demand"\n'
    header, *rows = MATERIALS.splitlines()
    text = "\n".join([header + ",acid_demand", *(row + ",0.1" for row in rows)]) + "\n"
    folder = write_folder(tmp_path, toml=toml, materials=text)
    write_rows(folder, new_material(load_library(folder), {**BETAINE, "extra": {"acid_demand": 0.25}}))
    assert load_library(folder).material["betaine-38"].extra == {"acid_demand": 0.25}


def test_every_fault_of_a_specification_at_once(folder):
    library = load_library(folder)
    wrong = {
        "id": "Beta ine",
        "nam": "x",
        "function": "surfactent",
        "price": -1,
        "contents": [{"inci": "Aqua"}],
    }
    assert [place for place, _, _ in messages(new_material, library, wrong)] == [
        "id", "name", "function", "price", "contents, 1, percent", "nam",
    ]  # fmt: skip
    taken = {
        **BETAINE,
        "id": "gum",
        "contents": [{"inci": "Citric Acide", "percent": 99}, {"inci": "Aqua", "percent": 3}],
    }
    assert messages(new_material, library, taken) == [
        ("id", "there is a material 'gum' already", ""),
        ("contents", "there is no substance 'Citric Acide' in the library", "Citric Acid"),
        ("contents", "the contents add to 102.0 %", ""),
    ]


@pytest.mark.parametrize(
    ("fields", "place", "part"),
    [
        ({"min_if_used": 40.0}, "min_if_used", "above max_use"),
        ({"function": "water"}, "function", "second material has the function water"),
        ({"contents": [{"inci": "Citric Acid", "percent": 40, "low": 41}]}, "low", "above percent"),
        ({"new_substances": [{"inci": "Aqua"}]}, "new_substances", "already"),
    ],
)
def test_what_would_not_hold_in_the_library(folder, fields, place, part):
    ((found, message, _),) = messages(new_material, load_library(folder), {**BETAINE, **fields})
    assert (found, part in message) == (place, True)


def test_a_row_is_never_written_twice(folder):
    added = new_material(load_library(folder), BETAINE)
    write_rows(folder, added)
    before = (folder / "materials.csv").read_bytes()
    assert ("column id", "'betaine-38' is in the file already", "") in messages(write_rows, folder, added)
    assert (folder / "materials.csv").read_bytes() == before


def test_a_column_that_lacks_is_added_at_the_right_and_every_old_row_keeps_its_bytes(folder):
    added = new_material(load_library(folder), {**BETAINE, "trust": "own", "density": 1.05})
    old = (folder / "materials.csv").read_text().splitlines()
    write_rows(folder, added)
    new = (folder / "materials.csv").read_text().splitlines()
    assert new[0] == f"{old[0]},density,trust"
    assert new[1:-1] == [f"{row},," for row in old[1:]]
    assert new[-1].endswith(",1.05,own")
    assert load_library(folder).material["betaine-38"].density == 1.05


def test_columns_are_added_beside_line_ends_and_quoted_lines_of_any_kind():
    old = b'\xef\xbb\xbfid,name\r\na,"two\r\nlines"\r\n\r\nb,"x, y"'
    new = b'\xef\xbb\xbfid,name,p,q\r\na,"two\r\nlines",,\r\n\r\nb,"x, y",,'
    assert widened(old, ["p", "q"]) == new
    assert widened(old, []) == old


def test_a_preservative_brings_its_system_and_a_curve_its_points(folder):
    system = {"name": "Quay", "members": {"betaine-38": (0.4, 0.8)}, "pH": (4.0, None), "source": "sheet 7"}
    curve = [{"material": "betaine-38", "pH": pH, "acid_mmol_per_kg": acid} for pH, acid in ((8, 0), (5, 40))]
    before = (folder / "library.toml").read_bytes()
    weak = {**BETAINE, "min_if_used": 0.1, "system": system, "titration": curve}
    added = new_material(load_library(folder), weak)
    write_rows(folder, added)
    assert (folder / "library.toml").read_bytes().startswith(before)
    assert load_library(folder).systems == (added.system,)
    assert load_library(folder).titrations == added.titrations


def test_files_are_put_back_when_a_later_one_cannot_be_replaced(folder, monkeypatch):
    added = new_material(load_library(folder), BETAINE)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    put = writing._put

    def failing(beside, path, *, replace):
        if path.name == "materials.csv":
            raise OSError(28, "No space left on device")
        put(beside, path, replace=replace)

    monkeypatch.setattr(writing, "_put", failing)
    ((_, message, _),) = messages(write_rows, folder, added)
    assert "No space left" in message
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_the_starter_library_is_never_written_to(folder):
    added = new_material(load_library(folder), BETAINE)
    ((_, message, _),) = messages(write_rows, starter_folder(), added)
    assert "starter library" in message


def test_workbooks_are_not_written_to(tmp_path, folder):
    added = new_material(load_library(folder), BETAINE)
    (tmp_path / "empty").mkdir()
    ((_, message, _),) = messages(write_rows, tmp_path / "empty", added)
    assert "CSV" in message


def test_copy_of_the_starter_library_loads_and_may_be_changed(tmp_path):
    copy_starter(tmp_path / "mine")
    library = load_library(tmp_path / "mine")
    assert library.model_copy(update={"folder": ""}) == load_library().model_copy(update={"folder": ""})
    write_rows(tmp_path / "mine", new_material(library, {**BETAINE, "salt": 5.3, "trust": "own"}))
    assert load_library(tmp_path / "mine").material["betaine-38"].trust is Trust.OWN
    ((_, message, _),) = messages(copy_starter, tmp_path / "mine")
    assert "exists already" in message


def test_sound_files_stay_as_they_were_when_there_is_nothing_to_add_to_them(folder):
    write_rows(folder, new_material(load_library(folder), BETAINE))
    assert (folder / "substances.csv").read_text() == SUBSTANCES
