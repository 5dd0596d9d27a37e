"""Which tests are the core of every room, and which run only when they are asked for."""

import pytest


def pytest_collection_modifyitems(config, items):
    slow_asked = "slow" in (config.option.markexpr or "")
    for item in items:
        if item.get_closest_marker("slow") and not slow_asked:
            item.add_marker(pytest.mark.skip(reason="opt-in: pytest -m slow"))
