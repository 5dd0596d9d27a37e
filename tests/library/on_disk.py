"""Small libraries on disk: a sound one to break, and writers for both file formats."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import openpyxl

from optiform.faults import BadInput, Fault
from optiform.library import load_library

TOML = 'name = "Quay"\n'
MATERIALS = """\
id,name,function,price,min_if_used,max_use,pH_min,pH_max,tags
water,Water,water,0.05,0,100,,,
nettle,Nettle extract,extract,8,0.5,10,,,botanical
betaine,Betaine 30 %,surfactant,3.4,1,40,4,9,coconut palm?
gum,Xanthan gum,thickener,14,0.1,2,,,gum
acid,Citric acid,acid,2.2,0,3,,,
"""
SUBSTANCES = """\
inci,charge_class,mildness,pka,charge_acid_form,strong_charge,molar_mass,tags
Aqua,,,,0,0,18.015,
Urtica Dioica Leaf Extract,,,,,,,botanical
Cocamidopropyl Betaine,amphoteric,80,1.9,1,0,342.5,palm?
Xanthan Gum,,,,0,0,,
Citric Acid,,,3.128;4.761;6.396,0,0,192.12,
"""
COMPOSITION = """\
material,inci,percent,low,high
water,Aqua,100,,
nettle,Urtica Dioica Leaf Extract,5,4,6
nettle,Aqua,95,,
betaine,Cocamidopropyl Betaine,30,28,32
betaine,Aqua,70,,
gum,Xanthan Gum,100,,
acid,Citric Acid,100,,
"""
SOUND = {
    "library.toml": TOML,
    "materials.csv": MATERIALS,
    "substances.csv": SUBSTANCES,
    "composition.csv": COMPOSITION,
}


def write_folder(folder: Path, **changed: str | bytes | None) -> Path:
    """Write the sound library with some files changed (`materials=...`); None leaves one out."""
    folder.mkdir(parents=True, exist_ok=True)
    files: dict[str, str | bytes | None] = dict(SOUND)
    for name, text in changed.items():
        files["library.toml" if name == "toml" else f"{name}.csv"] = text
    for name, text in files.items():
        if text is not None:
            (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return folder


def faults_in(path: Path) -> tuple[Fault, ...]:
    """Return the faults of a library that must have some."""
    try:
        load_library(path)
    except BadInput as bad:
        return bad.faults
    raise AssertionError("no fault was found")


def only_fault(path: Path) -> Fault:
    """Return the single fault of a library."""
    faults = faults_in(path)
    assert len(faults) == 1, "\n".join(map(str, faults))
    return faults[0]


def write_csv(path: Path, header: Sequence[str], rows: Sequence[Mapping[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, header)
        writer.writeheader()
        writer.writerows(rows)


def write_xlsx(path: Path, sheets: Mapping[str, Sequence[Sequence[Any]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return path


def as_rows(text: str) -> list[list[Any]]:
    """Return a CSV text as rows of a sheet, numbers as numbers."""

    def value(cell: str) -> Any:
        try:
            return float(cell)
        except ValueError:
            return cell or None

    return [[value(cell) for cell in row] for row in csv.reader(text.splitlines())]
