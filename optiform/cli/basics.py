"""Commands to begin with: a starter brief, and the state of the installation."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from typing import Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import OURS, app
from optiform.cli.options import ForceOption, FormatOption, LibraryOption, OutOption
from optiform.faults import BadInput, Fault, nearest
from optiform.views.forms import Result
from optiform.views.output import Format, Output, deliver, show


@app.command()
def start(
    skin: Annotated[
        str,
        typer.Option("--for", metavar="SKIN", help="For whom, see above.", autocompletion=completing.skins),
    ] = "normal",
    texture: Annotated[
        str,
        typer.Option(metavar="FEEL", help="How it feels, see above.", autocompletion=completing.textures),
    ] = "gel",
    title: Annotated[str | None, typer.Option(metavar="TEXT", help="A title of your own.")] = None,
    library: LibraryOption = None,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Write a commented starter brief.

    \b
    Example:
      optiform start --for oily --texture gel --out nettle.toml

    \b
    SKIN: dry-sensitive, normal, oily, mature, scalp-hair, baby-mild, hands
    FEEL: gel, cream, lotion, conditioning-slip, emulsion
    """
    from optiform.brief import starter_brief
    from optiform.library import load_library

    output = Output(Format.TEXT, out, force)
    held = load_library(library) if library is not None else None
    deliver(output, starter_brief(skin, texture, held, title))


@app.command()
def doctor(form: FormatOption = Format.TEXT, out: OutOption = None, force: ForceOption = False) -> None:
    """Print versions, test the solver and the shipped data.

    \b
    Example:
      optiform doctor
    """
    from optiform.answers.doctor import diagnose
    from optiform.views.results.doctor import doctor_blocks

    output, found = Output(form, out, force), diagnose()
    show(output, Result("State of this installation", lambda: doctor_blocks(found), "doctor", found))
    raise typer.Exit(0 if found.healthy else OURS)


@app.command()
def schema(
    question: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="QUESTION",
            help="A command, such as: design, or: library check; absent: list all.",
            autocompletion=completing.questions,
            show_default=False,
        ),
    ] = None,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Print the JSON Schema of a command's document.

    \b
    Example:
      optiform schema design

    It describes what the command writes with --format json, for programs that read it.
    """
    from optiform.views.data.json_document import QUESTIONS
    from optiform.views.data.json_document import schema as schema_of

    output, asked = Output(Format.JSON, out, force), " ".join(question or ())
    if not asked:
        deliver(output, "".join(f"{name}\n" for name in QUESTIONS))
        return
    if asked not in QUESTIONS:
        message, allowed = f"'{asked}' has no JSON document", ", ".join(QUESTIONS)
        raise BadInput([Fault("", "QUESTION", message, allowed, nearest=nearest(asked, QUESTIONS))])
    deliver(output, schema_of(asked))
