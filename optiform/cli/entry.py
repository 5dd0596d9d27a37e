"""One run of the program: arguments in, exit code out, and every fault in plain words."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from functools import cache
from typing import Any

import typer
import typer.main

from optiform import stopping
from optiform.claims import claims_of_a_run
from optiform.cli import (
    basics,
    changing,
    completing,
    curves,
    families,
    folders,
    questions,
    sheets,
    trials,
)  # fmt: skip
from optiform.cli.app import BAD_INPUT, OURS, app, library_app, trial_app
from optiform.cli.materials import library, own_materials
from optiform.faults import GATHERED, BadInput, InternalError, cut, listed
from optiform.views.output import note
from optiform.views.words.blocks import TIED, tied

GROUPS = (
    basics, questions, curves, changing, library, own_materials, sheets, families, folders, trials,
)  # fmt: skip
"""The modules whose commands join the application when they are imported."""

WRONG_WORDS: type[Any] = typer.BadParameter.__mro__[2]
"""What is raised for a command line that cannot be read."""

app.add_typer(library_app, name="library")
app.add_typer(trial_app, name="trial")


@cache
def command(first: str = "") -> Any:
    """Return the command line that a first word asks for, its command alone or all: put together once in a process."""
    return typer.main.get_command(app.narrowed(first))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    0 answered, 1 our failure, 2 bad input, 3 the brief cannot be met, 4 stopped at a limit.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    debug = "--debug" in words
    words = [word for word in words if word != "--debug"]
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        with claims_of_a_run(), completing.as_bash_reads():
            code = command(words[0] if words else "")(args=words, prog_name="optiform", standalone_mode=False)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else OURS if end.code else 0
    except WRONG_WORDS as wrong:
        _say_wrong_words(wrong)
        return BAD_INPUT
    except BadInput as bad:
        _say_faults(bad)
        return BAD_INPUT
    except Exception as error:
        stopping.raise_again()
        if debug:
            raise
        _say_failure(error)
        return OURS
    return code if isinstance(code, int) else 0


def _say_wrong_words(wrong: Any) -> None:
    """Say what the reader of the command line says, its quotations cut short, and no word of its inner parts."""
    said = io.StringIO()
    wrong.show(said)
    for line in said.getvalue().replace("Value error, ", "").splitlines():
        note(cut(line))


def _say_faults(bad: BadInput) -> None:
    count = len(bad.faults)
    least = "At least " if count >= GATHERED else ""
    note("One thing is wrong:" if count == 1 else f"{least}{count:,} things are wrong:")
    for line in listed(bad.faults):
        note(_hung(line))


def _hung(line: str) -> str:
    """Return one fault as an indented line, broken between words where a terminal shows it."""
    if not sys.stderr.isatty():
        return f"  {line}"
    import shutil
    import textwrap

    text = textwrap.fill(
        tied(line),
        shutil.get_terminal_size().columns,
        initial_indent="  ",
        subsequent_indent="    ",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return text.replace(TIED, " ")


def _say_failure(error: Exception) -> None:
    kind = "" if isinstance(error, InternalError) else f"{type(error).__name__}: "
    note(f"optiform failed, and your input is not to blame: {kind}{error}")
    note("Please report it with the command, its files, and what `optiform doctor` prints.")
    note("The same command with --debug shows where it failed.")
