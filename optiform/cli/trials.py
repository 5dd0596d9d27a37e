"""Commands about trials: plan them, record them, learn from them, choose the next one."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import trial_app
from optiform.cli.options import (
    BatchOption,
    BriefArgument,
    ForceOption,
    FormatOption,
    FullOption,
    LibraryOption,
    OutOption,
    RankOption,
    SecondsOption,
)
from optiform.faults import BadInput, Fault, Faults
from optiform.views.forms import result_of
from optiform.views.output import Format, Output, progress, show

BenchArgument = Annotated[
    Path,
    typer.Argument(metavar="DIR", help="A bench folder: weighed.csv and readings.csv.", show_default=False),
]


class TermsName(StrEnum):
    """What a fit is made of."""

    AS_NEEDED = "as-needed"
    LINEAR = "linear"
    QUADRATIC = "quadratic"


@trial_app.command()
def plan(
    brief: BriefArgument,
    trials: Annotated[
        int | None, typer.Option(metavar="N", min=1, max=100, help="How many; absent: as many as it takes.")
    ] = None,
    bench: Annotated[
        Path | None, typer.Option(metavar="DIR", help="A bench folder: what its trials taught counts.")
    ] = None,
    measure: Annotated[str, typer.Option(metavar="M", help="What they are to teach.")] = "viscosity",
    batch: BatchOption = None,
    seed: Annotated[int, typer.Option(metavar="N", min=0, help="Of the order of the trials.")] = 1,
    full: FullOption = False,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Plan the fewest trials that teach most.

    \b
    Example:
      optiform trial plan nettle.toml --batch 200g

    Each is inside the brief and weighable, with the materials of the best formula. --format csv writes the lines of
    weighed.csv: weigh, and write over them what the balance shows.
    """
    from optiform.answers.trials.planning import plan_trials
    from optiform.brief import load_brief
    from optiform.library.typed.masses import read_mass

    output = Output(form, out, force)
    grams = None if batch is None else read_mass(batch, "--batch")
    asked = load_brief(brief)
    found = plan_trials(
        asked,
        trials=trials,
        bench=bench,
        measure=measure,
        batch_g=grams,
        seed=seed,
        seconds=seconds,
        progress=progress(),
    )
    show(output, result_of(found), full=full)


@trial_app.command("next")
def next_(
    brief: BriefArgument,
    bench: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="The bench folder; absent: the one that the brief names."),
    ] = None,
    batch: BatchOption = None,
    seed: Annotated[int, typer.Option(metavar="N", min=0, help="Of what is drawn.")] = 1,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Tell which trial is worth most, or to stop.

    \b
    Example:
      optiform trial next sure.toml

    The worth is in the unit of the aim. The brief names a bench, and says how sure a limit on what that taught must be
    held. --format csv writes the lines of weighed.csv.
    """
    from optiform.answers.trials.next_trial import next_trial
    from optiform.brief import load_brief
    from optiform.library.typed.masses import read_mass

    output = Output(form, out, force)
    grams = None if batch is None else read_mass(batch, "--batch")
    asked = load_brief(brief, bench=bench)
    show(output, result_of(next_trial(asked, batch_g=grams, seed=seed, seconds=seconds, progress=progress())))


@trial_app.command("list")
def list_(
    bench: BenchArgument,
    brief: Annotated[str, typer.Option(metavar="NAME", help="Only trials of this brief.")] = "",
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Show the trials of a bench: what changed, what was read.

    \b
    Example:
      optiform trial list bench
    """
    from optiform.answers.trials.listing import list_trials
    from optiform.library import load_library

    output = Output(form, out, force)
    show(output, result_of(list_trials(bench, load_library(library), brief)))


@trial_app.command()
def add(
    bench: BenchArgument,
    formula: Annotated[
        Path | None,
        typer.Option(
            metavar="FORMULA",
            help="What was weighed; absent: only read, see --trial.",
            autocompletion=completing.formulas,
        ),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Instead: a batch record that was filled in, see sheet --part batch."
        ),
    ] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=VALUE", help="viscosity=3200, pH=5.1, clear=yes, cloud=>60, thaw=failed."),
    ] = None,
    trial: Annotated[
        str, typer.Option(metavar="NAME", help="Name of the trial; absent: the next number.")
    ] = "",
    parent: Annotated[str, typer.Option(metavar="NAME", help="The trial that it changes.")] = "",
    batch: BatchOption = None,
    date: Annotated[str, typer.Option(metavar="DAY", help="When it was made.")] = "",
    block: Annotated[str, typer.Option(metavar="TEXT", help="The day, or the lots of raw materials.")] = "",
    brief: Annotated[str, typer.Option(metavar="NAME", help="The brief that it tries.")] = "",
    hours: Annotated[
        float | None, typer.Option(metavar="H", min=0, help="How long after making it was read.")
    ] = None,
    temperature: Annotated[
        float | None, typer.Option(metavar="C", min=-50, max=150, help="At how many degrees.")
    ] = None,
    instrument: Annotated[str, typer.Option(metavar="TEXT", help="Spindle and speed, meter, beaker.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="What else was seen.")] = "",
    photo: Annotated[str, typer.Option(metavar="FILE", help="Name of a picture in the folder.")] = "",
    checked: Annotated[
        bool, typer.Option("--checked", help="A reading that was asked about is right.")
    ] = False,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Record a trial, or readings of one that was recorded before.

    \b
    Example:
      optiform trial add bench --formula today.csv --reading viscosity=3200

    Whole or not at all. A reading that the other trials do not predict is asked about; --checked records it.
    """
    from dataclasses import replace

    from optiform.answers.trials.listing import record_trial
    from optiform.library import load_library
    from optiform.library.formulas import read_formula
    from optiform.library.typed.masses import read_mass
    from optiform.sheets.record.as_trial import add_record
    from optiform.sheets.record.filled import is_filled
    from optiform.trials.adding import parsed_reading
    from optiform.trials.models import Trial
    from optiform.trials.weighing import grams_of

    output = Output(form, out, force)
    held, faults = load_library(library), Faults()
    read = [parsed_reading(text, faults) for text in reading or ()]
    faults.raise_if_any()
    readings = tuple(
        replace(one, hours=hours, temperature_C=temperature, instrument=instrument, note=note, photo=photo)
        for one in read
        if one is not None
    )
    grams = None if batch is None else read_mass(batch, "--batch")
    if record is not None:
        for name, beside in (("--formula", formula), ("--batch", batch)):
            if beside is not None:
                raise BadInput([Fault("", name, "a record has its own weights", f"--record without {name}")])
        given = Trial(trial, (), readings, date, block, brief, parent)
        show(output, result_of(add_record(bench, held, record, given, checked=checked)))
        return
    if formula is not None and is_filled(formula):
        message = "a batch record in which weights are filled in"
        raise BadInput([Fault(str(formula), "--formula", message, f"--record {formula}")])
    typed = None if formula is None else read_formula(formula, held, rank)
    lines = () if typed is None else grams_of(typed, grams)
    made = Trial(trial, lines, readings, date, block, brief, parent)
    notes = () if typed is None else typed.notes
    show(output, result_of(record_trial(bench, held, made, checked=checked, notes=notes)))


@trial_app.command()
def learn(
    bench: BenchArgument,
    measure: Annotated[str, typer.Option(metavar="M", help="Only this measure.")] = "",
    terms: Annotated[
        TermsName,
        typer.Option(
            help="quadratic: salt may pass a peak of viscosity; as-needed: where trials ask for it."
        ),
    ] = TermsName.AS_NEEDED,
    full: FullOption = False,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Tell what trials taught, and how surely.

    \b
    Example:
      optiform trial learn bench

    What more of each material does, nine times in ten from where to where, how much of that the trials say, and what
    does not fit. Readings of pH tell the free alkali of materials.
    """
    from optiform.answers.trials.learning import learn as learned
    from optiform.library import load_library

    output = Output(form, out, force)
    found = learned(bench, load_library(library), measure, terms.value)
    show(output, result_of(found), full=full)
