"""The reference page lists every key of a brief, from the models themselves."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import pytest

from optiform.brief.keys import SCALARS, SECTIONS
from tests.brief.test_reading import EVERYTHING

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))
from key_tables import brief_reference  # noqa: E402

sys.path.remove(str(DOCS))
PAGE = brief_reference()


def section(name: str) -> str:
    start = PAGE.index(f"## {name}\n")
    end = PAGE.find("\n## ", start)
    return PAGE[start : end if end >= 0 else None]


def test_every_key_of_a_full_brief_stands_in_its_section() -> None:
    for key, value in tomllib.loads(EVERYTHING).items():
        if key in SCALARS:
            assert f"| `{key}` |" in section("Top of the file")
            continue
        entries = value if isinstance(value, list) else list(value.values()) if key == "targets" else [value]
        text = section(f"[[{key}]]" if isinstance(value, list) else f"[{key}]")
        for word in {word for entry in entries for word in entry}:
            assert f"| `{word}` |" in text


def test_every_section_is_there_and_every_key_is_explained() -> None:
    assert PAGE.count("\n## ") == len(SECTIONS)
    rows = [line for line in PAGE.splitlines() if line.startswith("| `")]
    assert len(rows) > 60
    for row in rows:
        assert row.count("|") == 6
        assert len(row.split("|")[5].strip()) > 5, row


@pytest.mark.parametrize(
    "row",
    [
        "| `title` | text | - | required | what the formula is for |",
        "| `batch_g` | number | g | 1000 | batch size |",
        "| `how_many` | whole number | - | 5 | formulas to list |",
        "| `at_least` | number | % w/w | - | lower bound; without it: merely used |",
        "| `tie` | number | the aim's own | 0.001 | how far from the best a tie-break may go |",
    ],
)
def test_a_row_shows_type_unit_default_and_meaning(row: str) -> None:
    assert row in PAGE


def test_defaults_on_the_page_are_those_of_the_reader() -> None:
    assert '| `law` | "EU" or "UK" or "US" or "none" | - | "EU" |' in PAGE
    assert '| `differ_in` | list of texts | - | ["surfactant", "thickener", "preservative"] |' in PAGE
    assert '| `lots` | "all" or number | - | "all" |' in PAGE
