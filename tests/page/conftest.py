import pytest

from tests.page.bench import BRIEF, Bench, Unasked


@pytest.fixture
def bench(tmp_path):
    return Bench(tmp_path)


@pytest.fixture
def briefed(tmp_path):
    """A folder with one brief, where no question is worked out."""
    bench = Bench(tmp_path, Unasked())
    bench.write("quince.toml", BRIEF)
    return bench
