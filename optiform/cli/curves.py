"""Commands that answer with a curve."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import app
from optiform.cli.options import BriefArgument, ForceOption, FormatOption, OutOption, SecondsOption
from optiform.cli.questions import as_far_as_it_came
from optiform.cli.solving import solving
from optiform.faults import BadInput, Fault
from optiform.views.forms import result_of
from optiform.views.output import Format, Output, deliver, progress, show

PICTURES = (".svg", ".png")


class Sense(StrEnum):
    """Which way a measure is improved."""

    MINIMISE = "minimise"
    MAXIMISE = "maximise"


class Side(StrEnum):
    """From which side a measure is bounded."""

    AT_LEAST = "at_least"
    AT_MOST = "at_most"


@app.command()
def tradeoff(
    brief: BriefArgument,
    of: Annotated[
        str,
        typer.Option("--of", metavar="MEASURE", help="What is improved.", autocompletion=completing.measures),
    ] = "cost",
    against: Annotated[
        str,
        typer.Option(
            "--against", metavar="MEASURE", help="What is bounded.", autocompletion=completing.measures
        ),
    ] = "mildness",
    third: Annotated[
        str | None,
        typer.Option("--third", metavar="MEASURE=V1,V2", help="A third one: a curve for each value."),
    ] = None,
    sense: Annotated[
        Sense | None, typer.Option(help="Absent: as the brief aims or the trade prefers.")
    ] = None,
    side: Annotated[
        Side | None, typer.Option(help="Absent: as the trade prefers or the brief bounds.")
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Show every point of the curve.")] = False,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Also draw it: .svg or .png.")
    ] = None,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Draw the curve of one measure against another.

    \b
    Example:
      optiform tradeoff nettle.toml --of cost --against mildness

    The curve itself, not a grid: where it is free, where its knees are, where the materials change. The brief's own
    limits on the two measures are let go; all else holds. Exit code 3: the brief cannot be met. 4: stopped before
    the whole curve was proven.
    """
    from optiform.answers.tradeoff import tradeoff as ask
    from optiform.brief import load_brief
    from optiform.solver import Clock

    output = Output(form, out, force)
    drawn = None if picture is None else _picture(picture, force=force)
    asked = load_brief(brief)
    with solving():
        found = ask(
            asked,
            of,
            against,
            third=None if third is None else _third(third),
            sense=None if sense is None else sense.value,
            side=None if side is None else side.value,
            clock=Clock.of(seconds, progress()),
        )
    found = as_far_as_it_came(found)
    show(output, result_of(found, everything=everything))
    if drawn is not None and any(curve.stretches for curve in found.curves):
        from optiform.views.pictures.tradeoff_picture import tradeoff_png, tradeoff_svg

        vector = drawn.file is not None and drawn.file.suffix == ".svg"
        deliver(drawn, tradeoff_svg(found) if vector else tradeoff_png(found))
    raise typer.Exit({"solved": 0, "conflict": 3, "stopped": 4}[found.status])


def _picture(file: Path, *, force: bool) -> Output:
    """Return where a picture goes, refused before any work where it could not be drawn or written."""
    if file.suffix not in PICTURES:
        message = f"'{file.suffix}' is no kind of picture"
        raise BadInput([Fault(str(file), "--picture", message, " or ".join(PICTURES))])
    return Output(Format.HTML, file, force, "--picture")


def _third(text: str) -> tuple[str, list[float]]:
    from optiform.library.models import MOST

    name, equals, values = text.rpartition("=")
    try:
        if not equals:
            raise ValueError(text)
        found = [float(value) for value in values.split(",")]
        if not all(abs(value) <= MOST for value in found):
            raise ValueError(text)
        return name.strip(), found
    except ValueError:
        allowed = f"MEASURE=v1,v2,v3 with plain numbers, up to {MOST:g}"
        raise BadInput([Fault("", "--third", f"'{text}' cannot be read", allowed)]) from None
