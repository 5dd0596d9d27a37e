"""Handles pages that add a trial: from a weighed formula, or from a filled batch record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from optiform.faults import BadInput, Fault, Faults, listed
from optiform.library import Library
from optiform.library.files.columns import number, two_readings
from optiform.page import bench_questions, records
from optiform.page.desk import Desk
from optiform.page.folder import NotHere, refused
from optiform.page.handlers.answers import held_against
from optiform.page.handlers.making import BENCH, entries_written, record_page
from optiform.page.handlers.trials import added, bench_path, loaded
from optiform.page.handlers.waiting import answered
from optiform.page.pages import address, shown, went
from optiform.trials.adding import add_trial
from optiform.trials.models import Trial
from optiform.trials.reading import WEIGHED

BATCH = "200g"
"""How much is weighed for a trial, where nothing else is said: two beakers; common practice, no source."""
FIELDS = {"--parent": "changes trial", "--trial": "trial"}
"""What the pages call an option of the command line."""
RIGHT = "What is asked about is right"


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
    ticket = desk.ask(bench_questions.weighed, desk.path(name), desk.safe(brief), desk.path(library), batch)
    wanted = answered(ticket, 60.0)
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
    """Return the name under which a form of a trial is kept while it is typed."""
    batch, *held = (asked.get(word, "") for word in ("batch", "brief", "library"))
    return " ".join(["weighing of", name, batch or BATCH, *held])


def _held(desk: Desk, brief: str, library: str) -> Library:
    """Return the library of a brief, or the one that is named."""
    return desk.sound(desk.folder.read(brief)).library if brief else desk.library(library)


def _parents(desk: Desk, bench: str, library: Library) -> tuple[str, ...]:
    """Return the trials that a further one of a bench may change."""
    try:
        return tuple(loaded(bench_path(desk, bench), library).trial)
    except (BadInput, NotHere):
        return ()


def _no_grams(text: str) -> str:
    either = two_readings(text)
    if either is not None:
        return f"'{text}' may be {' or '.join(either)}: write it without the comma"
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
        place, kept = desk.folder.place(where), _weighing(name, form)
        added(desk, where, lambda: add_trial(place, held, made, checked=True), kept)
    except BadInput as bad:
        return _weigh(desk, request, form, listed(_in_words(refused(bad, desk.folder.root))))
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
        wrong = _no_grams(text) if word in library.material else f"there is no material '{word}'"
        grams = number(text.strip(), comma_decimals=True)
        if wrong:
            faults.add(word, wrong, allowed="grams, as the balance shows them")
        elif grams:
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
        right, place, record = bool(form.get("right")), desk.folder.place(where), desk.folder.place(name)
        added(desk, where, lambda: add_record(place, held, record, given, checked=right))
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
