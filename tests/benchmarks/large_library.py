"""Writes large made-up libraries for timing."""

from __future__ import annotations

from pathlib import Path


def write_large_library(folder: Path, materials: int, parts_each: int = 4) -> Path:
    """Write a library of that many materials, each of so many substances; all data invented."""
    folder.mkdir(parents=True, exist_ok=True)
    substances = max(10, materials // 5)
    (folder / "library.toml").write_text('name = "large"\n', encoding="utf-8")
    with (folder / "substances.csv").open("w", encoding="utf-8") as out:
        out.write(
            "inci,charge_class,mildness,natural_origin,molar_mass,pka,charge_acid_form,strong_charge,hlb,tags,source\n"
        )
        out.write("Aqua,,,1,18.015,,0,0,,,invented\n")
        for k in range(substances):
            out.write(
                f"Substance {k},{'anionic' if k % 3 == 0 else ''},{k % 101},0.5,{100 + k % 300},,0,0,,palm?,invented\n"
            )
    with (folder / "materials.csv").open("w", encoding="utf-8") as out:
        out.write("id,name,function,also,phase,price,min_if_used,max_use,pH_min,pH_max,tags,source\n")
        out.write("water,Water,water,,water,0.05,0,100,,,,invented\n")
        for i in range(materials):
            name, price = f'"Material {i}, as supplied"', f"{1 + i % 17}.25"
            out.write(f"material-{i},{name},surfactant,,surfactant,{price},0.5,40,3,9,palm?,invented\n")
    with (folder / "composition.csv").open("w", encoding="utf-8") as out:
        out.write("material,inci,percent,low,high\nwater,Aqua,100,,\n")
        for i in range(materials):
            out.write(f"material-{i},Aqua,{100 - 10 * (parts_each - 1)},,\n")
            for k in range(parts_each - 1):
                out.write(f"material-{i},Substance {(7 * i + k) % substances},10,9,11\n")
    return folder
