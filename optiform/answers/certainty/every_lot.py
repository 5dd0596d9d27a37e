"""Finds formulas that hold for every lot, or for a stated share of lots, and what that costs."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from optiform.answers.describe.drawn_lots import DRAWN, lots_drawn
from optiform.answers.evaluate.judging import pairs_of
from optiform.answers.model.answer import Answer, CertaintyCost, Formula
from optiform.brief.models import Brief, Certainty
from optiform.program.windows import narrowed, windows_of
from optiform.search.first_formula import first_listed
from optiform.solver import NO_LIMIT, Clock, OutOfTime

HALVINGS = 7
"""The windows are drawn in to within 1/128 of what the stated share needs."""

RAISES = (1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2)
"""By how much the windows are widened again, step by step, while a listed formula falls short."""

SPECIFIED = "the suppliers' specifications"
TYPICAL = "No material has a specification range, so every lot counts as typical."
FOLLOWS = (
    "On each lot the pH is set with acid or base, and the water makes room; the aim is that of typical lots."
)
WISHED = "Soft wishes are counted at the typical composition: no lot is held to them."

FRESH = 1_000_003
"""Added to the seed for the lots on which a result is validated."""


@dataclass(frozen=True)
class Settled:
    """A brief whose limits hold for every lot within windows that were drawn in.

    Attributes
    ----------
    brief : Brief
        With windows as wide as they have to be, and the demand that limits hold within all of them.
    share : float
        1 for the windows of the specifications, less where they were drawn in.
    """

    brief: Brief
    share: float


def settled(brief: Brief, clock: Clock = NO_LIMIT) -> Settled:
    """Return a brief with a certainty as one that asks for every lot, its windows drawn in where a share is enough.

    Once the time of the clock is over the narrowest windows found so far are taken; its listener hears one short line
    at each step.

    Notes
    -----
    For a share of lots the windows of all materials are drawn in together, by halving, until the best
    formula for the drawn-in windows just holds in that share of lots drawn from the full windows. This
    is a sampled answer: another way to draw the windows in could be cheaper, and the share is counted
    on 10,000 seeded lots, not proven.
    """
    wanted = wanted_share(brief)
    if wanted is None or windows_of(brief.library) is None:
        return Settled(brief, 1.0)
    low, high = 0.0, 1.0
    with suppress(OutOfTime):
        if _holds(brief, 0.0, wanted, clock):
            return Settled(drawn_in(brief, 0.0), 0.0)
        for place in range(HALVINGS):
            clock.say(
                f"looking for the windows that {wanted:.0%} of lots need, step {place + 1} of {HALVINGS}"
            )
            middle = 0.5 * (low + high)
            if _holds(brief, middle, wanted, clock) is False:
                low = middle
            else:
                high = middle
    return Settled(drawn_in(brief, high), high)


def drawn_in(brief: Brief, share: float) -> Brief:
    """Return the brief with its library's windows drawn in, to hold for every lot within them."""
    certainty = brief.certainty or Certainty()
    every = certainty.model_copy(update={"lots": "all"})
    return brief.model_copy(update={"library": narrowed(brief.library, share), "certainty": every})


def _holds(brief: Brief, share: float, wanted: float, clock: Clock) -> bool | None:
    """Tell whether the best formula for drawn-in windows holds in enough lots; None where there is none.

    Raises
    ------
    OutOfTime
        If the time is over before the best formula is known.
    """
    found = first_listed(drawn_in(brief, share), clock)
    if not found.proven:
        raise OutOfTime
    if found.polished is None:
        return None
    drawn = lots_drawn(brief, found.polished.amounts, seed=_seed(brief))
    return drawn is None or drawn.share >= wanted


def _seed(brief: Brief) -> int:
    return 1 if brief.certainty is None else brief.certainty.seed


def sure(brief: Brief, ask: Callable[[Brief], Answer], clock: Clock = NO_LIMIT) -> Answer:
    """Answer a brief with a certainty: each formula with its count over drawn lots; `certainty` has what that costs.

    `ask` answers a brief whose limits hold for every lot of its library, or at the typical composition. Once the time
    is over windows are neither drawn in nor widened further. The clock's listener hears one short line at each step.
    """
    found = settled(brief, clock)
    answer = ask(found.brief)
    wanted = wanted_share(brief)
    formulas = with_lots(brief, answer.formulas, clock)
    if wanted is not None:
        for more in RAISES:
            if clock.over() or all(item.lots is None or item.lots.share >= wanted for item in formulas):
                break
            share = min(found.share + more, 1.0)
            found = Settled(drawn_in(brief, share), share)
            answer = ask(found.brief)
            formulas = with_lots(brief, answer.formulas, clock)
    figures = _figures(brief, answer, found, clock)
    return replace(
        answer,
        brief=brief,
        formulas=formulas,
        certainty=figures,
        notes=(
            *_notes(brief, replace(answer, formulas=formulas), found, figures, hurried=clock.over()),
            *answer.notes,
        ),
    )


def with_lots(brief: Brief, formulas: tuple[Formula, ...], clock: Clock) -> tuple[Formula, ...]:
    """Return formulas with their counts over freshly drawn lots; once the time is over only the first is counted."""
    seed = _seed(brief) + FRESH
    counted: tuple[Formula, ...] = ()
    for formula in formulas:
        if counted and clock.over():
            break
        amounts = brief.library.arrays.amounts(pairs_of(formula.lines))
        lots = lots_drawn(brief, amounts, seed=seed, acidity=formula.acidity)
        counted += (replace(formula, lots=lots),)
    return (*counted, *formulas[len(counted) :])


def _figures(brief: Brief, answer: Answer, found: Settled, clock: Clock) -> CertaintyCost:
    """Return what certainty costs, and how far it goes; without the figures for which the time was over."""
    plain = first_listed(brief.model_copy(update={"certainty": None}), clock)
    known = plain.polished if plain.proven else None
    without = None if known is None else known.program.aim.value(known.amounts)
    with_it = answer.formulas[0].aim if answer.formulas and answer.proven else None
    wanted = wanted_share(brief)
    return CertaintyCost(
        lots="all" if wanted is None else wanted,
        aim_with=with_it,
        aim_without=without,
        costs=None if without is None or with_it is None else abs(with_it - without),
        windows_drawn_in_to=found.share,
        drawn=DRAWN,
    )


def _notes(
    brief: Brief, answer: Answer, found: Settled, figures: CertaintyCost, *, hurried: bool
) -> list[str]:
    """Return what must be said of certainty beside an answer; a hurried one has formulas that were not counted."""
    holding = along if hurried else _holding
    told = [holding(brief, found) if answer.formulas else _asked(brief, found)]
    if brief.prefer and windows_of(brief.library) is not None:
        told.append(WISHED)
    unit, wanted = f" {answer.aim_unit}".rstrip(), wanted_share(brief)
    if figures.costs is not None:
        told.append(
            f"What that certainty costs: {answer.aim} {figures.aim_with:.4g} instead of "
            f"{figures.aim_without:.4g}{unit}."
        )
    elif figures.aim_without is not None and not answer.formulas:
        told.append(
            f"At the typical composition alone the brief could be met, at {figures.aim_without:.4g}{unit}."
        )
    counts = [(formula.rank, formula.lots) for formula in answer.formulas if formula.lots is not None]
    short = [str(rank) for rank, lots in counts if wanted is not None and lots.share < wanted]
    if short:
        told.append(f"In fewer lots than asked for: formula {', '.join(short)}.")
    open_ended = sorted({name for _, lots in counts for name in lots.open_ended})
    if open_ended:
        names = ", ".join(open_ended)
        told.append(f"One end of the specification is missing, so 0 or 100 % was taken for it: {names}.")
    return told


def wanted_share(brief: Brief) -> float | None:
    """Return the share of lots in which a brief wants its limits to hold; None for every lot, or no certainty."""
    certainty = brief.certainty
    return None if certainty is None or certainty.lots == "all" else float(certainty.lots)


def _holding(brief: Brief, found: Settled) -> str:
    """Return for which lots the limits of listed formulas hold."""
    wanted = wanted_share(brief)
    if wanted is None or windows_of(brief.library) is None:
        return along(brief, found)
    return (
        f"The limits hold in at least {100 * wanted:g} % of lots drawn at random, counted on {DRAWN:,} fresh ones and "
        f"not proven: they hold for every lot within {found.share:.0%} of each specification range. {FOLLOWS}"
    )


def _asked(brief: Brief, found: Settled) -> str:
    """Return for which lots limits were asked to hold that no formula can hold."""
    if windows_of(brief.library) is None:
        return TYPICAL
    wanted = wanted_share(brief)
    if wanted is None:
        return f"Every limit was asked to hold for every lot within {SPECIFIED}."
    return (
        f"For {100 * wanted:g} % of lots, every limit was asked to hold for every lot within {found.share:.0%} of each "
        "specification range."
    )


def along(brief: Brief, found: Settled) -> str:
    """Return for which lots limits hold where formulas are not counted one by one, as along a curve."""
    wanted = wanted_share(brief)
    if windows_of(brief.library) is None:
        return TYPICAL
    if wanted is None:
        return f"Every limit holds for every lot within {SPECIFIED}. {FOLLOWS}"
    return (
        f"Every limit holds for every lot within {found.share:.0%} of each specification range, as the brief's own "
        f"best formula needs it to hold in {100 * wanted:g} % of lots; other formulas were not counted. {FOLLOWS}"
    )
