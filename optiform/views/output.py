"""Writes a result in its form to its place, both checked before any work."""

from __future__ import annotations

import contextlib
import os
import sys
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from optiform import stopping
from optiform.claims import ALLOWED, FORCE, claim
from optiform.faults import BadInput, Fault, printable
from optiform.views.forms import result_of
from optiform.views.render import text

if TYPE_CHECKING:
    from collections.abc import Callable

    from optiform.answers.model.answer import Answer
    from optiform.views.forms import Result


class Format(StrEnum):
    """The forms in which a result can be given."""

    TEXT = "text"
    JSON = "json"
    CSV = "csv"
    MD = "md"
    HTML = "html"


STDOUT, OUT = "standard output", "--out"


@dataclass(frozen=True)
class Output:
    """The form and place of a result: without `file` standard output; `option` named the file."""

    format: Format = Format.TEXT
    file: Path | None = None
    force: bool = False
    option: str = OUT

    def __post_init__(self) -> None:
        """Refuse, before any work is done, a place that cannot be written to."""
        if self.file is None:
            if sys.stdout is None:
                raise BadInput(
                    [Fault("", STDOUT, "is closed", f"an open one, or a file after {self.option}")]
                )
            return
        try:
            message, allowed = self._refusal(self.file)
        except (OSError, ValueError) as error:  # a name that no file can have
            message, allowed = (
                f"cannot be written ({getattr(error, 'strerror', None) or error})",
                "another name",
            )
        if message:
            raise BadInput([Fault(str(self.file), self.option, message, allowed)])
        claim(self.file, self.option)

    def _refusal(self, file: Path) -> tuple[str, str]:
        """Return why a file cannot be written, and what is allowed; two empty strings where it can."""
        folder = Path(os.path.realpath(file)).parent
        refused = (
            (file.is_dir(), "this is a folder", "a file"),
            (
                file.exists() and not file.is_file(),
                "this is a device or a pipe, no file",
                f"a file; without {self.option} standard output",
            ),
            (file.exists() and not self.force, "this file exists already", FORCE),
            (
                file.exists() and not os.access(file, os.W_OK),
                "this file is not to be changed",
                "another name",
            ),
            (not folder.is_dir(), "there is no such folder to write into", "an existing folder"),
            (not os.access(folder, os.W_OK | os.X_OK), "nothing can be written into this folder", ALLOWED),
        )
        return next(((message, allowed) for is_so, message, allowed in refused if is_so), ("", ""))


def show(output: Output, result: Result, *, full: bool = True) -> None:
    """Write a result in the form that was asked for: text in `full` or at one look, every other form in full.

    Raises
    ------
    BadInput
        If the file or standard output cannot be written.
    """
    deliver(output, _written(output, result, full=full))


def _written(output: Output, result: Result, *, full: bool) -> str:
    if output.format is Format.TEXT:
        screen = text.screen_of() if output.file is None else text.Screen()
        return result.to_text(screen, full=full)
    forms = {
        Format.JSON: result.to_json,
        Format.CSV: result.to_csv,
        Format.MD: result.to_markdown,
        Format.HTML: result.to_html,
    }
    return forms[output.format]()


def deliver(output: Output, content: str | bytes) -> None:
    """Write a result to the file, and say so on a terminal, or to standard output; text as UTF-8."""
    if output.file is not None:
        from optiform.library.files.writing import write_whole

        write_whole(output.file, _bytes(content), replace=output.force, place=output.option)
        if output.option == OUT and sys.stderr is not None and sys.stderr.isatty():
            note(f"Wrote {output.file}.")
        return
    try:
        _to_stdout(content, as_text=output.format is Format.TEXT)
    except OSError as error:
        _leave_stdout()
        message = f"not all of the result could be written ({error.strerror or error})"
        raise BadInput(
            [Fault("", STDOUT, message, f"one that takes it, or a file after {output.option}")]
        ) from None


def _to_stdout(content: str | bytes, *, as_text: bool) -> None:
    if isinstance(content, str) and (as_text or not hasattr(sys.stdout, "buffer")):
        sys.stdout.write(content)
        sys.stdout.flush()
    else:
        sys.stdout.flush()
        sys.stdout.buffer.write(_bytes(content))
        sys.stdout.buffer.flush()


def _leave_stdout() -> None:
    """Point standard output at nothing, so that its buffer raises no second error at the end."""
    with contextlib.suppress(OSError, ValueError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, sys.stdout.fileno())
        os.close(nothing)


def _bytes(content: str | bytes) -> bytes:
    return content.encode("utf-8") if isinstance(content, str) else content


def show_answer(output: Output, answer: Answer, *, full: bool = True, everything: bool = False) -> int:
    """Write an answer in any form and return the exit code that goes with it: 0, 3 or 4."""
    from optiform.views.words import sentences

    show(output, result_of(answer, everything=everything), full=full or everything)
    if output.format is Format.CSV:
        note(sentences.SHORT_CAUTION)
    return {"solved": 0, "conflict": 3, "stopped": 4}[answer.status]


def note(message: str) -> None:
    """Print a note on standard error."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            print(printable(message), file=sys.stderr, flush=True)


def progress() -> Callable[[str], None]:
    """Return a progress callback that prints to standard error where that is a terminal."""

    def show(line: str) -> None:
        stopping.reached(line)
        _on_terminal(printable(line)[:78])

    return show


def end_progress() -> None:
    """Clear the line of progress, where there is one."""
    _on_terminal("")


def _on_terminal(line: str) -> None:
    if sys.stderr.isatty():
        with contextlib.suppress(OSError):
            sys.stderr.write(f"\r\x1b[2K{line}")
            sys.stderr.flush()
