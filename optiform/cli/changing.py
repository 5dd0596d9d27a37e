"""Commands that change a formula that exists, weigh it, and learn from lot and bench."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import app
from optiform.cli.options import (
    BatchOption,
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
from optiform.cli.questions import as_far_as_it_came, library_and_brief
from optiform.cli.solving import solving
from optiform.faults import BadInput, Fault, Faults, printable
from optiform.views.forms import result_of
from optiform.views.output import Format, Output, deliver, note, progress, show, show_answer

if TYPE_CHECKING:
    from optiform.answers.bench.readings import Addition
    from optiform.brief.models import Brief

AIM_HELP = "cheaper, gentler, or without: with a tag, a material or an INCI name."


@app.command()
def reformulate(
    brief: Annotated[
        Path | None,
        typer.Argument(
            metavar="BRIEF",
            help="A brief with a [baseline].",
            show_default=False,
            autocompletion=completing.briefs,
        ),
    ] = None,
    start: Annotated[
        Path | None,
        typer.Option(
            "--from",
            metavar="FORMULA",
            help="Start from this formula instead.",
            autocompletion=completing.formulas,
        ),
    ] = None,
    rank: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="With --from: which formula of an answer.")
    ] = None,
    aim: Annotated[str | None, typer.Option(metavar="AIM", help=f"With --from: {AIM_HELP}")] = None,
    write: Annotated[
        Path | None, typer.Option(metavar="FILE", help="With --from: write the brief that was used.")
    ] = None,
    full: FullOption = False,
    seconds: SecondsOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Make an existing formula cheaper, gentler or free of a thing.

    \b
    Examples:
      optiform reformulate cheaper.toml
      optiform reformulate --from today.csv --aim without:sulfate --write new.toml

    Every difference is told, with what each single change brings. Exit code 3: what is held leaves no room.
    """
    from optiform.answers import rework as question

    output = Output(form, out, force)
    if (brief is None) == (start is None):
        allowed = "a brief with a [baseline], or --from FORMULA --aim AIM"
        raise BadInput([Fault("", "reformulate", "one thing to start from is needed", allowed)])
    asked = (
        _from_brief(brief, aim, write, library, rank)
        if brief is not None
        else _from_formula(start, aim, write, library, force, rank)
    )
    with solving():
        answer = question.reformulate(asked, seconds=seconds, progress=progress())
    raise typer.Exit(show_answer(output, as_far_as_it_came(answer), full=full))


@app.command()
def weigh(
    formula: FormulaArgument,
    batch: Annotated[str, typer.Option(metavar="MASS", help="Size of the batch, such as 250g.")],
    balance: Annotated[
        str, typer.Option(metavar="MASS", help="The step that the balance shows, such as 0.01g.")
    ] = "0.01g",
    error: Annotated[float, typer.Option(metavar="%", help="Weighing error allowed, in %.")] = 2.0,
    drops_per_mL: Annotated[
        float, typer.Option("--drops-per-mL", metavar="N", help="Drops of your dropper in 1 mL.")
    ] = 20.0,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Find the grams of a batch that a balance can weigh.

    \b
    Example:
      optiform weigh today.csv --batch 250g --balance 0.01g

    Everything that the formula holds is checked again on the grams. Where there are none: the ways out.
    """
    from pydantic import ValidationError

    from optiform.answers.weigh.typed_formula import weigh_formula
    from optiform.brief.models import Weighing
    from optiform.library.formulas import read_formula
    from optiform.library.typed.masses import read_balance, read_mass

    output, grams, step = Output(form, out, force), read_mass(batch, "--batch"), read_balance(balance)
    try:
        weighing = Weighing(batch_g=grams, balance_g=step, error_percent=error, drops_per_mL=drops_per_mL)
    except ValidationError:
        message = f"batch {grams:g} g, balance {step:g} g, error {error:g} %, {drops_per_mL:g} drops in 1 mL"
        raise BadInput([Fault("", "weigh", message, "numbers above 0, an error up to 100 %")]) from None
    held, asked = library_and_brief(brief, library)
    answer = weigh_formula(read_formula(formula, held, rank), held, weighing, asked)
    show(output, result_of(answer))
    raise typer.Exit(0 if answer.formulas[0].weighable is not None else 3)


@app.command()
def lot(
    formula: FormulaArgument,
    material: Annotated[
        str,
        typer.Option(
            metavar="ID", help="The material whose lot differs.", autocompletion=completing.materials
        ),
    ],
    active: Annotated[float, typer.Option(metavar="%", help="What its certificate states, in % w/w.")],
    substance: Annotated[
        str | None, typer.Option(metavar="INCI", help="Which substance; absent: the active matter.")
    ] = None,
    batch: BatchOption = None,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Correct a formula for a lot by its certificate.

    \b
    Example:
      optiform lot today.csv --material cocamidopropyl-betaine-38 --active 36.5

    Water makes room. Told as well: the batch without the correction, and whether everything still holds.
    """
    from optiform.answers.bench.lot_correction import correct_lot
    from optiform.library.formulas import read_formula
    from optiform.library.typed.masses import read_mass

    output = Output(form, out, force)
    grams = read_mass(batch, "--batch") if batch is not None else None
    held, asked = library_and_brief(brief, library)
    typed = read_formula(formula, held, rank)
    found = correct_lot(typed, held, material, active, substance=substance, brief=asked, batch_g=grams)
    show(output, result_of(found, typed=typed))


@app.command()
def swap(
    formula: FormulaArgument,
    old: Annotated[
        str,
        typer.Argument(metavar="OLD", help="The material that goes.", autocompletion=completing.materials),
    ],
    new: Annotated[
        str,
        typer.Argument(
            metavar="NEW",
            help="The material that takes its place.",
            autocompletion=completing.materials,
        ),
    ],
    substance: Annotated[
        str | None,
        typer.Option(metavar="INCI", help="What stands in the same amount; absent: what both are."),
    ] = None,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Put another grade of one substance into a formula.

    \b
    Example:
      optiform swap today.csv cocamidopropyl-betaine-38 cocamidopropyl-betaine-30

    Its amount follows from the two strengths, the acid or base keeps the pH, water takes the difference, and all
    else stays. Told is only what changes. --format csv writes the new formula.
    """
    from optiform.answers.bench import swapping as question
    from optiform.library.formulas import read_formula
    from optiform.views.words.sentences import SHORT_CAUTION

    output = Output(form, out, force)
    held, asked = library_and_brief(brief, library)
    typed = read_formula(formula, held, rank)
    found = question.swap(typed, held, old, new, substance=substance, brief=asked)
    show(output, result_of(found))
    if output.format is Format.CSV:
        note(SHORT_CAUTION)


@app.command()
def bench(
    formula: FormulaArgument,
    batch: Annotated[
        str | None, typer.Option(metavar="MASS", help="What was made before anything was added: 500g.")
    ] = None,
    add: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ID=MASS",
            help="What was added, ID=5g; ID=5g@10 of a solution of 10 %.",
            autocompletion=completing.additions,
        ),
    ] = None,
    ph: Annotated[
        float | None, typer.Option("--pH", metavar="PH", help="Measured after the additions.")
    ] = None,
    material: Annotated[
        str | None,
        typer.Option(
            metavar="ID",
            help="Whose alkali the pH corrects; absent: the surfactants'.",
            autocompletion=completing.materials,
        ),
    ] = None,
    note_it: Annotated[
        bool, typer.Option("--note", help="Write the alkali into the library's materials.csv.")
    ] = False,
    into: Annotated[
        Path | None,
        typer.Option("--bench", metavar="DIR", help="Record the pH as a reading of a bench folder."),
    ] = None,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Learn from a trial: what was added, and the measured pH.

    \b
    Example:
      optiform bench today.csv --batch 500g --add citric-acid=3.6g@10 --pH 5.1

    With the alkali in the library (--note writes it there) the next answer doses acid and base as the bench did. On a
    terminal, without --batch, --add and --pH, it asks: one addition after another, and the pH after each.
    """
    from optiform.answers.bench import readings as question
    from optiform.cli.materials.asking import ask_for_additions, on_terminal
    from optiform.library.formulas import read_formula
    from optiform.library.typed.masses import read_mass

    output = Output(form, out, force)
    grams = read_mass(batch, "--batch") if batch is not None else None
    held, asked = library_and_brief(brief, library)
    typed, faults = read_formula(formula, held, rank), Faults()
    read = [_addition(word, faults) for word in add or []]
    faults.raise_if_any()
    additions = tuple(one for one in read if one is not None)
    if batch is None and not add and ph is None and on_terminal():
        grams, additions, ph = ask_for_additions(typed.grams, held, _addition)
    found = question.bench(
        typed, held, batch_g=grams, additions=additions, pH=ph, material=material, brief=asked
    )
    if note_it and found.free_alkali:
        from optiform.library.files.noting import note_free_alkali

        values = {item.material: item.after for item in found.free_alkali}
        note(f"Wrote {note_free_alkali(held.folder, values)}.")
    if into is not None:
        from optiform.answers.trials.listing import record_measured

        added = record_measured(into, held, found)
        note(f"Recorded: pH {found.pH:g} of trial {added.trial.name} in {into}.")
    show(output, result_of(found))


def _from_brief(
    brief: Path, aim: str | None, write: Path | None, library: Path | None, rank: int | None
) -> Brief:
    from optiform.brief import load_brief

    given = [
        name
        for name, value in (("--aim", aim), ("--write", write), ("--library", library), ("--rank", rank))
        if value is not None
    ]
    if given:
        allowed = "these belong to --from FORMULA; a brief states its own"
        raise BadInput([Fault("", name, "a brief is given", allowed) for name in given])
    return load_brief(brief)


def _from_formula(
    start: Path | None,
    aim: str | None,
    write: Path | None,
    library: Path | None,
    force: bool,
    rank: int | None,
) -> Brief:
    """Return the brief for changing a formula, written down where that was asked for."""
    from optiform.brief import brief_from, reformulation_brief, write_brief
    from optiform.library import load_library
    from optiform.library.formulas import read_formula

    if aim is None or start is None:
        raise BadInput([Fault("", "--aim", "--from says where to start, and not where to go", AIM_HELP)])
    place = Output(Format.TEXT, write, force, "--write")
    held = load_library(library)
    folder = write.absolute().parent if write is not None else Path.cwd()
    mapping = reformulation_brief(read_formula(start, held, rank), held, aim, os.path.relpath(start, folder))
    if library is not None:
        mapping = {"title": mapping.pop("title"), "library": os.path.relpath(library, folder), **mapping}
    if write is not None:
        words = printable(f"--from {start.name} --aim {aim}").replace("\n", " ")
        head = f"# Written by optiform reformulate {words}: edit it, and run it again.\n\n"
        deliver(place, head + write_brief(mapping))
        note(f"Wrote {write}.")
    return brief_from(mapping, held, folder, str(write or start))


def _addition(word: str, faults: Faults) -> Addition | None:
    """Return one thing that was added, ID=MASS or ID=MASS@STRENGTH, or None after noting what is wrong with it."""
    from optiform.answers.bench.readings import Addition
    from optiform.library.files.columns import number
    from optiform.library.typed.masses import mass_of

    name, _, rest = word.partition("=")
    mass, at, strength = rest.partition("@")
    percent = number(strength.strip()) if at else 100.0
    if not mass or percent is None:
        allowed = "ID=MASS or ID=MASS@STRENGTH, such as citric-acid=3.6g@10"
        faults.add("--add", f"'{word}' cannot be read", allowed=allowed)
        return None
    grams = mass_of(mass, "--add", faults)
    return None if grams is None else Addition(name.strip(), grams, percent)
