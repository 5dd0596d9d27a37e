"""Finds other grades of the substances that a formula is built on."""

from __future__ import annotations

from collections.abc import Iterator

from optiform.program import Program

MOST = 5
"""So many other grades of one material are tried, those with the lowest prices."""


def other_grades(program: Program, used: Iterator[int]) -> Iterator[tuple[int, int]]:
    """Yield each used material with every other grade of it that may be used, those with the lowest prices first."""
    price = program.library.arrays.price
    for material in used:
        others = [other for other in program.grades.get(material, ()) if program.form.upper[other] > 0]
        yield from ((material, other) for other in sorted(others, key=lambda place: price[place])[:MOST])
