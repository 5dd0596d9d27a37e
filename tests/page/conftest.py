import pytest

from tests.page.bench import BRIEF, Bench, Unasked
from tests.page.walked import chromium


@pytest.fixture
def bench(tmp_path):
    return Bench(tmp_path)


@pytest.fixture
def briefed(tmp_path):
    """A folder with one brief, where no question is worked out."""
    bench = Bench(tmp_path, Unasked())
    bench.write("quince.toml", BRIEF)
    return bench


@pytest.fixture(scope="module")
def browser(request):
    asked = request.config.option.markexpr or ""
    if not {"browser", "benchmark"} & set(asked.split()):
        pytest.skip("opt-in: pytest -m browser")
    api = pytest.importorskip("playwright.sync_api")
    with api.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"])
        yield found
        found.close()
