"""A folder of small products on a small library, written to disk; names and figures invented for the tests."""

from __future__ import annotations

from pathlib import Path

from optiform.answers.recost import Recosted, recosting

TOML = """name = "quay"
currency = "EUR"
"""
MATERIALS = """id,name,function,price,min_if_used,max_use
water,Water,water,0.0,,
nettle-soap,Nettle soap,surfactant,2.0,1,60
linden-soap,Linden soap,surfactant,3.2,1,60
quince-soap,Quince soap,surfactant,4.0,1,60
glycerin,Glycerin,humectant,1.5,0.5,20
"""
SUBSTANCES = """inci,charge_class,mildness
Aqua,,
Nettle Soap,anionic,50
Linden Soap,amphoteric,70
Quince Soap,nonionic,90
Glycerin,,
"""
COMPOSITION = """material,inci,percent
water,Aqua,100
nettle-soap,Nettle Soap,30
nettle-soap,Aqua,70
linden-soap,Linden Soap,30
linden-soap,Aqua,70
quince-soap,Quince Soap,30
quince-soap,Aqua,70
glycerin,Glycerin,100
"""


def brief(number: int) -> str:
    strength = 5 + (number % 40) / 10
    return f"""title = "wash {number}"
library = "library"
law = "none"
[targets]
"active matter" = {{ at_least = {strength} }}
mildness = {{ at_least = {55 + number % 20} }}
cost = {{ at_most = 1.5 }}
"""


def folder(root: Path, count: int) -> Path:
    """Write a library, `count` briefs and one formula."""
    library = root / "library"
    library.mkdir(parents=True)
    for name, text in (
        ("library.toml", TOML),
        ("materials.csv", MATERIALS),
        ("substances.csv", SUBSTANCES),
        ("composition.csv", COMPOSITION),
    ):
        (library / name).write_text(text, encoding="utf-8")
    for number in range(count):
        (root / f"wash-{number:04d}.toml").write_text(brief(number), encoding="utf-8")
    (root / "today.csv").write_text(
        "material,percent\nnettle-soap,20\nglycerin,5\nwater,q.s.\n", encoding="utf-8"
    )
    return root


def prices(root: Path, **changed: float) -> Path:
    path = root.parent / "new-prices.csv"
    rows = "".join(f"{name.replace('_', '-')},{price}\n" for name, price in changed.items())
    path.write_text("material,price\n" + rows, encoding="utf-8")
    return path


def recost(*folder_and_prices, **options) -> tuple[Recosted, ...]:
    """Return what a price list does to each product of a folder."""
    return recosting(*folder_and_prices, **options).products
