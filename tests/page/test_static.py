"""The one script library is the file that its authors published, with its licence; starting loads none of the page."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from importlib import resources

from optiform.page.pages import static

HTMX = "e209dda5c8235479f3166defc7750e1dbcd5a5c1808b7792fc2e6733768fb447"
"""SHA-256 of dist/htmx.min.js in the npm package htmx.org 2.0.4, taken when it was put here."""
STATIC = resources.files("optiform.page") / "static"


def test_the_script_library_is_the_published_file_with_its_licence():
    assert hashlib.sha256((STATIC / "htmx.min.js").read_bytes()).hexdigest() == HTMX
    assert "Zero-Clause BSD" in (STATIC / "htmx.LICENSE.txt").read_text()
    assert sorted(path.name for path in STATIC.iterdir()) == [
        "htmx.LICENSE.txt",
        "htmx.min.js",
        "look.css",
        "page.js",
    ]


def test_only_the_files_of_the_pages_are_handed_out(bench):
    assert bench.get("/static/htmx.min.js").body == (STATIC / "htmx.min.js").read_bytes()
    assert b".wish" in bench.get("/static/look.css").body
    for name in ("page.css", "../app.py", "..%2Fapp.py", "htmx.LICENSE.txt", ""):
        assert bench.get(f"/static/{name}").status == 404
    assert static("no") is None


def test_help_and_start_load_none_of_the_page():
    code = (
        "import sys\nfrom optiform.cli import main\nmain(['-h'])\nmain(['start'])\n"
        "found = {'starlette', 'uvicorn', 'tomlkit', 'multipart', 'python_multipart'} & set(sys.modules)\n"
        "sys.exit(str(found) if found else 0)"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
