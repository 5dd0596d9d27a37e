"""The reference page of the law: its code runs, its table reads, its numbers are those of the data."""

import re
from pathlib import Path

import pytest

from optiform.law.reading import read_limits

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "law.md"


def block(language):
    return re.search(rf"```{language}\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)[1]


def test_the_python_runs():
    exec(compile(block("python"), str(PAGE), "exec"), {})


def test_the_table_reads(tmp_path):
    path = tmp_path / "limits.csv"
    path.write_text(block("csv"), encoding="utf-8")
    first, second = read_limits(path)
    assert first.max_percent == pytest.approx(1.0)
    assert second.jurisdiction == "any"
