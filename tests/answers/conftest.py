"""Large random runs are made only when they are asked for: ``pytest -m large``."""

import pytest


def pytest_collection_modifyitems(config, items):
    if "large" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("large"):
            item.add_marker(pytest.mark.skip(reason="opt-in: pytest -m large"))
