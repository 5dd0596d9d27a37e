"""The trials of a bench side by side: what changed, what was read, what is in doubt; and a further one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.trials.model import Amended, ListedTrial, TrialAdded, TrialList
from optiform.trials.adding import add_trial
from optiform.trials.doubts import doubts_of
from optiform.trials.models import base_of, same_amount
from optiform.trials.reading import load_bench

if TYPE_CHECKING:
    from pathlib import Path

    from optiform.library.models import Library
    from optiform.trials.models import Bench, Trial


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
