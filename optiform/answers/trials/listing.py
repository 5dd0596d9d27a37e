"""Lists the trials of a bench side by side, and adds a further one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from optiform.answers.bench.readings import Bench as Measured
from optiform.answers.trials.model import Amended, ListedTrial, TrialAdded, TrialList
from optiform.faults import BadInput, Fault
from optiform.library.files.opening import is_file
from optiform.library.models import Library
from optiform.trials.adding import add_trial
from optiform.trials.doubts import doubts_of
from optiform.trials.models import Bench, Reading, Trial, base_of, same_amount
from optiform.trials.reading import WEIGHED, load_bench
from optiform.trials.weighing import grams_of


def list_trials(folder: str | Path, library: Library, brief: str = "") -> TrialList:
    """Return the trials of a bench folder, or those of one brief.

    Raises
    ------
    BadInput
        If the folder cannot be used.
    """
    bench = load_bench(folder, library)
    shown = [trial for trial in bench.trials if not brief or trial.brief == brief]
    rows = tuple(_listed(bench, trial, library) for trial in shown)
    return TrialList(bench.folder, library.name, rows, (*bench.measures, *bench.gates), bench.notes)


def record_trial(
    folder: str | Path, library: Library, trial: Trial, *, checked: bool = False, notes: tuple[str, ...] = ()
) -> TrialAdded:
    """Append a trial to a bench folder, or readings to one that stands there; whole or not at all.

    Parameters
    ----------
    trial : Trial
        Without lines: its readings belong to the trial of that name.
    checked : bool
        Whoever adds it was asked about doubtful readings, and they are right.
    notes : tuple of str
        What was understood of the typed formula.

    Raises
    ------
    BadInput
        With every fault; both files are as they were.
    """
    added = add_trial(folder, library, trial, checked=checked)
    row = _listed(added.bench, added.trial, library)
    return TrialAdded(added.bench.folder, library.name, row, added.new, len(added.bench.trials), notes)


def record_measured(folder: str | Path, library: Library, found: Measured) -> TrialAdded:
    """Append a measured pH to a bench folder: to the trial that was measured, or as a trial of its own.

    A wash to which something was added is another trial; the one that it was before is its parent.

    Raises
    ------
    BadInput
        If no pH was measured, the folder cannot be used, or that reading of that trial stands there.
    """
    if found.pH is None:
        raise BadInput(
            [Fault("", "--pH", "no pH was measured, so that there is nothing to record", "--pH 4.9")]
        )
    bench = load_bench(folder, library) if is_file(Path(folder) / WEIGHED) else Bench(str(folder))
    reading = Reading("pH", found.pH)
    held = _same_wash(bench, found.formula.amounts)
    if held is None:
        before = _same_wash(bench, {line.material: line.percent for line in found.planned.lines})
        lines = grams_of(replace(found.formula, grams=found.batch_g))
        made = Trial("", lines, (reading,), parent="" if before is None else before.name)
        return record_trial(folder, library, made)
    if any(one.number == found.pH for one in held.read("pH")):
        message = f"trial {held.name} has a pH of {found.pH:g} already"
        raise BadInput([Fault(bench.folder, "--pH", message, "another reading of it, or another wash")])
    return record_trial(folder, library, Trial(held.name, (), (reading,)))


def _same_wash(bench: Bench, percents: Mapping[str, float]) -> Trial | None:
    """Return the last trial of a bench that is the same wash, as far as a balance can make it."""
    for trial in reversed(bench.trials):
        names = {*percents, *trial.percents}
        if all(same_amount(percents.get(name, 0.0), trial.percents.get(name, 0.0)) for name in names):
            return trial
    return None


def _listed(bench: Bench, trial: Trial, library: Library) -> ListedTrial:
    place = bench.trials.index(trial)
    against = trial.parent or (bench.trials[place - 1].name if place else "")
    names = {material.id: material.name for material in library.materials}
    before = bench.trial[against].percents if against else trial.percents
    order = (*trial.percents, *(name for name in before if name not in trial.percents))
    pairs = ((name, before.get(name, 0.0), trial.percents.get(name, 0.0)) for name in order)
    water, held = library.water.id, base_of(trial, library)
    return ListedTrial(
        trial.name,
        trial.date,
        trial.block,
        trial.total_g,
        tuple(name for material, name in names.items() if material in held),
        against,
        tuple(
            Amended(name, names[name], one, other)
            for name, one, other in pairs
            if name != water and not same_amount(one, other)
        ),
        tuple(reading for reading in trial.readings if reading.usual),
        tuple(reading for reading in trial.readings if not reading.usual),
        doubts_of(bench, trial, library),
        trial.parted,
    )
