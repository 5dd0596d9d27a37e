"""Trials: the bench as a small tree, readings typed at it, a wash weighed for it, and which trials come next."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from optiform.faults import BadInput, Fault, Faults, listed
from optiform.library.files.columns import number
from optiform.page import questions, readings, records
from optiform.page.folder import NotHere, refused
from optiform.page.handlers.answers import held_against
from optiform.page.handlers.home import fresh
from optiform.page.handlers.making import BENCH, entries_written, record_page
from optiform.page.handlers.waiting import answered, page_of
from optiform.page.pages import address, shown, went
from optiform.trials.models import Bench, Trial
from optiform.trials.reading import READINGS, WEIGHED

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from starlette.requests import Request
    from starlette.responses import Response

    from optiform.library import Library
    from optiform.page.desk import Desk

BATCH = "200g"
"""How much is weighed for a trial, where nothing else is said: two beakers; common practice, no source."""
FIELDS = {"--parent": "changes trial", "--trial": "trial"}
"""What the pages call an option of the command line."""
RIGHT = "What is asked about is right"
OFFERED = ("viscosity", "foam", "feel")
"""What trials are usually planned for."""


def bench(desk: Desk, request: Request) -> Response:
    """Show the trials of a bench as a small tree, and what they taught."""
    name = request.path_params["name"]
    library = _library_of(desk, name, request.query_params.get("library", ""))
    told, waits = page_of(desk, request, questions.trials, _bench_path(desk, name), desk.path(library))
    return waits or shown(
        desk, request, "trials.html.j2", told=told, name=name, library=library, briefs=desk.holds("brief"),
        formulas=desk.holds("formula"), undo=_as_we_left_it(desk, name),
        version=_version(desk, f"{name}/{READINGS}"),
    )  # fmt: skip


def _version(desk: Desk, name: str) -> str:
    return desk.folder.read(name).version if desk.folder.place(name).is_file() else ""


def _bench_path(desk: Desk, name: str) -> str:
    """Return the path of a bench whose files are all inside the folder."""
    desk.folder.refuse_outside(f"{name}/{WEIGHED}", {"bench": "."})
    desk.folder.read(f"{name}/{WEIGHED}")
    return desk.path(name)


def _library_of(desk: Desk, name: str, asked: str) -> str:
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
    library = _library_of(desk, name, request.query_params.get("library", ""))
    return _trial(desk, request, name, which, library)


def _trial(
    desk: Desk, request: Request, name: str, which: str, library: str, template: str = "trial.html.j2",
    status: int = 200,
) -> Response:  # fmt: skip
    path, held = _bench_path(desk, name), desk.library(library)
    told = answered(desk.ask(questions.trial, path, desk.path(library), which), 60.0)
    if told is None:
        raise NotHere(which)
    typed = readings.typed(_loaded(path, held), held, which, desk.folder.typed(_form_of(name, which)))
    return shown(
        desk, request, template, status, told=told, name=name, which=which, library=library, typed=typed
    )


def _form_of(name: str, which: str) -> str:
    return f"readings of {which} in {name}"


def _loaded(path: str, library: Library) -> Bench:
    from optiform.trials.reading import load_bench

    return load_bench(path, library)


def read(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Keep what is typed about a trial; add it to the bench where that is asked for and nothing is wrong in it."""
    name, which = request.path_params["name"], form.get("trial", "")
    library = _library_of(desk, name, form.get("library", ""))
    place = _form_of(name, which)
    desk.folder.note_typed(place, _typed_now(request, form))
    if request.headers.get("hx-request") == "true":
        return _trial(desk, request, name, which, library, "typed.html.j2")
    here = address("trial", name, trial=which, library=library)
    if not form.get("add"):
        return went(here)
    path, held = _bench_path(desk, name), desk.library(library)
    typed = readings.typed(_loaded(path, held), held, which, desk.folder.typed(place))
    if not typed.sound or not typed.readings:
        return _trial(desk, request, name, which, library, status=422)
    _added(desk, name, held, Trial(which, (), typed.readings))
    desk.folder.forget_typed(place)
    return went(here)


def _typed_now(request: Request, form: Mapping[str, str]) -> dict[str, str]:
    """Return the fields to keep: the one that was left, where a script sent it, else the whole form."""
    left = request.headers.get("hx-trigger-name", "")
    told = {name: form.get(name, "") for name in (left,)} if left else dict(form)
    return {
        name: value for name, value in told.items() if name not in ("trial", "library", "add", "note all")
    }


def _added(desk: Desk, name: str, library: Library, made: Trial) -> None:
    """Add a trial or its readings to a bench of the folder; what was asked about has been answered."""
    from optiform.trials.adding import add_trial

    kept = f"{name}/{WEIGHED if made.lines else READINGS}"
    desk.folder.written(kept, lambda: add_trial(desk.folder.place(name), library, made, checked=True))
    desk.folder.note_typed(f"written {kept}", {"version": _version(desk, kept)})


def _as_we_left_it(desk: Desk, name: str) -> bool:
    """Tell whether the readings of a bench are as this page wrote them, and what they were before is kept."""
    kept = f"{name}/{READINGS}"
    written = desk.folder.typed(f"written {kept}").get("version")
    return bool(written) and written == _version(desk, kept) and desk.folder.can_undo(kept)


def take_back(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Take the readings back that were added last."""
    name = request.path_params["name"]
    if _as_we_left_it(desk, name):
        desk.folder.undo(f"{name}/{READINGS}", form.get("version", ""))
    return went(address("trials", name, library=form.get("library", "")))


def weigh_form(desk: Desk, request: Request) -> Response:
    """Show what a trial of a formula weighs, to be written over with what the balance shows."""
    return _weigh(desk, request, request.query_params, ())


def _weigh(
    desk: Desk,
    request: Request,
    asked: Mapping[str, str],
    lines: tuple[str, ...],
    template: str = "weigh.html.j2",
) -> Response:
    """Show the form of a trial; what was typed into it stands over what is wanted."""
    name = request.path_params["name"]
    desk.folder.read(name)
    brief, library = held_against(desk, asked)
    batch = asked.get("batch") or BATCH
    wanted = answered(
        desk.ask(
            questions.weighed, desk.path(name), desk.safe(brief) if brief else "", desk.path(library), batch
        ),
        60.0,
    )
    if wanted is None:
        raise BadInput([Fault(name, "", "it takes too long", "ask again")])
    benches = desk.holds("trials")
    first = {
        "date": date.today().isoformat(),
        "bench": benches[0].name if benches else BENCH,
        "block": asked.get("block", ""),
    }
    typed = {**first, **desk.folder.typed(_weighing(name, asked))}
    known = {word: typed.get(f"grams {word}", grams) for word, _, grams in wanted}
    wrong = {word: fault for word, text in known.items() if (fault := _no_grams(text))}
    told = {f"grams {word}": fault for word, fault in wrong.items()}
    return shown(
        desk, request, template, 422 if lines else 200, name=name, brief=brief, library=library, batch=batch,
        wanted=wanted, typed=typed, known=known, wrong=wrong, told=told, lines=lines, benches=benches,
        parents=_parents(desk, typed["bench"], _held(desk, brief, library)),
    )  # fmt: skip


def _weighing(name: str, asked: Mapping[str, str]) -> str:
    """Return by which name a form of a trial is kept while it is typed."""
    batch, *held = (asked.get(word, "") for word in ("batch", "brief", "library"))
    return " ".join(["weighing of", name, batch or BATCH, *held])


def _held(desk: Desk, brief: str, library: str) -> Library:
    """Return the library of a brief, or the one that is named."""
    return desk.sound(desk.folder.read(brief)).library if brief else desk.library(library)


def _parents(desk: Desk, bench: str, library: Library) -> tuple[str, ...]:
    """Return the trials that a further one of a bench may change."""
    try:
        return tuple(_loaded(_bench_path(desk, bench), library).trial)
    except (BadInput, NotHere):
        return ()


def _no_grams(text: str) -> str:
    value = number(text.strip(), comma_decimals=True)
    return "" if value is not None and value >= 0 else f"'{text}' is no mass in grams"


def weigh(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Keep what is typed about a wash that is weighed; add it as a trial where that is asked for."""
    name = request.path_params["name"]
    left = request.headers.get("hx-trigger-name", "")
    now = {key: value for key, value in form.items() if (key == left if left else key != "add")}
    typed = desk.folder.note_typed(_weighing(name, form), now)
    if request.headers.get("hx-request") == "true":
        return _weigh(desk, request, form, (), "weighed.html.j2")
    brief, library = held_against(desk, form)
    if not form.get("add"):
        return went(address("weigh", name, brief=brief, library=library, batch=form.get("batch", "")))
    try:
        where = _bench_named(desk, typed.get("bench", ""))
        held = _held(desk, brief, library)
        made = _weighed(typed, held, brief)
        _added(desk, where, held, made)
    except BadInput as bad:
        return _weigh(desk, request, form, listed(_in_words(refused(bad, desk.folder.root))))
    desk.folder.forget_typed(_weighing(name, form))
    return went(address("trials", where, library=library))


def _bench_named(desk: Desk, name: str) -> str:
    """Return the name of a bench of the folder, there or to be made."""
    where = name.strip() or BENCH
    place = desk.folder.place(where)
    if place.exists():
        desk.folder.refuse_outside(f"{where}/{WEIGHED}", {"bench": "."})
    return where


def _weighed(typed: Mapping[str, str], library: Library, brief: str) -> Trial:
    """Return the trial that a form states.

    Raises
    ------
    BadInput
        With everything that is no mass.
    """
    faults, lines = Faults(), []
    for field, text in typed.items():
        word = field.removeprefix("grams ")
        if word == field or not text.strip():
            continue
        grams = number(text.strip(), comma_decimals=True)
        if _no_grams(text) or grams is None or word not in library.material:
            faults.add(word, f"'{text}' is no mass", allowed="grams, as the balance shows them")
        elif grams > 0:
            lines.append((word, grams))
    if not lines:
        faults.add("weights", "nothing was weighed", allowed="grams beside a material")
    faults.raise_if_any()
    day, block, parent = (typed.get(word, "").strip() for word in ("date", "block", "parent"))
    return Trial("", tuple(lines), (), day, block, brief.rpartition("/")[2], parent)


def from_record(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Make a filled batch record a trial; where something keeps it from being one, all of that is told beside it."""
    from optiform.sheets.record.as_trial import add_record

    name = request.path_params["name"]
    text, _, clashes = entries_written(desk, name, form)
    if clashes:
        return record_page(desk, request, form, 409, clashes=clashes)
    brief, library = records.made_from(text, name)
    try:
        where = _bench_named(desk, form.get("bench", ""))
        held = _held(desk, brief, library)
        given = Trial("", (), brief=brief.rpartition("/")[2], parent=form.get("parent", "").strip())
        right = bool(form.get("right"))
        desk.folder.written(
            f"{where}/{WEIGHED}",
            lambda: add_record(desk.folder.place(where), held, desk.folder.place(name), given, checked=right),
        )
    except BadInput as bad:
        lines = listed(_in_words(refused(bad, desk.folder.root)))
        return record_page(desk, request, form, 422, lines=lines)
    return went(address("trials", where, library=library))


def _in_words(faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
    """Return faults with the fields of the page in place of the options of the command line."""
    return tuple(
        replace(
            fault,
            place=FIELDS.get(fault.place, fault.place),
            allowed=f"tick “{RIGHT}”, if it is" if fault.allowed.startswith("--checked") else fault.allowed,
        )
        for fault in faults
    )


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
    return _tried(desk, request, questions.plan_trials, trials, measure)


def following(desk: Desk, request: Request) -> Response:
    """Show which trial is worth most to a brief, to be weighed, or that none is worth it."""
    return _tried(desk, request, questions.next_trial)


def _tried(desk: Desk, request: Request, question: Callable[..., object], *more: str) -> Response:
    name = request.path_params["name"]
    told, waits = page_of(desk, request, question, desk.safe(name), *more)
    asked = request.query_params
    return waits or shown(
        desk, request, "tried.html.j2", told=told, name=name, planned=question is questions.plan_trials,
        trials=asked.get("trials", ""), measure=asked.get("measure", OFFERED[0]), offered=OFFERED,
    )  # fmt: skip


def keep(desk: Desk, request: Request, form: dict[str, str]) -> Response:
    """Write one planned trial into the folder as a formula in grams, and open it to be weighed."""
    name = request.path_params["name"]
    planned = form.get("planned") == "yes"
    more = (form.get("trials", ""), form.get("measure", "")) if planned else ()
    question = questions.plan_trials if planned else questions.next_trial
    told = answered(desk.ask(question, desk.safe(name), *more), 60.0)
    found = [one for one in told.formulas if str(one.rank) == form.get("rank")] if told is not None else []
    if not found:
        raise NotHere(name)
    stem = name.rpartition("/")[2].removesuffix(".toml")
    kept = fresh(desk, f"{stem} trial {found[0].rank}", ".csv", found[0].csv, "planned")
    return went(address("weigh", kept, brief=name, block=found[0].cost if planned else ""))
