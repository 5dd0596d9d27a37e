"""Where results go: never two in one place, never onto what is read, and refused before any work."""

from __future__ import annotations

import contextlib
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from optiform import sheets
from optiform.answers import check, design, evaluate, price, rework
from optiform.cli import main
from optiform.library.adding import copy_starter
from optiform.sheets.purchase.plan import Plan
from tests.answers.rework.today import STARTER_TODAY

ROOT = Path(__file__).parents[1]
posix = pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions, links and streams")
PLAN = """\
title = "Spring"
[[make]]
title = "Nettle gel"
formula = "today.csv"
batch = "5kg"
"""


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder in which every piece of work fails the test: what is refused is refused before."""
    monkeypatch.chdir(tmp_path)
    copy_starter("mine")
    brief = (ROOT / "problems" / "nettle-gel-oily-skin" / "brief.toml").read_text(encoding="utf-8")
    start = brief.index("\n[")
    Path("wash.toml").write_text(brief[:start] + '\nlibrary = "mine"\n' + brief[start:], encoding="utf-8")
    lines = "\n".join(f"{name},{percent}" for name, percent in STARTER_TODAY)
    Path("today.csv").write_text(f"material,percent\n{lines}\n")
    Path("baseline.toml").write_text(
        'title = "as today"\nlibrary = "mine"\n[baseline]\nformula = "today.csv"\nkeep = ["water"]\n'
    )
    Path("spring.toml").write_text(PLAN)
    Path("unit.toml").write_text('[unit]\nfill = "200 mL"\n')
    Path("new.csv").write_text("material,price\ndecyl-glucoside,9.00\n")
    Path("products").mkdir()
    shutil.copy("today.csv", "products/today.csv")

    def worked(*words, **named):
        raise AssertionError("work was done before the refusal")

    for place, name in (
        (design, "design"),
        (check, "check"),
        (price, "why"),
        (evaluate, "evaluate"),
        (rework, "reformulate"),
        (sheets, "make_sheet"),
        (Plan, "shopping"),
    ):
        monkeypatch.setattr(place, name, worked)
    monkeypatch.setattr("optiform.answers.recost.run.recost_one", worked)
    return tmp_path


def everything(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


@pytest.mark.parametrize(
    "words",
    [
        "design wash.toml --out wash.toml",
        "design wash.toml --out ./mine/../wash.toml",
        "design wash.toml --out mine/materials.csv",
        "check wash.toml --out mine/library.toml",
        "why wash.toml decyl-glucoside --out mine/composition.csv",
        "design baseline.toml --out today.csv",
        "evaluate today.csv --out today.csv",
        "evaluate today.csv --brief wash.toml --out wash.toml",
        "reformulate baseline.toml --out today.csv",
        "reformulate --from today.csv --aim cheaper --write today.csv",
        "sheet today.csv --batch 2kg --xlsx today.csv",
        "sheet today.csv --batch 2kg --unit unit.toml --out unit.toml",
        "shop spring.toml --out spring.toml",
        "shop spring.toml --out today.csv",
        "recost products --prices new.csv --out new.csv",
        "recost products --prices new.csv --out products/today.csv",
    ],
)
def test_no_result_is_written_onto_what_it_comes_from(desk, capsys, words):
    before = everything(desk)
    assert main([*words.split(), "--force"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "would write over it" in said.err or "among the products" in said.err
    assert everything(desk) == before


@posix
@pytest.mark.parametrize("link", [os.symlink, os.link])
def test_a_link_to_what_is_read_counts_as_it(desk, capsys, link):
    link(Path("wash.toml").resolve(), "other.toml")
    assert main(["design", "wash.toml", "--out", "other.toml", "--force"]) == 2
    assert "would write over it" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        "sheet today.csv --batch 2kg --out a.xlsx --xlsx a.xlsx",
        "shop spring.toml --out a.xlsx --xlsx ./mine/../a.xlsx",
        "reformulate --from today.csv --aim cheaper --write a.toml --out a.toml",
        "recost products --prices new.csv --out a.jsonl --journal a.jsonl",
    ],
)
@pytest.mark.parametrize("there", [False, True])
def test_two_results_never_share_a_name(desk, capsys, words, there):
    if there:
        Path(words.rsplit(maxsplit=1)[-1]).write_bytes(b"")
    before = everything(desk)
    assert main([*words.split(), "--force"]) == 2
    assert "names the same file" in capsys.readouterr().err
    assert everything(desk) == before


@pytest.mark.parametrize("name", ["n" * 256, "a\0b", "", "nowhere/a.txt", "mine", "today.csv"])
def test_a_name_that_cannot_be_written_is_refused_before_the_work(desk, capsys, name):
    before = everything(desk)
    assert main(["design", "wash.toml", "--out", name]) == 2
    assert "--out" in capsys.readouterr().err
    assert everything(desk) == before


@pytest.mark.parametrize("words", ["doctor", "library check", "design wash.toml"])
def test_a_form_that_no_command_has_is_refused_before_the_work(desk, capsys, words):
    assert main([*words.split(), "--format", "xls"]) == 2
    said = capsys.readouterr().err.replace("\n", " ")
    assert "'xls' is not one of 'text', 'json', 'csv', 'md', 'html'" in said
    assert "Value error" not in said


@contextlib.contextmanager
def ordinary_user():
    """Be nobody in particular for a while; the tests may run as root, to whom everything is allowed."""
    if os.geteuid() != 0:
        yield
        return
    os.setresuid(65534, 65534, 0)
    try:
        yield
    finally:
        os.setresuid(0, 0, 0)


def everybody_reads(place):
    """Tell whether every user may look into a folder."""
    return all(folder.stat().st_mode & 0o001 for folder in (place, *place.parents))


@posix
def test_what_an_ordinary_user_may_not_write_is_refused_before_the_work(capsys):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "mine.txt").write_text("precious")
        (folder / "mine.txt").chmod(0o444)
        (folder / "open").mkdir()
        (folder / "open" / "theirs.txt").write_text("precious")
        (folder / "open" / "theirs.txt").chmod(0o444)
        (folder / "open").chmod(0o777)
        folder.chmod(0o555)
        if not everybody_reads(ROOT):
            pytest.skip(
                "this checkout is for its owner alone: an ordinary user cannot read the library in it"
            )
        with ordinary_user():
            codes = [
                main(["library", "list", "--out", str(folder / name), "--force"])
                for name in ("new.txt", "mine.txt", "open/theirs.txt")
            ]
            whole = main(["library", "list", "--out", str(folder / "open" / "new.txt")])
        said = capsys.readouterr().err
        assert codes == [2, 2, 2]
        assert whole == 0
        assert "nothing can be written into this folder" in said
        assert said.count("this file is not to be changed") == 2
        folder.chmod(0o755)
        assert (folder / "mine.txt").read_text() == (folder / "open" / "theirs.txt").read_text() == "precious"
        assert sorted(path.name for path in (folder / "open").iterdir()) == ["new.txt", "theirs.txt"]


def shell(line):
    """Run a line of shell, `optiform` being this source tree's."""
    program = f"{shlex.quote(sys.executable)} -m optiform"
    return subprocess.run(
        ["bash", "-c", line.replace("optiform", program)],
        capture_output=True,
        text=True,
        check=False,
        timeout=600,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


@posix
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_full_standard_output_says_so(form):
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    ended = shell(f"optiform library list --format {form} > /dev/full")
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "standard output: not all of the result could be written (No space left on device)" in ended.stderr
    assert "Traceback" not in ended.stderr and "Exception" not in ended.stderr


@posix
def test_a_closed_standard_output_is_told_before_the_work():
    ended = shell("optiform library list >&-")
    assert ended.returncode == 2
    assert "standard output: is closed" in ended.stderr
    assert "Traceback" not in ended.stderr


@posix
def test_a_reader_that_goes_away_is_told_of():
    reading, writing = os.pipe()
    os.close(reading)
    ended = subprocess.run(
        [sys.executable, "-m", "optiform", "library", "list"],
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        timeout=600,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    os.close(writing)
    assert ended.returncode == 2
    assert "not all of the result could be written (Broken pipe)" in ended.stderr
    assert "Traceback" not in ended.stderr and "Exception" not in ended.stderr


@posix
@pytest.mark.parametrize("end", ["2>&-", "2>/dev/full"])
def test_where_nothing_can_be_said_the_result_is_whole_all_the_same(end):
    """With standard error closed, what belongs there must not slip into the result."""
    plain, closed = (
        shell("optiform library list --format csv"),
        shell(f"optiform library list --format csv {end}"),
    )
    assert (closed.returncode, closed.stdout) == (plain.returncode, plain.stdout) == (0, plain.stdout)
    wrong = shell(f"optiform library list nowhere {end}")
    assert (wrong.returncode, wrong.stdout) == (2, "")
