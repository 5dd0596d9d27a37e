"""Benchmarks run only when they are asked for: ``pytest -m benchmark``."""

import pytest


def pytest_collection_modifyitems(config, items):
    if "benchmark" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("benchmark"):
            item.add_marker(pytest.mark.skip(reason="opt-in: pytest -m benchmark"))
