"""Commands that ask about formulas."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from optiform import stopping
from optiform.cli import completing
from optiform.cli.app import app
from optiform.cli.families import Goal, to_buy_for
from optiform.cli.options import (
    BatchOption,
    BriefArgument,
    BriefOption,
    ForceOption,
    FormatOption,
    FormulaArgument,
    FullOption,
    LibraryOption,
    OutOption,
    RankOption,
    SecondsOption,
)
from optiform.cli.solving import STOPPED_EARLY, solving
from optiform.faults import BadInput, Fault
from optiform.views.output import Format, Output, note, progress, show_answer

if TYPE_CHECKING:
    from pathlib import Path

    from optiform.answers.model.answer import Answer
    from optiform.answers.tradeoff import TradeOff
    from optiform.brief.models import Brief
    from optiform.library.models import Library

Answered = TypeVar("Answered", "Answer", "TradeOff")


def as_far_as_it_came(answer: Answered) -> Answered:
    """Return an answer as a stopped one where a signal came meanwhile; a proven no stays one."""
    if not stopping.interrupted():
        return answer
    note(f"{stopping.so_far()} {_known(answer)}")
    told = replace(answer, notes=(STOPPED_EARLY, *answer.notes))
    return told if answer.status == "conflict" else replace(told, status="stopped", proven=False)


def library_and_brief(brief: Path | None, library: Path | None) -> tuple[Library, Brief | None]:
    """Return the library to use, and the brief to hold a formula against."""
    from optiform.brief import load_brief
    from optiform.library import load_library

    if brief is not None and library is not None:
        allowed = "--brief or --library, not both"
        raise BadInput([Fault("", "--library", "a brief names its own library", allowed)])
    asked = load_brief(brief) if brief is not None else None
    return (asked.library if asked is not None else load_library(library)), asked


def _known(answer: Answer | TradeOff) -> str:
    """Say in one line what is known of a question that was stopped."""
    from optiform.answers.model.answer import Answer

    if answer.status == "conflict":
        return "It is proven that no formula meets the brief."
    if isinstance(answer, Answer):
        count = len(answer.formulas)
        return f"What was found by then is told: {count} formula{'s' * (count != 1)}."
    return "What was found by then is told: the part of the curve that was proven."


@app.command()
def design(
    brief: BriefArgument,
    full: Annotated[
        bool,
        typer.Option(
            "--full",
            help="Tell everything, also what each wish costs and what can be left out; takes longer.",
        ),
    ] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Tell every formula in full, not only the first.")
    ] = False,
    batch: BatchOption = None,
    aim: Annotated[
        Goal | None,
        typer.Option(
            "--aim", help="With --batch: the formula to buy for, with its packs, not the cheapest per kg."
        ),
    ] = None,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Rank the formulas that a brief allows, each explained.

    \b
    Examples:
      optiform design nettle.toml
      optiform design nettle.toml --batch 5kg --aim cash

    Where no formula meets the brief: which wishes collide, and the smallest changes that free them.
    Ctrl-C ends the search with the best so far. Exit code 3: the brief cannot be met. 4: stopped, with the best so far.
    """
    from optiform.answers import design as question
    from optiform.brief import load_brief
    from optiform.library.typed.masses import read_mass

    if (batch is None) != (aim is None):
        missing, given = ("--aim", "--batch") if aim is None else ("--batch", "--aim")
        raise BadInput([Fault("", missing, f"missing beside {given}", "both, or none")])
    output = Output(form, out, force)
    grams = None if batch is None else read_mass(batch, "--batch")
    asked = load_brief(brief)
    if grams is not None and aim is not None:
        raise typer.Exit(to_buy_for(output, asked, grams, aim, seconds, full=full))
    at_one_look = form is Format.TEXT and not (full or everything)
    with solving():
        answer = question.design(
            asked, seconds=seconds, in_full=full, first_alone=at_one_look, progress=progress()
        )
    raise typer.Exit(show_answer(output, as_far_as_it_came(answer), full=full, everything=everything))


@app.command()
def check(
    brief: BriefArgument,
    full: FullOption = False,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Tell whether a brief can be met at all.

    \b
    Example:
      optiform check nettle.toml

    The answer is one formula that meets it, or the wishes that collide.
    """
    from optiform.answers import check as question
    from optiform.brief import load_brief

    output, asked = Output(form, out, force), load_brief(brief)
    with solving():
        answer = question.check(asked, seconds=seconds)
    raise typer.Exit(show_answer(output, as_far_as_it_came(answer), full=full))


@app.command()
def why(
    brief: BriefArgument,
    material: Annotated[
        str,
        typer.Argument(
            metavar="MATERIAL", help="Its id, name or INCI name.", autocompletion=completing.materials
        ),
    ],
    full: FullOption = False,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Tell why a material is in the best formula, or left out.

    \b
    Example:
      optiform why nettle.toml decyl-glucoside

    What it costs to force it in, the price below which it enters, or what keeps it out.
    """
    from optiform.answers import price as question
    from optiform.brief import load_brief

    output, asked = Output(form, out, force), load_brief(brief)
    with solving():
        answer = question.why(asked, material, seconds=seconds)
    raise typer.Exit(show_answer(output, as_far_as_it_came(answer), full=full))


@app.command()
def evaluate(
    formula: FormulaArgument,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    full: FullOption = False,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Measure any formula, and list what it breaks.

    \b
    Example:
      optiform evaluate today.csv --brief nettle.toml

    It is held against the rules of the library, the law and a brief. Materials are named by id, name or INCI name;
    in one line the percent may be q.s., which means the rest. Breaks are an answer: exit code 0.
    """
    from optiform.answers import evaluate as question
    from optiform.library.formulas import read_formula

    output = Output(form, out, force)
    held, asked = library_and_brief(brief, library)
    answer = question.evaluate(read_formula(formula, held, rank), held, asked)
    raise typer.Exit(show_answer(output, answer, full=full))
