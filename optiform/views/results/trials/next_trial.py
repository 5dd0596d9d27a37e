"""Tells the next trial: what to weigh, what it is worth, or why to stop."""

from __future__ import annotations

from optiform.answers.trials.planned import NextTrial, PlannedLine, Settledness, WorthOfTrial
from optiform.measures.learned import LOGARITHM
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Cell,
    Field,
    Heading,
    Paragraph,
    Rows,
    ask_next,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import figure, fixed, gained

PRICES = (
    "What a trial is worth is computed at the library's prices; where those are invented, so is the worth."
)


def next_blocks(found: NextTrial, *, ask: bool = True) -> list[Block]:
    """Return what the next trial is worth and what to weigh for it, or that no further one is worth it.

    Parameters
    ----------
    ask : bool
        Whether commands that may come next are told: a page has buttons instead.
    """
    blocks: list[Block] = [Heading(found.title, 1, aside=_verdict(found)), Paragraph(_now(found), "quiet")]
    if found.stop:
        blocks.append(Paragraph(_stop(found), "good"))
    if found.trials:
        first = found.trials[0]
        blocks += [
            Heading("The next trial" if not found.stop else "If you make one all the same"),
            tabulated("The next trial", FIELDS, first.lines),
        ]
        blocks += [Paragraph(text, under=True) for text in _worth(found, first)]
    if len(found.trials) > 1:
        others = "; ".join(
            f"{_differs(one, found.trials[0])}: {_gain(found, one)}{', may itself be the best' * one.may_be_best}"
            for one in found.trials[1:]
        )
        blocks.append(Paragraph(f"Others, worth less: {others}."))
    blocks += _settled(found)
    blocks += [Paragraph(PRICES, "caution")] if "/kg" in found.unit else []
    asked = ask_next("optiform trial add DIR --formula CSV", "optiform design BRIEF") if ask else []
    return [*blocks, *asked]


def _verdict(found: NextTrial) -> str:
    if found.stop:
        return "further trials change nothing"
    if not found.trials:
        return "nothing can be tried"
    return f"a trial is worth {_gain(found, found.trials[0])}" if found.met else "not sure enough yet"


def _now(found: NextTrial) -> str:
    made = f"{found.made} trial{'s' if found.made != 1 else ''} in the bench."
    if not found.met:
        return f"No formula holds what is asked as surely as asked. {made}"
    value, unit = found.value, found.unit.removeprefix(LOGARITHM)
    if unit != found.unit and value is not None:
        value = 10.0**value
    return f"The best formula now: {found.aim} {figure(value, 2)} {unit}. {made}".replace(" .", ".")


def _amount(found: NextTrial, gain: float) -> str:
    """Return a gain in the aim's unit; of a logarithm as a part of the measure itself."""
    if found.unit.startswith(LOGARITHM):
        return f"{figure(100.0 * (10.0**gain - 1.0), 1)} %"
    return gained(gain, found.unit)


def _stop(found: NextTrial) -> str:
    allowed = f"{_amount(found, found.allowance)}, which is what reopens a formula (worth, in the brief)"
    gain = found.trials[0].gain if found.trials else None
    best = "" if gain is None else f"; the best one is worth {_amount(found, gain)}"
    return f"Stop: nothing is worth {allowed}{best}."


def _gain(found: NextTrial, one: WorthOfTrial) -> str:
    if one.gain is not None:
        return _amount(found, one.gain)
    return "then the brief can be met" if one.meets else "not enough by itself"


FIELDS = (
    Field("weigh", lambda line: Names([(line.material, line.name)]).short(line.material), head=True),
    Field("g", lambda line: fixed(line.grams, 2), "decimal"),
    Field("%", lambda line: fixed(line.percent, 2), "decimal"),
)


def _worth(found: NextTrial, one: WorthOfTrial) -> list[str]:
    """Return how a trial narrows what is predicted, and what that saves."""
    told = [
        f"The {item.measure} of the best formula is predicted as {figure(item.low, 2)} to {figure(item.high, 2)} now, "
        f"{figure(item.after_low, 2)} to {figure(item.after_high, 2)} once this is read."
        for item in one.narrowed
    ]
    told += ["It may itself be the best."] if one.may_be_best else []
    if one.gain is None:
        return [
            *told,
            "After it the brief can be met." if one.meets else "It takes more than this one trial.",
        ]
    if one.narrowed:
        told.append(f"If it reads as expected, the best formula then is {_amount(found, one.gain)} better.")
    else:
        told.append(f"It is expected to raise the best by {_amount(found, one.gain)}.")
    return told


def _differs(one: WorthOfTrial, first: WorthOfTrial) -> str:
    """Return the amounts in which a trial differs most from another: "xanthan gum 0.85 %"."""
    before = {line.material: line.percent for line in first.lines}

    def off(line: PlannedLine) -> float:
        return abs(line.percent - before.get(line.material, 0.0))

    line = max(one.lines[1:] or one.lines, key=off)
    return f"with {Names([(line.material, line.name)]).within(line.material)} {fixed(line.percent, 2)} %"


def _settled(found: NextTrial) -> list[Block]:
    settled: Settledness | None = found.settled
    if settled is None or settled.low is None or settled.high is None:
        return []
    kept = f"the best formula keeps its structure in {settled.same} of {settled.draws}"
    told = [
        f"What may be true was drawn {settled.draws} times from what is known: {kept}, and its {found.aim} lies "
        f"between {figure(settled.low, 2)} and {figure(settled.high, 2)} {found.unit}, nine times in ten.".replace(
            " ,", ","
        ),
        f"To know these values exactly would save {_amount(found, settled.spared or 0.0)} on average, inside what "
        "was tried.",
    ]
    if settled.met < settled.draws:
        told.append(
            f"In {settled.draws - settled.met} draws no formula of the likeliest structures holds everything."
        )
    return [Heading("How firmly it stands"), Bullets(tuple(told))]


def next_rows(found: NextTrial) -> Rows:
    """Return the lines of weighed.csv of the trial that is worth most."""
    columns = ("trial", "date", "block", "brief", "parent", "material", "grams")
    name = str(found.made + 1)
    rows: list[tuple[Cell, ...]] = [
        (name, "", "", "", "", line.material, line.grams) for one in found.trials[:1] for line in one.lines
    ]
    return columns, rows
