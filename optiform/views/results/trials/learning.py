"""Tells what trials taught: on a first screen, and in full."""

from __future__ import annotations

from collections.abc import Callable

from optiform.answers.trials.model import Gate, Learned, LearnedModel, TaughtAlkali
from optiform.views.results.trials.listing import said_doubt
from optiform.views.words.blocks import (
    Align,
    Block,
    Bullets,
    Card,
    Cards,
    Cell,
    Field,
    Heading,
    Paragraph,
    Rows,
    Table,
    ask_next,
    bullets,
    joined,
    light,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import figure, fixed, give_or_take, short

Draw = Callable[["LearnedModel", Table, int], Card]
NOTHING_READ = "Nothing that can be fitted was read yet: no number of a fresh wash."
CANDIDATE = "A fit predicts washes of these materials only. What a customer buys is tested as it is."
SQUARED = "electrolyte squared"


def learn_first(found: Learned) -> list[Block]:
    """Return the first screen: what each material does to each measure, and how good the fit is."""
    blocks = _head(found)
    for model in found.models:
        blocks += [*_title(model), _table(model, short_screen=True), *_judged(model)]
    blocks += _alkali(found)
    blocks += [Paragraph(_gate(gate), "plain") for gate in found.gates]
    blocks += [Paragraph(said_doubt(doubt), "caution") for doubt in found.doubts]
    return [*blocks, *ask_next("optiform trial next BRIEF --bench DIR", "optiform trial learn DIR --full")]


def learn_blocks(found: Learned, draw: Draw | None = None) -> list[Block]:
    """Return everything that trials taught; `draw` makes a picture of a fit, where there are pictures."""
    blocks = _head(found)
    for number, model in enumerate(found.models, 1):
        blocks += [*_title(model), _table(model, short_screen=False), *_never_varied(model), *_judged(model)]
        points = _points(model)
        blocks.append(points if draw is None else Cards((draw(model, points, number),)))
    blocks += _alkali(found)
    blocks += bullets("Passed and failed", [_gate(gate) for gate in found.gates])
    blocks += bullets("Please look again", [said_doubt(doubt) for doubt in found.doubts], tone="caution")
    blocks += [Bullets(found.notes)] if found.notes else []
    return [*blocks, Paragraph(CANDIDATE, "caution")]


def _head(found: Learned) -> list[Block]:
    count = f"{found.trials} trial{'s' if found.trials != 1 else ''}"
    blocks: list[Block] = [Heading(f"What the trials in {found.title} taught", 1, aside=count)]
    if not (found.models or found.alkali or found.gates):
        blocks.append(Paragraph(NOTHING_READ))
    return blocks


def _title(model: LearnedModel) -> list[Block]:
    names = Names(zip(model.base, model.base_names, strict=True), model.base)
    base = joined([names.within(material) for material in model.base])
    return [
        Heading(f"{model.measure[:1].upper()}{model.measure[1:]}: {base}"),
        Paragraph(
            f"From {'one trial' if model.trials == 1 else f'{model.trials} trials'}; {_steady(model)}."
        ),
    ]


def _steady(model: LearnedModel) -> str:
    """Return how far a trial lies from the fit."""
    if model.scale == "log10":
        return f"a wash reads within a factor {figure(10.0**model.residual_sd, 2)} of the fit, two times in three"
    return (
        f"a wash reads within {figure(model.residual_sd, 2)} {model.unit}".rstrip()
        + " of the fit, two times in three"
    )


def _table(model: LearnedModel, *, short_screen: bool) -> Table:
    """Return what a step more of each material does, in place of water."""
    does = "viscosity times" if model.scale == "log10" else f"adds{f', {model.unit}' if model.unit else ''}"
    names = Names(((term.term, term.name) for term in model.terms), (term.term for term in model.terms))
    fields = (
        Field("in place of water", lambda term: names.short(term.term), head=True, cut=short_screen),
        Field("step", lambda term: "1 %2" if term.term == SQUARED else f"{short(term.step)} %", "right"),
        Field(does, lambda term: figure(term.effect, 2), "decimal"),
        Field(
            "9 times in 10",
            lambda term: _likely(model, term.effect, term.effect_low, term.effect_high),
            _interval(model),
        ),
        Field("from trials", lambda term: f"{fixed(100.0 * term.from_trials, 0)} %", "right"),
    )
    least = TELLING if short_screen else 0.0
    varied = [term for term in model.terms if term.varied and not term.water and term.from_trials >= least]
    shown = tabulated(f"What more of a material does to {model.measure}", fields, varied)
    return light(shown, folds=1, keeps=4) if short_screen else shown


def _likely(model: LearnedModel, value: float, low: float, high: float) -> str:
    """Return the 90 % interval of a value; that of a factor by its ends."""
    if model.scale == "log10":
        return f"{figure(low, 2)} to {figure(high, 2)}"
    return give_or_take(value, low, high, 2)


def _interval(model: LearnedModel) -> Align:
    """Return the alignment of a column of intervals: half widths by the point, ranges to the right."""
    return "right" if model.scale == "log10" else "decimal"


def _never_varied(model: LearnedModel) -> list[Block]:
    """Return which materials no trial tells apart from the others."""
    names = [Names([(term.term, term.name)]).within(term.term) for term in model.terms if not term.varied]
    if not names:
        return []
    who = "only the library says" if model.from_library else "nobody knows"
    return [
        Paragraph(f"Always the same in these trials, so that {who} what more of them does: {joined(names)}.")
    ]


def _judged(model: LearnedModel) -> list[Block]:
    """Return how good the fit is: repeats, outliers, disagreement with the library, a peak of salt."""
    told = [_lack(model), *_odd(model), *_disagree(model)]
    if model.curved:
        told.append(
            "More salt thickens less and less here, so its square counts as well: viscosity may have a peak."
        )
    return [Paragraph(" ".join(told), under=True)]


def _lack(model: LearnedModel) -> str:
    lack = model.lack_of_fit
    if lack is None and model.repeats < ENOUGH:
        again = AGAIN[model.repeats]
        return (
            f"Whether the fit has the right form cannot be tested without a repeat: weigh one wash {again}."
        )
    if lack is None:
        return "Whether the fit has the right form cannot be tested yet: too few different washes."
    if lack.p < 0.05:
        chance = "less than 1 %" if lack.p < 0.01 else f"{fixed(100 * lack.p, 0)} %"
        return f"The fit lacks something: trials miss it by more than repeats differ (by chance alone: {chance})."
    return "The trials miss the fit by no more than repeats differ."


def _odd(model: LearnedModel) -> list[str]:
    odd = [point for point in model.points if point.outside]
    return [
        f"Trial {point.trial} reads {figure(point.read, 2)}, which the others would not have predicted "
        f"({figure(point.fitted, 2)})."
        for point in odd
    ]


def _disagree(model: LearnedModel) -> list[str]:
    if not model.from_library:
        return []
    return [
        f"Your bench disagrees with the library: trial {item.trial} read {figure(item.read, 2)} where "
        f"{figure(item.low, 2)} to {figure(item.high, 2)} was expected; the value of "
        f"{Names([(item.material, item.name)]).within(item.material)} moved most for it."
        for item in model.disagreements
    ]


def _points(model: LearnedModel) -> Table:
    unit = f", {model.unit}" if model.unit else ""
    fields = (
        Field("trial", lambda point: point.trial, head=True),
        Field(f"read{unit}", lambda point: figure(point.read, 2), "decimal"),
        Field("fitted", lambda point: figure(point.fitted, 2), "decimal"),
        Field("9 times in 10", lambda point: _likely(model, point.fitted, point.low, point.high), _interval(model)),
        Field("leverage", lambda point: fixed(point.leverage, 2), "decimal", sheds=1,
              note="the part that a trial has in its own fitted value: 1 is a trial that nothing else supports"),
        Field("", lambda point: "odd" if point.outside else ""),
    )  # fmt: skip
    return tabulated(f"{model.measure}, fitted and read", fields, model.points)


ALKALI = (
    Field(
        "material", lambda item: Names([(item.material, item.name)]).short(item.material), head=True, cut=True
    ),
    Field("stated", lambda item: figure(item.stated, 1), "decimal"),
    Field("now", lambda item: figure(item.value, 1), "decimal"),
    Field("9 lots in 10", lambda item: give_or_take(item.value, item.low, item.high, 1), "right"),
    Field("from trials", lambda item: f"{fixed(100.0 * item.from_trials, 0)} %", "right"),
)
ENOUGH = 2
"""Repeats from which on the steadiness of the bench is known well enough to test a fit."""

AGAIN = ("again, twice", "once more")
TELLING = 0.2
"""A share of the trials below which a material stands in the full text only."""

LITTLE = 0.05
"""A share of the trials below which a material is only counted."""


def _alkali(found: Learned) -> list[Block]:
    """Return the free alkali of the materials of which the readings of pH say something."""
    if not found.alkali:
        return []
    taught: list[TaughtAlkali] = [item for item in found.alkali if item.from_trials >= LITTLE]
    readings = f"{found.pH_readings} reading{'s' if found.pH_readings != 1 else ''}"
    blocks: list[Block] = [Heading(f"pH: free alkali, from {readings}")]
    if taught:
        table = tabulated("Free alkali, mmol/kg; below 0 it is acid", ALKALI, taught)
        blocks.append(light(table, folds=2, keeps=3))
    else:
        blocks.append(Paragraph("The readings say nothing that the library does not."))
    blocks += [Paragraph(_beyond(item), "caution", under=True) for item in taught if item.beyond]
    if found.wrong_pka:
        blocks.append(
            Paragraph("What is left grows with pH: a pKa of the library is off, not an alkali.", "caution")
        )
    return blocks


def _beyond(item: TaughtAlkali) -> str:
    name = Names([(item.material, item.name)]).within(item.material)
    low, high = figure(item.stated_low, 1), figure(item.stated_high, 1)
    return (
        f"Your bench disagrees with the library: of {name} it states {low} to {high}. Another lot, another grade, or a "
        "meter to be calibrated?"
    )


def _gate(gate: Gate) -> str:
    """Return which trials passed: "one phase: yes in 1, 2, 3; no in 4"."""
    passed = f"yes in {', '.join(gate.passed)}" if gate.passed else ""
    failed = f"no in {', '.join(gate.failed)}" if gate.failed else ""
    return f"{gate.name}: {'; '.join(part for part in (passed, failed) if part)}."


def learn_rows(found: Learned) -> Rows:
    """Return the coefficients as rows of a CSV."""
    columns = (
        "measure", "base", "term", "prior", "prior_sd", "value", "low", "high", "from_trials", "scale", "trials",
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [
        (
            model.measure, "+".join(model.base), term.term, term.prior, term.prior_sd, term.value, term.low, term.high,
            term.from_trials, model.scale, model.trials,
        )
        for model in found.models
        for term in model.terms
    ]  # fmt: skip
    rows += [
        ("free alkali", "", item.material, item.stated, None, item.value, item.low, item.high, item.from_trials,
         "identity", found.pH_readings)
        for item in found.alkali
    ]  # fmt: skip
    return columns, rows
