"""How long it takes to read large libraries; opt-in: ``pytest -m benchmark tests/benchmarks``."""

import time

import pytest

from optiform.library import load_library
from tests.benchmarks.large_library import write_large_library

pytestmark = pytest.mark.benchmark


def seconds_to_read(folder):
    begun = time.perf_counter()
    library = load_library(folder)
    return time.perf_counter() - begun, library


def test_fifty_thousand_materials_in_three_seconds(tmp_path):
    seconds, library = seconds_to_read(write_large_library(tmp_path, 50_000))
    assert len(library.parts) == 200_001
    assert seconds < 3.0


def test_cost_grows_linearly(tmp_path):
    small, _ = seconds_to_read(write_large_library(tmp_path / "small", 10_000))
    large, _ = seconds_to_read(write_large_library(tmp_path / "large", 40_000))
    assert large < 4 * small * 1.6
