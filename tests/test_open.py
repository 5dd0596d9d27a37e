"""A folder of work is opened where it is there, and made only after a yes (custom of command lines, no source)."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from optiform.cli import main
from optiform.cli.materials import asking
from optiform.page import serving


@pytest.fixture
def opened(tmp_path, monkeypatch):
    """Return the folders that were served; nothing is."""
    monkeypatch.chdir(tmp_path)
    served = []

    def noted(folder, _):
        served.append(folder)
        return SimpleNamespace(address="http://127.0.0.1:1/", serve=lambda: None)

    monkeypatch.setattr(serving, "opened", noted)
    return served


def answered(monkeypatch, word):
    """Put somebody at the terminal who answers with a word."""
    monkeypatch.setattr(asking, "on_terminal", lambda: True)
    monkeypatch.setattr(asking, "ask", lambda question, usual="": word or usual)


@pytest.mark.parametrize("named", [[], ["washes"], ["work/autumn"]])
def test_a_folder_is_made_after_a_yes(opened, monkeypatch, named):
    answered(monkeypatch, "yes")
    assert main(["open", *named, "--no-browser"]) == 0
    folder = Path(named[0] if named else "washes")
    assert opened == [folder] and folder.is_dir()


@pytest.mark.parametrize("word", ["", "no"])
def test_without_a_yes_nothing_is_made(opened, monkeypatch, capsys, word):
    answered(monkeypatch, word)
    assert main(["open", "--no-browser"]) == 2
    assert not opened and not Path("washes").exists()
    assert "Nothing was written." in capsys.readouterr().err


def test_without_a_terminal_it_says_what_to_type(opened, capsys):
    assert main(["open", "--no-browser"]) == 2
    assert "mkdir washes" in capsys.readouterr().err
    assert not opened and not Path("washes").exists()


def test_a_folder_that_is_there_is_opened_unasked(opened):
    Path("washes").mkdir()
    assert main(["open", "--no-browser"]) == 0
    assert opened == [Path("washes")]


@pytest.mark.parametrize("named", ["x" * 300, "x" * 300 + "/washes", "file", "file/washes"])
def test_what_can_be_no_folder_is_refused(opened, monkeypatch, capsys, named):
    """A name has at most 255 bytes (ext4, NTFS and APFS alike); below a file there is no folder."""
    Path("file").write_text("")
    for at_hand in (False, True):
        monkeypatch.setattr(asking, "on_terminal", lambda at_hand=at_hand: at_hand)
        monkeypatch.setattr(asking, "ask", lambda question, usual="": "yes")
        assert main(["open", named, "--no-browser"]) == 2
        assert "FOLDER" in capsys.readouterr().err
    assert opened == []
