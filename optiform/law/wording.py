"""The titles of legal limits, in words that a formulator reads once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from optiform.law.models import Limit
from optiform.law.reading import shipped_molar_masses

NAMED = 3
"""So many substances are named in a title before the rest is counted."""


def limit_label(rows: Sequence[Limit]) -> str:
    """Return what a limit bounds: "benzoic acid and sodium benzoate, as acid"."""
    return f"{_who(rows)}{_basis(rows[0])}"


def limit_title(rows: Sequence[Limit], max_percent: float, jurisdiction: str) -> str:
    """Return a limit as "benzoic acid and sodium benzoate, as acid, at most 2.5 % w/w (EU Annex V/1)"."""
    row = rows[0]
    place = f"{jurisdiction} {row.entry}" if row.entry else f"{jurisdiction}, library's own row"
    scope = f", for users {row.users}" if row.users else ""
    if max_percent == 0:
        return f"{_who(rows)} not allowed{scope} ({place})"
    return f"{limit_label(rows)}, at most {max_percent:g} % w/w{scope} ({place})"


def _who(rows: Sequence[Limit]) -> str:
    return rows[0].group or _listed([name for part in rows for name in part.substances])


def _listed(names: Sequence[str]) -> str:
    words = [_lower(name) for name in dict.fromkeys(names)]
    if len(words) <= NAMED:
        return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)
    shown = words[: NAMED - 1]
    return f"{', '.join(shown)} and {len(words) - len(shown)} related substances"


@cache
def _lower(name: str) -> str:
    """Return an INCI name as it stands in a sentence: capitals only where they are no first letter."""
    return re.sub(r"(?<![A-Za-z])[A-Z][a-z]+", lambda word: word.group().lower(), name)


def _basis(row: Limit) -> str:
    if row.basis_molar_mass is None:
        return ""
    masses = shipped_molar_masses()
    own = [name for name in row.substances if name in masses] + list(masses)
    name = next((name for name in own if abs(masses[name] - row.basis_molar_mass) < 0.01), "")
    if name.endswith("Acid"):
        return ", as acid"
    return f", as {_lower(name)}" if name else f", on a molar mass of {row.basis_molar_mass:g}"
