"""Handles pages of trials: the bench as a tree, readings, and which trials come next."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.requests import Request
from starlette.responses import Response

from optiform.answers.trials.model import TrialAdded
from optiform.faults import BadInput
from optiform.library import Library
from optiform.page import bench_questions, readings
from optiform.page.desk import Desk
from optiform.page.folder import NotHere
from optiform.page.handlers.home import fresh
from optiform.page.handlers.waiting import answered, page_of
from optiform.page.pages import address, shown, went
from optiform.trials.adding import Added, add_trial
from optiform.trials.models import Bench, Trial
from optiform.trials.reading import READINGS, WEIGHED

OFFERED = ("viscosity", "foam", "feel")
"""What trials are usually planned for."""


def bench(desk: Desk, request: Request) -> Response:
    """Show the trials of a bench as a small tree, and what they taught."""
    name = request.path_params["name"]
    library = library_of(desk, name, request.query_params.get("library", ""))
    told, waits = page_of(desk, request, bench_questions.trials, bench_path(desk, name), desk.path(library))
    return waits or shown(
        desk, request, "trials.html.j2", told=told, name=name, library=library, briefs=desk.holds("brief"),
        formulas=desk.holds("formula"), last=desk.folder.last_step(_steps(name)),
    )  # fmt: skip


def _steps(name: str) -> str:
    return f"additions to {name}"


def bench_path(desk: Desk, name: str) -> str:
    """Return the path of a bench whose files are all inside the folder."""
    desk.folder.refuse_outside(f"{name}/{WEIGHED}", {"bench": "."})
    desk.folder.read(f"{name}/{WEIGHED}")
    return desk.path(name)


def library_of(desk: Desk, name: str, asked: str) -> str:
    """Return the library of a bench: the one that is asked for, else that of a brief that names the bench."""
    found = asked
    for one in () if asked else desk.holds("brief"):
        try:
            keys = desk.keys_of(desk.folder.read(one.name))
        except (BadInput, NotHere):
            continue
        start, place, library = desk.folder.place(one.name).parent, keys.get("bench"), keys.get("library")
        ours = isinstance(place, str) and (start / place).resolve() == desk.folder.place(name).resolve()
        if ours and isinstance(library, str):
            found = (start / library).resolve().relative_to(desk.folder.root).as_posix()
            break
    if found:
        desk.library(found)
    return found


def trial(desk: Desk, request: Request) -> Response:
    """Show one trial of a bench: what was weighed, what was read, and a form for what is read now."""
    name, which = request.path_params["name"], request.query_params.get("trial", "")
    library = library_of(desk, name, request.query_params.get("library", ""))
    return _trial(desk, request, name, which, library)


def _trial(
    desk: Desk, request: Request, name: str, which: str, library: str, template: str = "trial.html.j2",
    status: int = 200,
) -> Response:  # fmt: skip
    path, held = bench_path(desk, name), desk.library(library)
    told = answered(desk.ask(bench_questions.trial, path, desk.path(library), which), 60.0)
    if told is None:
        raise NotHere(which)
    bench = loaded(path, held)
    typed = readings.typed(bench, held, which, desk.folder.typed(form_of(name, which)))
    return shown(
        desk, request, template, status, told=told, name=name, which=which, library=library, typed=typed,
        photos=_photos(desk, name, bench.trial[which]),
    )  # fmt: skip


def _photos(desk: Desk, name: str, trial: Trial) -> list[tuple[str, str]]:
    """Return the photos of a trial that are in its folder, each with what was read when it was taken."""
    found: dict[str, list[str]] = {}
    for read in trial.readings:
        if read.photo:
            found.setdefault(read.photo, []).append(read.measure)
    return [(file, ", ".join(read)) for file, read in found.items() if _is_here(desk, f"{name}/{file}")]


def _is_here(desk: Desk, name: str) -> bool:
    try:
        return desk.folder.place(name).is_file()
    except NotHere:
        return False


def form_of(name: str, which: str) -> str:
    """Return the name under which the form of a trial's readings is kept while it is typed."""
    return f"readings of {which} in {name}"


def loaded(path: str, library: Library) -> Bench:
    """Return a bench as its files state it."""
    from optiform.trials.reading import load_bench

    return load_bench(path, library)


def read(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Keep what is typed about a trial; add it to the bench where that is asked for and nothing is wrong in it."""
    name, which = request.path_params["name"], form.get("trial", "")
    library = library_of(desk, name, form.get("library", ""))
    place = form_of(name, which)
    desk.folder.note_typed(place, _typed_now(request, form))
    if request.headers.get("hx-request") == "true":
        return _trial(desk, request, name, which, library, "typed.html.j2")
    here = address("trial", name, trial=which, library=library)
    if not form.get("add"):
        return went(here)
    path, held = bench_path(desk, name), desk.library(library)
    typed = readings.typed(loaded(path, held), held, which, desk.folder.typed(place))
    if not typed.sound or not typed.readings:
        return _trial(desk, request, name, which, library, status=422)
    made = Trial(which, (), typed.readings)
    added(desk, name, lambda: add_trial(path, held, made, checked=True), place)
    return went(here)


def _typed_now(request: Request, form: Mapping[str, str]) -> dict[str, str]:
    """Return the fields to keep: the one that was left, where a script sent it, else the whole form."""
    left = request.headers.get("hx-trigger-name", "")
    told = {name: form.get(name, "") for name in (left,)} if left else dict(form)
    return {
        name: value for name, value in told.items() if name not in ("trial", "library", "add", "note all")
    }


def added(desk: Desk, name: str, add: Callable[[], Added | TrialAdded], form: str = "") -> None:
    """Add a trial or its readings to a bench of the folder, to be taken back as one; the form is forgotten."""

    def write() -> str:
        found = add()
        return f"trial {found.trial.name}" if found.new else f"the last readings of trial {found.trial.name}"

    desk.folder.step(_steps(name), [f"{name}/{READINGS}", f"{name}/{WEIGHED}"], write, form)
    if form:
        desk.folder.forget_typed(form)


def take_back(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Take back what was added last to a bench: a trial, or readings."""
    name = request.path_params["name"]
    desk.folder.take_back(_steps(name), form.get("version", ""))
    left = desk.folder.place(f"{name}/{WEIGHED}").is_file()
    return went(address("trials", name, library=form.get("library", "")) if left else "/")


def ask(desk: Desk, request: Request) -> Response:
    """Lead to what was chosen for a formula or a brief: weigh a trial of it, the next one, a plan."""
    asked = request.query_params
    where = {"weigh": "weigh", "next": "trial-next", "plan": "trial-plan"}.get(asked.get("what", ""))
    if where is None:
        raise NotHere(asked.get("what", ""))
    return went(address(where, asked.get("name", "")))


def plan(desk: Desk, request: Request) -> Response:
    """Show the fewest trials of a brief that teach most, each to be weighed."""
    asked = request.query_params
    trials, measure = asked.get("trials", ""), asked.get("measure", "viscosity")
    return _tried(desk, request, bench_questions.plan_trials, trials, measure)


def following(desk: Desk, request: Request) -> Response:
    """Show which trial is worth most to a brief, to be weighed, or that none is worth it."""
    return _tried(desk, request, bench_questions.next_trial)


def _tried(desk: Desk, request: Request, question: Callable[..., object], *more: str) -> Response:
    name = request.path_params["name"]
    told, waits = page_of(desk, request, question, desk.safe(name), *more)
    asked = request.query_params
    return waits or shown(
        desk, request, "tried.html.j2", told=told, name=name, planned=question is bench_questions.plan_trials,
        trials=asked.get("trials", ""), measure=asked.get("measure", OFFERED[0]), offered=OFFERED,
    )  # fmt: skip


def keep(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write one planned trial into the folder as a formula in grams, and open it to be weighed."""
    name = request.path_params["name"]
    planned = form.get("planned") == "yes"
    more = (form.get("trials", ""), form.get("measure", "")) if planned else ()
    question = bench_questions.plan_trials if planned else bench_questions.next_trial
    told = answered(desk.ask(question, desk.safe(name), *more), 60.0)
    found = [one for one in told.formulas if str(one.rank) == form.get("rank")] if told is not None else []
    if not found:
        raise NotHere(name)
    stem = name.rpartition("/")[2].removesuffix(".toml")
    kept = fresh(desk, f"{stem} trial {found[0].rank}", ".csv", found[0].csv, "planned")
    return went(address("weigh", kept, brief=name, block=found[0].cost if planned else ""))
