"""Names stand where ids stood on every screen about the bench; the ids are those of the starter library."""

import re
from pathlib import Path

import pytest

from optiform.cli.entry import main
from optiform.library import load_library

TODAY = """\
material,percent
water,q.s.
decyl-glucoside,9
cocamidopropyl-betaine-38,7
sodium-laureth-sulfate-70,4
xanthan-gum,0.6
sodium-benzoate,0.45
potassium-sorbate,0.25
citric-acid,0.28
"""
SCREENS = {
    "lot": ("--material", "cocamidopropyl-betaine-38", "--active", "36.5"),
    "bench": ("--batch", "500g", "--add", "citric-acid=3.6g@10", "--pH", "4.9"),
    "swap": ("cocamidopropyl-betaine-38", "cocamidopropyl-betaine-30"),
    "weigh": ("--batch", "500g"),
    "sheet": ("--batch", "60g", "--full"),
    "evaluate": ("--full",),
}


def ids_in(text):
    """Ids that are no part of the material's own name: whoever reads them reads a key."""
    coined = [item.id for item in load_library().materials if "-" in item.id]
    words = set(re.findall(r"(?<![\w-])\w+(?:-\w+)+(?![\w-])", text))
    names = " ".join(item.name.lower() for item in load_library().materials)
    return [which for which in coined if which in words and which not in names]


@pytest.mark.parametrize("command", SCREENS)
def test_no_id_stands_where_a_name_exists(tmp_path, monkeypatch, capsys, command):
    monkeypatch.chdir(tmp_path)
    Path("today.csv").write_text(TODAY)
    assert main([command, "today.csv", *SCREENS[command]]) == 0
    told = capsys.readouterr().out
    assert "etaine" in told
    assert not ids_in(told)


def test_what_changes_at_new_prices_is_named(tmp_path, capsys):
    """A formula that breaks what a material needs names that material."""
    folder = tmp_path / "products"
    folder.mkdir()
    (folder / "today.csv").write_text(TODAY.replace("citric-acid,0.28", "citric-acid,2"))
    (tmp_path / "new.csv").write_text("material,price\nsodium-laureth-sulfate-70,60\n")
    assert main(["recost", str(folder), "--prices", str(tmp_path / "new.csv"), "--workers", "1"]) == 0
    told = capsys.readouterr().out
    assert "What the old formulas break" in told
    assert not ids_in(told)
