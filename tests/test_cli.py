"""The command line: exit codes, streams, help, and whole runs of the program."""

import csv
import io
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from unittest.mock import patch

import pytest

from optiform.brief.starting import skins, textures
from optiform.cli import main
from optiform.cli.app import TASKS
from optiform.cli.entry import command
from tests.views.data.test_json_document import ANSWER, conform

ROOT = Path(__file__).parents[1]
LIBRARY_TOML = """\
name = "Corner of the quay"
[[system]]
name = "phenoxyethanol"
members = { phenoxyethanol = [0.8, 0.9] }
"""
MATERIALS = """\
id,name,function,phase,price,min_if_used,max_use,handling
water,Water,water,water,0.05,0,100,
decyl-glucoside,"Decyl glucoside, 50 %",surfactant,surfactant,5.0,1,40,
betaine,"Betaine, 30 %",surfactant,surfactant,3.0,1,40,eye-damage
nettle-extract,Nettle extract,extract,cool,14,0.5,5,
phenoxyethanol,Phenoxyethanol,preservative,cool,8,0.1,1,
"""
SUBSTANCES = """\
inci,charge_class,mildness,charge_acid_form,strong_charge
Aqua,,,,
Decyl Glucoside,nonionic,70,0,0
Cocamidopropyl Betaine,amphoteric,80,0,0
Urtica Dioica Leaf Extract,,,0,0
Phenoxyethanol,,,0,0
"""
COMPOSITION = """\
material,inci,percent
water,Aqua,100
decyl-glucoside,Decyl Glucoside,50
decyl-glucoside,Aqua,50
betaine,Cocamidopropyl Betaine,30
betaine,Aqua,70
nettle-extract,Urtica Dioica Leaf Extract,100
phenoxyethanol,Phenoxyethanol,100
"""
BRIEF = """\
title = "Nettle wash"
library = "quay"
law = "none"
[targets]
"active matter" = { at_least = 10.0, at_most = 12.0 }
mildness = { at_least = 74 }
[[include]]
material = "nettle-extract"
at_least = 1.0
"""
TODAY = """\
material,percent
water,q.s.
betaine,30
nettle-extract,9
"""


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder with a small library, a brief, one that cannot be met, a wrong one, and a formula."""
    files = {
        "quay/library.toml": LIBRARY_TOML,
        "quay/materials.csv": MATERIALS,
        "quay/substances.csv": SUBSTANCES,
        "quay/composition.csv": COMPOSITION,
        "wash.toml": BRIEF,
        "clash.toml": BRIEF + '[[exclude]]\nmaterial = "betaine"\n',
        "wrong.toml": BRIEF.replace("mildness", "mildnes").replace("nettle-extract", "netle-extract"),
        "keys.toml": "titel = 'x'\n" + BRIEF,
        "today.csv": TODAY,
    }
    for name, content in files.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(content)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words):
    """Run a command in a process of its own, with this source tree."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(words, check=False, capture_output=True, text=True, env=environment, timeout=600)


def program(*words):
    """Run the program as a user does."""
    return run(sys.executable, "-m", "optiform", *words)


def script(code):
    """Run a few lines of Python."""
    return run(sys.executable, "-c", code)


def test_design_answers_and_ends_with_0(desk, capsys):
    assert main(["design", "wash.toml"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Nettle wash  ") and "proven the best" in out.splitlines()[0]
    assert "What to weigh" in out and "Take care: " in out
    assert err == ""
    assert max(map(len, out.splitlines())) <= 80


def test_everything_is_told_in_full(desk, capsys):
    assert main(["design", "wash.toml", "--full"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Nettle wash\n===========\n")
    assert "Formula 1: " in out
    assert "What each wish costs" in out
    assert "Cautions" in out
    assert err == ""
    assert max(map(len, out.splitlines())) <= 80


def test_a_brief_that_cannot_be_met_is_an_answer_with_3(desk, capsys):
    assert main(["design", "clash.toml"]) == 3
    out, err = capsys.readouterr()
    assert out.splitlines()[0].endswith("  cannot be met")
    assert "mildness at least 74" in out
    assert err == ""
    assert main(["check", "clash.toml", "--format", "json"]) == 3
    found = json.loads(capsys.readouterr().out)
    conform(found, ANSWER)
    assert found["status"] == "conflict"
    assert found["formulas"] == []


def test_bad_input_lists_every_fault_and_ends_with_2(desk):
    ended = program("design", "wrong.toml")
    assert ended.returncode == 2
    assert ended.stdout == ""
    assert "2 things are wrong:" in ended.stderr
    assert "did you mean 'mildness'?" in ended.stderr
    assert "did you mean 'nettle-extract'?" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_an_unknown_key_is_named_with_the_nearest(desk, capsys):
    assert main(["check", "keys.toml"]) == 2
    err = capsys.readouterr().err
    assert "keys.toml" in err
    assert "titel" in err
    assert "did you mean 'title'?" in err


@pytest.mark.parametrize(
    "words",
    [["desing", "wash.toml"], ["design"], ["design", "nowhere.toml"], ["design", "wash.toml", "--format", "pdf"],
     ["design", "wash.toml", "--seconds", "-1"], ["library", "show", "xantan-gum"], ["start", "--for", "oyl"],
     ["library", "list", "--function", "surfactnt"], ["library", "list", "--tag", "sulfat"],
     ["evaluate", "today.csv", "--brief", "wash.toml", "--library", "quay"], ["evaluate", "nowhere.csv"],
     ["library", "show", "glycerin", "--format", "xls"], ["design", "wash.toml", "--out", "nowhere/x.txt"],
     ["design", "wash.toml", "--out", "today.csv"], ["library", "copy", "quay"], []],
)  # fmt: skip
def test_whatever_the_user_mistypes_ends_with_2_and_says_so(desk, capsys, words):
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    if words:
        assert out == ""
        assert err


@pytest.mark.parametrize(
    ("words", "row"),
    [
        (("library", "show", "glycerin"), ["Facts", "function", "value", "humectant"]),
        (
            ("library", "check"),
            ["Where the numbers of each column come from", "materials", "column", "price"],
        ),
        (("doctor",), ["Versions", "python", "version", ".".join(map(str, sys.version_info[:3]))]),
    ],
)
def test_tables_that_are_unlike_are_one_csv_of_their_cells(capsys, words, row):
    assert main([*words, "--format", "csv"]) == 0
    columns, *rows = csv.reader(io.StringIO(capsys.readouterr().out))
    assert columns == ["table", "row", "column", "value"]
    assert row in rows
    assert {len(one) for one in rows} == {4}


def test_our_failure_ends_with_1_and_says_how_to_report(desk, capsys, monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr("optiform.answers.evaluate.evaluate", fail)
    assert main(["evaluate", "today.csv", "--library", "quay"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "ZeroDivisionError: a bug" in err
    assert "report it" in err
    assert "--debug" in err
    with pytest.raises(ZeroDivisionError):
        main(["evaluate", "today.csv", "--library", "quay", "--debug"])


def test_breaks_are_an_answer(desk, capsys):
    assert main(["evaluate", "today.csv", "--library", "quay", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    conform(found, ANSWER)
    titles = [item["requirement"] for item in found["formulas"][0]["breaks"]]
    assert any("nettle-extract at most 5" in title for title in titles)
    assert any("preserved" in title for title in titles)


def test_two_runs_give_the_same_bytes_and_one_document(desk):
    runs = [program("design", "wash.toml", "--format", "json") for _ in range(2)]
    assert [run.returncode for run in runs] == [0, 0]
    assert len({run.stdout for run in runs}) == 1
    conform(json.loads(runs[0].stdout), ANSWER)
    assert runs[0].stderr == ""


@pytest.mark.parametrize("form", ["text", "json", "csv", "md", "html"])
def test_a_file_holds_what_the_screen_would_show(desk, capsys, form):
    assert main(["check", "wash.toml", "--format", form]) == 0
    shown = capsys.readouterr().out
    assert main(["check", "wash.toml", "--format", form, "--out", "out"]) == 0
    out = capsys.readouterr().out
    assert out == ""
    assert (desk / "out").read_text(encoding="utf-8") == shown
    assert main(["check", "wash.toml", "--format", form, "--out", "out"]) == 2
    assert main(["check", "wash.toml", "--format", form, "--out", "out", "--force"]) == 0


def test_csv_keeps_the_cautions_off_the_data_but_not_away(desk, capsys):
    assert main(["design", "wash.toml", "--format", "csv"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("rank,material,name,")
    assert "Candidates to trial" not in out
    assert "Candidates to trial" in err


def test_a_time_limit_of_nothing_ends_with_4(desk, capsys, monkeypatch):
    moments = iter(range(0, 10_000_000, 1000))
    monkeypatch.setattr(time, "monotonic", lambda: next(moments))
    assert main(["design", "wash.toml", "--seconds", "0.1", "--format", "json"]) == 4
    found = json.loads(capsys.readouterr().out)
    conform(found, ANSWER)
    assert found["status"] == "stopped"
    assert found["proven"] is False


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_ctrl_c_keeps_the_best_so_far(desk):
    code = (
        "import sys, os, signal\n"
        "import optiform.answers.design as question\n"
        "import optiform.stopping as stopping\n"
        "stopping.PATIENCE = 600.0\n"
        "design = question.design\n"
        "def after_a_signal(*a, **k):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    from optiform.stopping import interrupted\n"
        "    assert interrupted()\n"
        "    return design(*a, **k)\n"
        "question.design = after_a_signal\n"
        "from optiform.cli import main\n"
        "sys.exit(main(['design', 'wash.toml', '--format', 'json']))\n"
    )
    ended = script(code)
    assert ended.returncode in (0, 4), ended.stderr
    conform(json.loads(ended.stdout), ANSWER)
    assert "Traceback" not in ended.stderr
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize(
    ("words", "code", "status"),
    [
        (("design", "wash.toml"), 4, "stopped"),
        pytest.param(("check", "wash.toml"), 4, "stopped", marks=pytest.mark.slow),
        pytest.param(("why", "wash.toml", "betaine"), 4, "stopped", marks=pytest.mark.slow),
        pytest.param(
            ("reformulate", "--from", "today.csv", "--aim", "cheaper", "--library", "quay"),
            4,
            "stopped",
            marks=pytest.mark.slow,
        ),
        (("tradeoff", "wash.toml"), 4, "stopped"),
        (("design", "clash.toml"), 3, "conflict"),
    ],
)
def test_an_answer_that_ctrl_c_may_have_cut_short_never_calls_itself_whole(desk, words, code, status):
    """Pressed at the last moment: what was left out cannot be told from what is there, so nothing is called proven."""
    room = {"why": "price", "reformulate": "rework"}.get(words[0], words[0])
    ended = script(
        "import sys, os, signal\n"
        f"import optiform.answers.{room} as answers\n"
        "import optiform.stopping as stopping\n"
        "stopping.PATIENCE = 600.0\n"
        f"ask = answers.{words[0]}\n"
        "def after_a_signal(*a, **k):\n"
        "    found = ask(*a, **k)\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    return found\n"
        f"answers.{words[0]} = after_a_signal\n"
        "from optiform.cli import main\n"
        f"sys.exit(main([*{words!r}, '--format', 'json']))\n"
    )
    found = json.loads(ended.stdout)
    assert (ended.returncode, found["status"]) == (code, status), ended.stderr
    assert found["proven"] is (status == "conflict")
    assert "Stopped early" in found["notes"][0]
    assert ended.stderr.startswith("Stopped")


def test_a_closed_pipe_is_no_failure(desk):
    command = f"{shlex.quote(sys.executable)} -m optiform library list | head -1"
    ended = run("bash", "-c", command)
    assert ended.stdout.count("\n") == 1
    assert "Traceback" not in ended.stderr


HEAVY = ("scipy", "pandas", "pulp", "highspy", "openpyxl", "optiform.solver", "optiform.program", "rich")


@pytest.mark.parametrize(
    "words",
    [
        ["-h"],
        ["design", "-h"],
        ["library", "-h"],
        ["--version"],
        ["library", "show", "xanthan-gum"],
        ["library", "show", "xanthan-gum", "--format", "json"],
        ["library", "list"],
        ["start"],
    ],
)
def test_what_needs_no_solver_loads_none(words, tmp_path):
    code = (
        "import sys, io\n"
        "from optiform.cli import main\n"
        "out, sys.stdout = sys.stdout, io.StringIO()\n"
        f"code = main({words!r})\n"
        "sys.stdout = out\n"
        "print(code, *sorted(sys.modules))\n"
    )
    ended = script(code)
    code_and_modules = ended.stdout.split()
    assert code_and_modules[0] == "0", ended.stderr
    assert not [name for name in HEAVY if name in code_and_modules]


def test_help_reads_no_library():
    """Help and version come before pydantic and numpy are loaded."""
    ended = script("import sys\nfrom optiform.cli import main\nmain(['-h'])\nprint(*sorted(sys.modules))\n")
    assert not {"pydantic", "numpy", "optiform.library"} & set(ended.stdout.splitlines()[-1].split())


def test_importing_the_package_is_light_and_lists_what_it_offers():
    code = (
        "import sys, optiform\n"
        "print(*sorted(sys.modules))\n"
        "missing = [name for name in optiform.__all__ if not hasattr(optiform, name)]\n"
        "assert not missing, missing\n"
        "assert callable(optiform.design) and callable(optiform.check) and callable(optiform.load_brief)\n"
        "assert set(optiform.__all__) <= set(dir(optiform))\n"
    )
    ended = script(code)
    assert ended.returncode == 0, ended.stderr
    assert not {"numpy", "pydantic", "highspy", "typer"} & set(ended.stdout.split())


def test_an_unknown_name_of_the_package_is_an_attribute_error():
    import optiform

    with pytest.raises(AttributeError, match="nothing"):
        _ = optiform.nothing


# help


def commands():
    """Return every command as words, groups included."""
    found = [[]]
    for name, one in command().commands.items():
        found.append([name])
        found += [[name, inner] for inner in getattr(one, "commands", {})]
    return found


def help_of(words, flag="-h"):
    return printed((*words, flag))


@cache
def printed(words):
    """Return what a command prints on a screen of 80 columns."""
    shown = io.StringIO()
    with patch.dict(os.environ, COLUMNS="80"), redirect_stdout(shown):
        assert main(words) == 0
    return shown.getvalue()


def test_there_are_commands_to_test():
    assert {"start", "design", "check", "evaluate", "doctor", "library"} <= {
        words[0] for words in commands() if words
    }
    assert {"check", "list", "show", "add"} <= {words[1] for words in commands() if len(words) == 2}


def test_the_help_lists_every_command_under_one_task():
    listed = [name for names in TASKS.values() for name in names]
    assert sorted(listed) == sorted({words[0] for words in commands() if words})
    text = help_of(())
    assert all(f"\n{task}:\n" in text for task in TASKS)
    assert text.index("  check ") < text.index("  design ") < text.index("  doctor ")


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_every_help_fits_80_columns_and_shows_an_example(words):
    text = help_of(words)
    assert text == help_of(words, "--help")
    assert max(map(len, text.splitlines())) <= 80
    assert "..." not in text.partition("COMMAND [ARGS]...")[2], "a one-line help is cut off"
    assert examples(text), text


TODAYS_WASH = """\
material,percent
water,q.s.
sodium-laureth-sulfate-70,8
cocamidopropyl-betaine-38,5
coco-glucoside,4
glycerin,3
xanthan-gum,0.6
sodium-benzoate,0.45
potassium-sorbate,0.25
citric-acid,0.2
"""
CHEAPER = """\
title = "Today's wash, cheaper"
[targets]
"active matter" = { at_least = 9.0 }
pH = { at_least = 4.6, at_most = 5.2 }
[baseline]
formula = "today.csv"
hold = { mildness = 3.0 }
at_most_new = 1
"""


def examples(text):
    lines = text.replace("\\\n", " ").splitlines()
    return [line.strip() for line in lines if re.match(r" +optiform ", line)]


EXAMPLES = [words for words in commands() if words and examples(help_of(words))]
EVENINGS = Path(__file__).parents[1] / "problems" / "three-evenings"
FIRST = ["optiform start", "optiform library copy"]
"""What other examples build on."""


LONG = (["reformulate"], ["tradeoff"])


@pytest.fixture(scope="module")
def after_first_steps(tmp_path_factory):
    """What a newcomer's folder holds after the first steps, and what stands beside it."""
    place = tmp_path_factory.mktemp("newcomer")
    (place / "my-washes").mkdir()
    (place / "today.csv").write_text(TODAYS_WASH)
    (place / "cheaper.toml").write_text(CHEAPER)
    (place / "new.csv").write_text("material,price\nsodium-laureth-sulfate-70,9\n")
    (place / "products").mkdir()
    (place / "products/today.csv").write_text(TODAYS_WASH)
    shutil.copytree(EVENINGS / "bench", place / "bench")
    shutil.copy(EVENINGS / "nettle.toml", place / "sure.toml")
    (place / "spring.toml").write_text('title = "Spring"\n[[make]]\nformula = "today.csv"\nbatch = "2kg"\n')
    product = '[[product]]\nbrief = "nettle.toml"\nbatch = "2kg"\n'
    (place / "washes.toml").write_text(f'title = "Washes"\nminimise = "consumed"\n{product}')
    before = Path.cwd()
    os.chdir(place)
    try:
        for line in first_steps():
            runs_without_a_fault(line)
    finally:
        os.chdir(before)
    return place


def first_steps():
    """Return the examples that others build on, in the order in which they can be run."""
    lines = {line for words in EXAMPLES for line in examples(help_of(words))}
    return sorted(line for line in lines if line.startswith(tuple(FIRST)))


def runs_without_a_fault(line):
    """Run an example; it may not say that something is wrong, and a long one may be cut short."""
    given = shlex.split(line)[1:]
    long = given[0] in ("design", "tradeoff")
    said = io.StringIO()
    with redirect_stderr(said), redirect_stdout(io.StringIO()):
        ended = main([*given, "--seconds", "5"] if long else given)
    assert ended in ((0, 4) if long else (0,)), line
    assert "wrong" not in said.getvalue(), line


@pytest.mark.parametrize(
    "words",
    [pytest.param(words, marks=pytest.mark.slow) if words in LONG else words for words in EXAMPLES],
    ids=" ".join,
)
def test_every_example_of_the_help_runs(after_first_steps, tmp_path, words, monkeypatch):
    """After the first steps of a newcomer; what serves pages until it is stopped is stopped at once."""
    monkeypatch.setattr("uvicorn.Server.run", lambda server, sockets: [one.close() for one in sockets])
    monkeypatch.setattr("webbrowser.open", lambda place: True)
    desk = shutil.copytree(after_first_steps, tmp_path / "desk")
    monkeypatch.chdir(desk)
    for line in examples(help_of(words)):
        if line not in first_steps():
            runs_without_a_fault(line)


def test_the_words_of_start_are_those_of_its_help():
    text = help_of(["start"])
    assert ", ".join(skins()) in text
    assert ", ".join(textures()) in text


# library


def test_a_faulty_library_shows_all_its_faults(desk, capsys):
    (desk / "quay/materials.csv").write_text(
        MATERIALS.replace("5.0,1,40", "cheap,1,40").replace("extract,cool", "extrakt,cool")
    )
    assert main(["library", "check", "quay"]) == 2
    out = capsys.readouterr().out
    assert "2 faults" in out
    assert "cheap" in out
    assert "extrakt" in out
    assert main(["library", "check", "quay", "--format", "json"]) == 2
    assert len(json.loads(capsys.readouterr().out)["faults"]) == 2


def test_one_material_is_shown_whole(desk, capsys):
    assert main(["library", "show", "phenoxyethanol", "--library", "quay"]) == 0
    out = capsys.readouterr().out
    assert "0.1 to 1 % w/w" in out
    assert "phenoxyethanol: 0.8 to 0.9 % w/w." in out
    assert main(["library", "show", "betaine", "--library", "quay"]) == 0
    assert "Injures eyes and skin" in capsys.readouterr().out


def test_a_list_is_narrowed_by_function_and_tag(capsys):
    assert (
        main(["library", "list", "--function", "thickener", "--tag", "cationic-polymer", "--format", "json"])
        == 0
    )
    ids = [item["id"] for item in json.loads(capsys.readouterr().out)["materials"]]
    assert ids == ["cationic-guar"]
    assert main(["library", "list", "--format", "csv"]) == 0
    assert capsys.readouterr().out.startswith("id,name,function,")


def test_a_name_is_answered_with_its_id(capsys):
    assert main(["library", "show", "Glycerin, plant, 99.5 %"]) == 2
    assert "did you mean 'glycerin'?" in capsys.readouterr().err


def test_a_material_is_added_and_found_again(desk, capsys):
    words = ["library", "add", "soft-betaine", "--library", "quay", "--name", "Soft", "--function", "surfactant",
             "--price", "3.2", "--content", "Cocamidopropyl Betaine=30:29:31", "--set", "phase=surfactant"]  # fmt: skip
    before = (desk / "quay/materials.csv").read_bytes()
    assert main([*words, "--dry-run"]) == 0
    assert (desk / "quay/materials.csv").read_bytes() == before
    assert main(words) == 0
    assert "Added to" in capsys.readouterr().err
    assert main(["library", "show", "soft-betaine", "--library", "quay"]) == 0
    assert "30.00  Cocamidopropyl Betaine" in capsys.readouterr().out
    assert main(words) == 2
    assert "already" in capsys.readouterr().err


def test_every_unreadable_word_of_a_new_material_is_named(desk, capsys):
    words = [
        "library",
        "add",
        "x",
        "--library",
        "quay",
        "--content",
        "Aqua",
        "--content",
        "=3",
        "--set",
        "phase",
    ]
    assert main(words) == 2
    assert "3 things are wrong" in capsys.readouterr().err


def test_a_terminal_hears_which_file_was_written_and_a_pipe_does_not(desk, capsys, monkeypatch):
    assert main(["design", "wash.toml", "--format", "html", "--out", "quiet.html"]) == 0
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    assert main(["start", "--out", "new.toml"]) == 0
    assert "Wrote new.toml." in capsys.readouterr().err


def test_a_terminal_shows_faults_on_lines_of_its_width_and_a_pipe_each_on_one(desk, capsys, monkeypatch):
    """No word is parted, and no figure from its unit; what is said is the same."""
    Path("paper.csv").write_text("Ingredient,%\nAqua,q.s.\nDecyl Glucoside,12\nLactic acid,0.5\n")
    assert main(["evaluate", "paper.csv"]) == 2
    piped = capsys.readouterr().err.splitlines()
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "60")
    assert main(["evaluate", "paper.csv"]) == 2
    shown = capsys.readouterr().err
    assert max(map(len, piped)) > 100 and max(map(len, shown.splitlines())) <= 60
    assert shown.split() == " ".join(piped).split()
    assert [line[:4].strip() for line in shown.splitlines() if line.startswith("%")] == []
    assert sum(line.startswith("  p") for line in shown.splitlines()) == len(piped) - 1 == 2
