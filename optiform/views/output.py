"""Where a result goes and in which form: checked before any work, written in one step."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.faults import BadInput, Fault
from optiform.views import markdown, page, text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from optiform.answers.answer import Answer
    from optiform.views.blocks import Block

    Renderings = Mapping["Format", Callable[[], str]]


class Format(StrEnum):
    """The forms in which a result can be given."""

    TEXT = "text"
    JSON = "json"
    CSV = "csv"
    MD = "md"
    HTML = "html"


@dataclass(frozen=True)
class Output:
    """Form and place of a result: `file` absent means standard output; `option` is who named it."""

    format: Format = Format.TEXT
    file: Path | None = None
    force: bool = False
    option: str = "--out"

    def __post_init__(self) -> None:
        """Refuse, before any work is done, a file that could not be written at the end."""
        if self.file is None:
            return
        allowed = ""
        if self.file.is_dir():
            message, allowed = "this is a folder", "a file"
        elif self.file.exists() and not self.file.is_file():
            message, allowed = (
                "this is a device or a pipe, no file",
                f"a file; without {self.option} standard output",
            )
        elif self.file.exists() and not self.force:
            message, allowed = "this file exists already", "another name, or --force to replace it"
        elif not self.file.absolute().parent.is_dir():
            message, allowed = "there is no such folder to write into", "an existing folder"
        elif not os.access(self.file.absolute().parent, os.W_OK):
            message, allowed = "nothing can be written into this folder", "a place that can be written to"
        else:
            return
        raise BadInput([Fault(str(self.file), self.option, message, allowed)])


def emit(output: Output, renderings: Renderings) -> None:
    """Write a result in the form that was asked for.

    Parameters
    ----------
    output : Output
    renderings : mapping of Format to callable
        What the result can be written as; called for the one form that is wanted.

    Raises
    ------
    BadInput
        If the result has no such form, or the file cannot be written.
    """
    if output.format not in renderings:
        forms = ", ".join(str(form) for form in renderings)
        raise BadInput([Fault("", "--format", f"this command has no form '{output.format}'", allowed=forms)])
    deliver(output, renderings[output.format]())


def deliver(output: Output, content: str | bytes) -> None:
    """Write a result to the file or to standard output; text as UTF-8 with plain line ends."""
    if output.file is None:
        text_only = not hasattr(sys.stdout, "buffer")
        if isinstance(content, str) and (output.format is Format.TEXT or text_only):
            sys.stdout.write(content)
            sys.stdout.flush()
        else:
            sys.stdout.flush()
            sys.stdout.buffer.write(_bytes(content))
            sys.stdout.buffer.flush()
        return
    from optiform.library.writing import write_whole

    try:
        write_whole(output.file, _bytes(content), replace=output.force)
    except FileExistsError:
        allowed = "another name, or --force to replace it"
        raise BadInput(
            [Fault(str(output.file), output.option, "this file exists already", allowed)]
        ) from None
    except OSError as error:
        message = f"cannot be written ({error.strerror or error})"
        raise BadInput(
            [Fault(str(output.file), output.option, message, allowed="a place that can be written to")]
        ) from None


def _bytes(content: str | bytes) -> bytes:
    return content.encode("utf-8") if isinstance(content, str) else content


def told(blocks: Sequence[Block], title: str, output: Output) -> dict[Format, Callable[[], str]]:
    """Return blocks in the forms that every result has: text, Markdown and a page."""
    screen = text.screen_of() if output.file is None else text.Screen()
    return {
        Format.TEXT: lambda: text.render(blocks, screen),
        Format.MD: lambda: markdown.render(blocks),
        Format.HTML: lambda: page.render(blocks, title),
    }


def emit_answer(output: Output, answer: Answer, *, everything: bool = False) -> int:
    """Write an answer in any form and return the exit code that goes with it: 0, 3 or 4."""
    from optiform.views import csv_table, json_document, sentences
    from optiform.views.answer_blocks import answer_blocks
    from optiform.views.answer_page import answer_page

    blocks = answer_blocks(answer, everything=everything)
    emit(
        output,
        {
            **told(blocks, answer.title or answer.question, output),
            Format.HTML: lambda: answer_page(answer, everything=everything),
            Format.JSON: lambda: json_document.answer_document(answer),
            Format.CSV: lambda: csv_table.answer_table(answer),
        },
    )
    if output.format is Format.CSV:
        note(sentences.SHORT_CAUTION)
    return {"solved": 0, "conflict": 3, "stopped": 4}[answer.status]


def note(message: str) -> None:
    """Say something beside the result, on standard error."""
    print(message, file=sys.stderr)


def progress() -> Callable[[str], None] | None:
    """Return what shows progress on standard error, where that is a terminal."""
    if not sys.stderr.isatty():
        return None

    def show(line: str) -> None:
        sys.stderr.write(f"\r\x1b[2K{line[:78]}")
        sys.stderr.flush()

    return show


def end_progress() -> None:
    """Clear the line of progress, where there is one."""
    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[2K")
        sys.stderr.flush()
