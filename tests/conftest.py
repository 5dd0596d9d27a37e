"""Which tests are the core of every room, and which run only when they are asked for."""

import signal
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("drawn", derandomize=False, deadline=None)
settings.load_profile("same")

CORE = (
    "search/test_fewest.py",
    "answers/design/test_guards.py",
    "answers/price/test_prices.py",
    "answers/check/test_stopping.py",
    "search/test_ties.py",
    "answers/price/test_wyndor.py",
    "brief/test_faults.py",
    "brief/test_files.py",
    "brief/test_guards.py",
    "brief/test_reading.py",
    "chemistry",
    "law",
    "library",
    "measures",
    "program/test_brute_force.py",
    "program/rows/test_rules_bind.py",
    "program/test_titles.py",
    "sheets/record/test_batch.py",
    "sheets/test_label.py",
    "sheets/purchase/test_shopping.py",
    "sheets/test_unit_cost.py",
    "solver",
    "test_places.py",
    "views/data/test_json_document.py",
    "views/test_output.py",
    "views/render/test_text.py",
)
"""Files and folders with what matters most in each room; all of it runs in a minute and a half."""


def pytest_configure():
    """Let Ctrl-C count in every process that a test starts, also where this run was put into the background."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_collection_modifyitems(config, items):
    slow_asked = "slow" in (config.option.markexpr or "")
    for item in items:
        place = item.path.relative_to(Path(__file__).parent).as_posix()
        if place.startswith(CORE):
            item.add_marker("core")
        if item.get_closest_marker("slow") and not slow_asked:
            item.add_marker(pytest.mark.skip(reason="opt-in: pytest -m slow"))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Let each worker go through neighbours, which share what is worked out once; who is done takes from the others."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log) if config.getoption("dist") == "load" else None


def pytest_report_header():
    """Nothing of the core may be lost in silence when a file is renamed."""
    missing = [name for name in CORE if not (Path(__file__).parent / name).exists()]
    assert not missing, missing
