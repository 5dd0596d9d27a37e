"""The questions about trials: what was made, what that taught."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.api.given import brief_of, formula_of, grams_of, library_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.answers.trials.model import Learned, TrialAdded, TrialList
    from optiform.answers.trials.planned import NextTrial, Planned
    from optiform.api.given import AnyBrief, AnyFormula, AnyLibrary, File, Mass
    from optiform.trials.learned import Terms
    from optiform.trials.models import Reading


def plan_trials(
    brief: AnyBrief,
    *,
    trials: int | None = None,
    bench: File | None = None,
    measure: str = "viscosity",
    batch: Mass | None = None,
    seed: int = 1,
    seconds: float | None = None,
) -> Planned:
    """Plan the trials that teach most, inside a brief and at the structure of its best formula.

    Parameters
    ----------
    brief : path or Brief
    trials : int, optional
        How many; by default three more than materials matter, at least eight.
    bench : path, optional
        A bench folder: what its trials taught counts.
    measure : str
        What they are to teach.
    batch : float or str, optional
        Mass of each trial; that of the brief by default, or 200 g.
    seed : int
        Of the order of the trials.
    seconds : float, optional
        Time after which the best formula so far will do.

    Raises
    ------
    BadInput
        If the brief cannot be met, nothing in it can vary, or the bench cannot be used.
    """
    from optiform.answers.trials.planning import plan_trials as planned

    grams = None if batch is None else grams_of(batch)
    return planned(
        brief_of(brief),
        trials=trials,
        bench=bench,
        measure=measure,
        batch_g=grams,
        seed=seed,
        seconds=seconds,
    )


def next_trial(
    brief: AnyBrief, *, batch: Mass | None = None, seed: int = 1, seconds: float | None = None
) -> NextTrial:
    """Tell which trial is worth most to a brief with a bench, in the aim's unit, or that further ones change nothing.

    Parameters
    ----------
    brief : path or Brief
        With a bench, and a limit on what that taught that says how sure one must be.
    batch : float or str, optional
        Mass of the trial; that of the brief by default, or 200 g.
    seed : int
        Of the directions that are looked into, and of the draws.
    seconds : float, optional
        Time after which the best so far will do.

    Raises
    ------
    BadInput
        If the brief names no bench, asks for nothing that its trials taught, or cannot be met at all.
    """
    from optiform.answers.trials.next_trial import next_trial as asked

    grams = None if batch is None else grams_of(batch)
    return asked(brief_of(brief), batch_g=grams, seed=seed, seconds=seconds)


def list_trials(bench: File, *, brief: str = "", library: AnyLibrary | None = None) -> TrialList:
    """List the trials of a bench folder: what changed, what was read, what is in doubt.

    Parameters
    ----------
    bench : path
        A folder with weighed.csv and readings.csv.
    brief : str
        Only trials of this brief.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the folder.
    """
    from optiform.answers.trials.listing import list_trials as listed

    return listed(bench, library_of(library), brief)


def add_trial(
    bench: File,
    formula: AnyFormula | None = None,
    readings: Mapping[str, float | str] | None = None,
    *,
    name: str = "",
    parent: str = "",
    batch: Mass | None = None,
    checked: bool = False,
    library: AnyLibrary | None = None,
) -> TrialAdded:
    """Record a trial in a bench folder, or readings of one that was recorded before; whole or not at all.

    Parameters
    ----------
    bench : path
        Made, if there is none yet.
    formula : path, mapping, TypedFormula or Formula, optional
        As it was weighed; without it the readings belong to the trial `name`.
    readings : mapping of str to float or str, optional
        By measure: a number, "yes", "no", ">60", "<5" or "failed".
    parent : str
        The trial that it changes.
    batch : float or str, optional
        Its mass, where the formula is in percent; 100 g by default.
    checked : bool
        A reading that the others do not predict is right.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault; both files are as they were.
    """
    from optiform.answers.trials.listing import record_trial
    from optiform.trials.models import Trial
    from optiform.trials.weighing import grams_of as weighed

    held, read = library_of(library), _readings(readings)
    typed = None if formula is None else formula_of(formula, held)
    grams = None if batch is None else grams_of(batch)
    lines = () if typed is None else weighed(typed, grams)
    made = Trial(name, lines, read, parent=parent)
    return record_trial(bench, held, made, checked=checked, notes=() if typed is None else typed.notes)


def add_record(
    bench: File,
    record: File,
    readings: Mapping[str, float | str] | None = None,
    *,
    name: str = "",
    parent: str = "",
    checked: bool = False,
    library: AnyLibrary | None = None,
) -> TrialAdded:
    """Record the trial of a filled batch record in a bench folder: what was really weighed, the lots, what was read.

    Parameters
    ----------
    bench : path
        Made, if there is none yet.
    record : path
        The page's file, or the weighing table of a sheet as CSV with its blanks filled in.
    readings : mapping of str to float or str, optional
        Further ones, as in `add_trial`.
    name : str
        By default the batch number of the record, or the next number.
    parent : str
        The trial that it changes.
    checked : bool
        Weights far off their targets and doubtful readings are right.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault; the bench is as it was.
    """
    from optiform.sheets.record.as_trial import add_record as recorded
    from optiform.trials.models import Trial

    given = Trial(name, (), _readings(readings), parent=parent)
    return recorded(bench, library_of(library), record, given, checked=checked)


def _readings(readings: Mapping[str, float | str] | None) -> tuple[Reading, ...]:
    from optiform.faults import Faults
    from optiform.trials.adding import parsed_reading

    faults = Faults()
    read = [parsed_reading(f"{measure}={value}", faults) for measure, value in (readings or {}).items()]
    faults.raise_if_any()
    return tuple(one for one in read if one is not None)


def learn(
    bench: File, *, measure: str = "", terms: Terms = "as-needed", library: AnyLibrary | None = None
) -> Learned:
    """Tell what trials taught: what more of each material does, how surely, and what does not fit.

    Parameters
    ----------
    bench : path
    measure : str
        Only this one.
    terms : str
        "quadratic" lets salt pass a peak of viscosity, "as-needed" where trials ask for it; "linear" never.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        If the folder cannot be used, or nothing was read of the measure.
    """
    from optiform.answers.trials.learning import learn as learned

    return learned(bench, library_of(library), measure, terms)
