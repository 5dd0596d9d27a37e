"""Published linear programs as forms, read from the small data files beside this module."""

from __future__ import annotations

import csv
from pathlib import Path

from optiform.program.program import Form
from tests.oracles import INF, Line, form_of

DATA = Path(__file__).parent / "data"


def netlib(name: str, objective: str, equalities: str) -> Form:
    """Return a Netlib program from its column file; rows named like `equalities` are equal to their right-hand side."""
    columns: dict[str, list[tuple[str, float]]] = {}
    for line in (DATA / f"netlib_{name}.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("#"):
            continue
        column, *pairs = line.split()
        columns[column] = [(row, float(value)) for row, value in zip(pairs[::2], pairs[1::2], strict=True)]
    right = dict(columns.pop("rhs"))
    rows: dict[str, dict[int, float]] = {}
    costs = [0.0] * len(columns)
    for index, entries in enumerate(columns.values()):
        for row, value in entries:
            if row == objective:
                costs[index] = value
            else:
                rows.setdefault(row, {})[index] = value
    lines: list[Line] = [
        (content, right.get(row, 0.0) if _equal(row, equalities) else -INF, right.get(row, 0.0))
        for row, content in rows.items()
    ]
    return form_of(costs, lines)


def _equal(row: str, equalities: str) -> bool:
    return int(row) <= int(equalities) if equalities.isdigit() else row.startswith(equalities)


FOODS_RDA = {
    "calories": 3.0,
    "protein": 70.0,
    "calcium": 0.8,
    "iron": 12.0,
    "vitamin_a": 5.0,
    "thiamine": 1.8,
    "riboflavin": 2.7,
    "niacin": 18.0,
    "ascorbic_acid": 75.0,
}
"""Daily allowances of Stigler 1945: 1000 kcal, g, g, mg, 1000 IU, mg, mg, mg, mg."""


def stigler() -> tuple[Form, list[str]]:
    """Return Stigler's diet (77 foods, nutrients per dollar of 1939; columns in dollars a day) and the foods."""
    with (DATA / "stigler_1939.csv").open(encoding="utf-8", newline="") as file:
        foods = list(csv.DictReader(file))
    lines: list[Line] = [
        ({i: float(food[nutrient]) for i, food in enumerate(foods) if float(food[nutrient])}, need, INF)
        for nutrient, need in FOODS_RDA.items()
    ]
    return form_of([1.0] * len(foods), lines), [food["food"] for food in foods]
