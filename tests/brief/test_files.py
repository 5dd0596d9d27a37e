"""The files that a brief names are found from the brief's folder, and their faults come with its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from optiform.brief import load_brief
from optiform.faults import BadInput

LIBRARY = {
    "library.toml": 'name = "Quay"\ncurrency = "EUR"\n',
    "materials.csv": (
        "id,name,function,price,stock_g\n"
        "water,Water,water,0.05,\n"
        "glucoside,Glucoside,surfactant,5.0,500\n"
        "betaine,Betaine,surfactant,3.0,\n"
        "nettle-extract,Nettle extract,extract,14.0,\n"
    ),
    "substances.csv": (
        "inci,charge_class,mildness\n"
        "Aqua,,\nDecyl Glucoside,nonionic,88\nCocamidopropyl Betaine,amphoteric,72\n"
        "Urtica Dioica Leaf Extract,,\n"
    ),
    "composition.csv": (
        "material,inci,percent\n"
        "water,Aqua,100\nglucoside,Decyl Glucoside,50\nglucoside,Aqua,50\n"
        "betaine,Cocamidopropyl Betaine,30\nbetaine,Aqua,70\n"
        "nettle-extract,Urtica Dioica Leaf Extract,5\nnettle-extract,Aqua,95\n"
    ),
}
HEAD = 'title = "Nettle wash"\nlibrary = "../libraries/quay"\n'
TARGETS = '[targets]\n"active matter" = { at_least = 8.0 }\n'


@pytest.fixture
def briefs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for briefs, with a library beside it; the working directory is elsewhere."""
    for folder in ("libraries/quay", "briefs", "elsewhere"):
        (tmp_path / folder).mkdir(parents=True)
    for name, text in LIBRARY.items():
        (tmp_path / "libraries/quay" / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "elsewhere")
    return tmp_path / "briefs"


def write(folder: Path, text: str, **files: str) -> Path:
    for name, content in files.items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")
    (folder / "wash.toml").write_text(text, encoding="utf-8")
    return folder / "wash.toml"


def test_library_prices_and_shelf_are_found_from_the_folder_of_the_brief(briefs: Path) -> None:
    file = write(
        briefs,
        HEAD + 'prices = "prices.csv"\nshelf = "shelf.csv"\n' + TARGETS,
        prices="material,price\nbetaine,3.75\n",
        shelf="material,stock_g\nbetaine,800\nglucoside,\nnettle-extract,0\n",
    )
    brief = load_brief(file)
    assert brief.library.name == "Quay" and brief.library_name == "../libraries/quay"
    assert brief.library.material["betaine"].price == 3.75
    assert brief.library.material["glucoside"].price == 5.0
    assert brief.library.material["betaine"].stock_g == 800
    assert brief.shelf == {"betaine": 800, "glucoside": None}


def test_a_relative_path_to_the_brief_changes_nothing(briefs: Path) -> None:
    write(briefs, HEAD + TARGETS)
    assert load_brief("../briefs/wash.toml").library.name == "Quay"


BASELINE = """
[baseline]
formula = "today.csv"
keep = ["nettle-extract", "function:extract"]
hold = { "active matter" = 0.2, mildness = 3 }
at_most_new = 1
at_most_dropped = 3
"""


def test_a_baseline_reads_its_formula(briefs: Path) -> None:
    today = "material,percent\nglucoside,10\nbetaine,12.5\nnettle-extract,2\nwater,q.s.\n"
    brief = load_brief(write(briefs, HEAD + TARGETS + BASELINE, today=today))
    baseline = brief.baseline
    assert baseline is not None
    assert dict(baseline.lines) == {"glucoside": 10, "betaine": 12.5, "nettle-extract": 2, "water": 75.5}
    assert Path(baseline.formula).resolve() == (briefs / "today.csv").resolve()
    assert baseline.keep == ("nettle-extract", "function:extract")
    assert baseline.hold == {"active matter": 0.2, "mildness": 3}
    assert (baseline.at_most_new, baseline.at_most_dropped) == (1, 3)
    assert any("water is q.s." in note for note in brief.notes)


def test_a_baseline_that_does_not_add_to_100_is_said(briefs: Path) -> None:
    brief = load_brief(
        write(briefs, HEAD + TARGETS + BASELINE, today="material,percent\nglucoside,10\nwater,85\n")
    )
    assert any("adds to 95 %" in note for note in brief.notes)


def test_grams_of_a_baseline_become_percent(briefs: Path) -> None:
    brief = load_brief(
        write(briefs, HEAD + TARGETS + BASELINE, today="material,grams\nglucoside,50\nwater,450\n")
    )
    assert brief.baseline is not None and dict(brief.baseline.lines) == {"glucoside": 10.0, "water": 90.0}


def test_words_of_a_baseline_are_checked(briefs: Path) -> None:
    wrong = BASELINE.replace("function:extract", "function:extrac").replace("mildness = 3", "mildnes = -3")
    with pytest.raises(BadInput) as caught:
        load_brief(write(briefs, HEAD + TARGETS + wrong, today="material,percent\nwater,100\n"))
    assert [(fault.place, fault.nearest) for fault in caught.value.faults] == [
        ("[baseline] hold, mildnes", ""),
        ("[baseline] keep, entry 2", "function:extract"),
    ]
    wrong = wrong.replace("-3", "3")
    with pytest.raises(BadInput) as caught:
        load_brief(write(briefs, HEAD + TARGETS + wrong, today="material,percent\nwater,100\n"))
    assert [(fault.place, fault.nearest) for fault in caught.value.faults] == [
        ("[baseline] keep, entry 2", "function:extract"),
        ('[baseline] hold, "mildnes"', "mildness"),
    ]


def test_faults_of_every_file_come_at_once(briefs: Path) -> None:
    file = write(
        briefs,
        HEAD + 'law = "XX"\nprices = "prices.csv"\nshelf = "shelf.csv"\n' + TARGETS + BASELINE,
        prices="material,price\nbetain,3.75\n",
        shelf="material,stock_g\nbetaine,much\n",
        today="material,percent\nglucosid,10\nwater,q.s.\n",
    )
    with pytest.raises(BadInput) as caught:
        load_brief(file)
    named = {Path(fault.file).name: fault for fault in caught.value.faults}
    assert set(named) == {"wash.toml", "prices.csv", "shelf.csv", "today.csv"}
    assert named["prices.csv"].nearest == "betaine"
    assert named["today.csv"].nearest == "glucoside"
    assert "row 2" in named["shelf.csv"].place


@pytest.mark.parametrize("key", ["prices", "shelf"])
def test_a_file_that_is_not_there_is_a_fault(briefs: Path, key: str) -> None:
    with pytest.raises(BadInput) as caught:
        load_brief(write(briefs, HEAD + f'{key} = "nowhere.csv"\n' + TARGETS))
    assert [Path(fault.file).name for fault in caught.value.faults] == ["nowhere.csv"]


def test_users_of_the_librarys_own_limits_are_known(briefs: Path) -> None:
    (briefs.parent / "libraries/quay/limits.csv").write_text(
        "jurisdiction,product,area,users,use,group,substances,max_percent,basis_molar_mass,equivalents,"
        "entry,warning,valid_from,valid_to,source\n"
        "any,any,,anglers,any,,Decyl Glucoside,5,,,house/1,,,,own house rule\n",
        encoding="utf-8",
    )
    assert load_brief(write(briefs, HEAD + 'users = ["anglers"]\n' + TARGETS)).users == ("anglers",)
