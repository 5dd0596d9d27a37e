"""The whole corpus runs only when it is asked for: ``pytest tests/smell -m corpus``."""

import pytest


def pytest_collection_modifyitems(config, items):
    if "corpus" in (config.option.markexpr or ""):
        return
    for item in items:
        if item.get_closest_marker("corpus"):
            item.add_marker(pytest.mark.skip(reason="opt-in: pytest tests/smell -m corpus"))
