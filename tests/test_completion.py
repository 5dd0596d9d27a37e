"""What Tab offers, asked as each shell asks: by environment variables of the script that `--show-completion` prints.

The protocol is that of the script; a real bash runs it here. For zsh and fish the same question is asked as their
scripts ask it.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from optiform.brief.starting import skins, textures
from optiform.cli.entry import main
from optiform.library import load_library
from optiform.library.adding import copy_starter
from optiform.measures import Catalogue
from tests.asked import PROBLEMS

HEAVY = {"pandas", "scipy", "openpyxl", "matplotlib", "pulp", "highspy"}


@pytest.fixture
def house(tmp_path, monkeypatch):
    """A folder with a brief, a formula, a folder of products and a file of another kind."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(PROBLEMS / "nettle-gel-oily-skin" / "brief.toml", "nettle gel.toml")
    Path("today.csv").write_text("material,percent\nwater,100\n")
    Path("today.txt").write_text("")
    Path("products").mkdir()
    return tmp_path


@pytest.fixture
def offered(house, monkeypatch, capfd):
    """Return what zsh is offered behind the words so far, without its quotation marks and helps."""

    def ask(line):
        monkeypatch.setenv("_OPTIFORM_COMPLETE", "complete_zsh")
        monkeypatch.setenv("_TYPER_COMPLETE_ARGS", line)
        assert main([]) == 0
        text = capfd.readouterr().out.strip()
        if text == "_files":
            return None
        inside = text.removeprefix("_arguments '*: :((").removesuffix("))'")
        return [row.split('"')[1] for row in inside.splitlines()]

    return ask


def test_files_are_those_that_a_command_reads(offered):
    assert offered("optiform design n") == ["nettle gel.toml"]
    assert offered("optiform check n") == ["nettle gel.toml"]
    assert offered("optiform evaluate t") == ["today.csv"]
    assert offered("optiform evaluate ./t") == ["./today.csv"]
    assert offered("optiform evaluate today.csv --brief n") == ["nettle gel.toml"]
    assert offered("optiform trial add bench --formula t") == ["today.csv"]
    assert offered("optiform family n") == ["nettle gel.toml"]


def test_where_a_folder_fits_the_shell_goes_into_it(offered):
    assert offered("optiform evaluate p") is None
    assert offered("optiform design ") is None
    assert offered("optiform design products/") is None


def test_materials_are_those_of_the_library_in_use(offered, house):
    known = [item.id for item in load_library().materials if item.id.startswith("decyl")]
    assert offered("optiform why 'nettle gel.toml' decyl") == known
    assert offered("optiform swap today.csv decyl") == known
    assert offered("optiform lot today.csv --material decyl") == known
    assert offered("optiform bench today.csv --add decyl") == [f"{which}=" for which in known]
    for file in copy_starter(Path("mine")):
        file.write_text(file.read_text().replace("xanthan-gum", "quay-gum"))
    brief = Path("nettle gel.toml")
    brief.write_text('library = "mine"\n' + brief.read_text())
    assert offered("optiform why 'nettle gel.toml' quay") == ["quay-gum"]
    assert offered("optiform swap today.csv --library mine quay") == ["quay-gum"]


def test_measures_and_words_are_offered_whole(offered):
    names = Catalogue(load_library()).names()
    assert offered("optiform tradeoff x.toml --of ") == list(names)
    assert offered("optiform tradeoff x.toml --against nat") == [
        "natural origin",
        "natural origin without water",
    ]
    assert offered("optiform start --for ") == list(skins())
    assert offered("optiform start --texture ") == list(textures())
    assert offered("optiform schema library") == [
        f"library {word}" for word in ("check", "list", "show", "match")
    ]
    assert offered("optiform rec") == ["recost"]


@pytest.mark.parametrize("said", ["", "title = ", 'library = "nowhere"\n', "library = 3\n"])
def test_what_cannot_be_read_offers_nothing_and_says_nothing(offered, capfd, said):
    Path("broken.toml").write_text(said)
    found = offered("optiform why broken.toml xanthan")
    assert found == (["xanthan-gum"] if said == "" else None)
    assert not capfd.readouterr().err


def test_an_option_given_twice_is_no_fault_while_a_line_is_typed(offered):
    assert offered("optiform design --seconds 3 --seconds 4 n") == ["nettle gel.toml"]


def test_fish_is_told_the_name_beside_an_id(house, monkeypatch, capfd):
    monkeypatch.setenv("_OPTIFORM_COMPLETE", "complete_fish")
    monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "get-args")
    monkeypatch.setenv("_TYPER_COMPLETE_ARGS", "optiform library show xanthan-g")
    assert main([]) == 0
    assert capfd.readouterr().out.strip() == f"xanthan-gum\t{load_library().material['xanthan-gum'].name}"


BASH = """
optiform() { "$PYTHON" -m optiform "$@"; }
env() { command env "${@:1:3}" "$PYTHON" -m optiform; }
eval "$(optiform --show-completion bash)"
asked() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _optiform_completion optiform; printf '%s\\n' "${COMPREPLY[@]}"; }
asked optiform design n
asked optiform design '"nettle g'
asked optiform tradeoff x.toml --of 'natural\\ o'
"""


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash here")
def test_bash_gets_words_as_it_types_them(house):
    """A space is escaped, and is left alone inside a quotation that is still open."""
    ended = subprocess.run(
        ["bash", "--norc", "-c", BASH],
        env={**os.environ, "PYTHON": sys.executable},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert ended.stdout.splitlines() == [
        r"nettle\ gel.toml",
        "nettle gel.toml",
        r"natural\ origin",
        r"natural\ origin\ without\ water",
    ]


def test_tab_loads_nothing_heavy(house):
    code = "import sys\nfrom optiform.cli import main\nmain([])\nprint(*sys.modules)"
    asked = {
        "_OPTIFORM_COMPLETE": "complete_zsh",
        "_TYPER_COMPLETE_ARGS": "optiform why 'nettle gel.toml' decyl",
    }
    ended = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, **asked},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert "decyl-glucoside" in ended.stdout
    assert not HEAVY & set(ended.stdout.splitlines()[-1].split())
