"""States the brief's own demands: targets, what must and must not be there, how many, shares and ratios."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from optiform.brief.models import Choose, Exclude, Include, Share, Target
from optiform.library.selection import named, parse_reference, select, share_of
from optiform.measures import Catalogue
from optiform.measures.amounts import Count, proportion
from optiform.measures.learned import Learned
from optiform.measures.measure import Measure
from optiform.measures.parts import CHARGE_CLASSES, active_part
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated
from optiform.program.requirement import Key, count_title
from optiform.program.rows.choices import limit_viscosity
from optiform.program.rows.draft import Draft, protects, sides
from optiform.program.rows.learned_rows import limit_learned, pass_gate, stay_where_tried
from optiform.program.rows.moves import MeasureMove
from optiform.program.rows.uncharged_rows import limit_undissociated


def add_targets(draft: Draft) -> None:
    """Add a window for every target; materials whose data lack for it are left out by name."""
    for name, target in draft.brief.targets.items():
        if name == "pH":
            continue
        if target.reading is not None:
            pass_gate(draft, name)
            continue
        limit_measure(draft, Key("targets", (name,)), draft.catalogue.find(name), target)


def limit_measure(draft: Draft, key: Key, measure: Measure, target: Target, **more: object) -> None:
    """Add a window on a measure, in the rows of its kind; a pH has rows of its own.

    `more` are fields of its requirements, such as `label` and `why`.
    """
    low, high = target.at_least, target.at_most
    if isinstance(measure, Learned):
        limit_learned(draft, measure, target, key, **more)
    elif isinstance(measure, Viscosity):
        limit_viscosity(draft, measure, target, key)
    elif isinstance(measure, Count):
        count_ingredients(draft, key, low, high, **more)
    elif isinstance(measure, Undissociated):
        limit_undissociated(draft, key, measure, low, high, **more)
    else:
        refuse_missing(draft, measure)
        draft.limit(key, measure, low, high, **more)


def refuse_missing(draft: Draft, measure: Measure) -> None:
    """Leave out, by name, the materials that have no data for a measure that the brief limits."""
    if measure.missing is None or not measure.missing.any():
        return
    if isinstance(measure, Learned):
        stay_where_tried(draft, measure)
        return
    draft.leave_out(
        Key("missing", (measure.name,)),
        np.flatnonzero(measure.missing),
        f"materials without data for {measure.name} stay out",
        "absent is not zero",
        f"Left out, because the library has no {measure.name} data for them",
    )


def count_ingredients(
    draft: Draft, key: Key, at_least: float | None, at_most: float | None, **more: object
) -> None:
    """Bound how many materials are used, water and the members of the preservative system among them."""
    columns = ingredient_columns(draft)
    for side, bound in sides(at_least, at_most):
        title = f"{more.get('label', '')} {count_title(side, bound, 'ingredients')}".lstrip()
        requirement = draft.require_count(
            key.end(side), "ingredients", side, bound, title=title, measure="ingredients", **more
        )
        draft.count(requirement, columns, side, bound)


def ingredient_columns(draft: Draft) -> list[int]:
    """Return choice columns, each as often as it stands for a material, over all materials."""
    return _choices(draft, draft.library.arrays.materials)


def add_includes(draft: Draft) -> None:
    """Add what must be there."""
    for position, wish in enumerate(draft.brief.include):
        label = described(wish.kind, wish.word)
        key = Key("include", (position + 1,))
        if wish.at_least is None or wish.at_least == 0:
            _include_used(draft, wish, key, label)
        if wish.at_least is not None or wish.at_most is not None:
            measure = draft.catalogue.find(f"{wish.kind}:{wish.word}")
            draft.limit(key, measure, wish.at_least, wish.at_most, label=label)


def _include_used(draft: Draft, wish: Include, key: Key, label: str) -> None:
    chosen = select(draft.library, wish.kind, wish.word).sure
    movable = not _protect(draft, chosen)
    title = f"{label} must be there"
    requirement = draft.require_choice(key.end("used"), title, movable=movable, subject=chosen)
    draft.count(requirement, _choices(draft, chosen), "at_least", 1)


def _protect(draft: Draft, names: Sequence[str]) -> bool:
    """Tell whether all of some materials are there to protect."""
    return protects(draft.library, draft.library.arrays.flags(map(draft.position, names)))


def _choices(draft: Draft, names: Sequence[str]) -> list[int]:
    """Return the choice columns of materials, each as often as it stands for one of them."""
    used = draft.all_used([draft.position(name) for name in names])
    return [column for choices in used for column in choices.tolist()]


def add_excludes(draft: Draft) -> None:
    """Add what must not be there, in any material; what may contain it counts unless the brief allows."""
    for position, wish in enumerate(draft.brief.exclude, 1):
        exclude(draft, wish, Key("exclude", (position,)))


def exclude(draft: Draft, wish: Exclude, key: Key) -> None:
    """Keep out every material that has, or may have, what is excluded."""
    chosen = select(draft.library, wish.kind, wish.word)
    names = chosen.sure if wish.unknown == "allow" else (*chosen.sure, *chosen.maybe)
    requirement = draft.require_choice(
        key, f"no {described(wish.kind, wish.word, plural=True)}", subject=names
    )
    draft.forbid(requirement, [draft.position(name) for name in names])


def add_shelf(draft: Draft) -> None:
    """Use only what is on the shelf, and no more of it than there is for the batch."""
    shelf, weighing = draft.brief.shelf, draft.brief.weighing
    if shelf is None:
        return
    absent = [m.id for m in draft.library.materials if m.id not in shelf and m.function != "water"]
    requirement = draft.require_choice(Key("shelf"), "only what is on the shelf", subject=tuple(absent))
    draft.forbid(requirement, [draft.position(name) for name in absent])
    for name, stock in shelf.items():
        if stock is not None and weighing is not None:
            measure = draft.catalogue.find(f"material:{name}")
            most = min(100.0, 100.0 * stock / weighing.batch_g)
            draft.limit(Key("stock", (name,)), measure, None, most, label=f"{name} in stock:")


def add_counts(draft: Draft) -> None:
    """Add how many different materials of a kind may be used."""
    for position, wish in enumerate(draft.brief.choose):
        names = _choosable(draft, wish)
        columns = _choices(draft, names)
        what = _counted(wish)
        for side, bound in sides(wish.at_least, wish.at_most):
            requirement = draft.require_count(
                Key("choose", (position + 1,), side),
                what,
                side,
                bound,
                movable=side == "at_most" or not _protect(draft, names),
                subject=tuple(names),
            )
            draft.count(requirement, columns, side, bound)


def add_shares(draft: Draft) -> None:
    """Add shares of active matter, or of another base."""
    for position, wish in enumerate(draft.brief.share):
        key = Key("share", (position + 1,))
        if wish.each is not None:
            _each(draft, wish, key)
        else:
            measure = share_measure(draft.catalogue, wish.of or "", wish.base)
            of = wish.of or ""
            label = share_of(of) if wish.base == "active matter" else named(of)
            draft.limit(key, measure, wish.at_least, wish.at_most, label=label)


def share_measure(catalogue: Catalogue, of: str, base: str) -> Measure:
    """Return the share of a class, material, substance or tag in a base, in %."""
    if base == "active matter":
        return catalogue.find(f"share:{of}")
    kind = catalogue.kind_of(of) if ":" not in of else parse_reference(of)[0]
    name = of if of in CHARGE_CLASSES or ":" in of else f"{kind}:{of}"
    return proportion(
        catalogue.find(name), catalogue.find(base), f"share of {of}", f"% of {named(base)}", factor=100.0
    )


def _each(draft: Draft, wish: Share, key: Key) -> None:
    """Bound the share of every single surfactant substance, summed over its materials; or of every material."""
    base = draft.catalogue.find(wish.base)
    label, unit = f"each single {wish.each}", f"% of {named(wish.base)}"
    for side, bound in sides(wish.at_least, wish.at_most):
        each = f"share of each {wish.each}"
        requirement = draft.require_bound(key.end(side), label, side, bound, unit, measure=each)
        for name, numerator in _singles(draft, wish.each or ""):
            single = Measure(name, unit, 100.0 * numerator, base.numerator, lowest=0.0, highest=100.0)
            draft.move(requirement, MeasureMove(single, side), bound)


def _singles(draft: Draft, each: str) -> Iterator[tuple[str, np.ndarray]]:
    """Yield the parts that "each" counts: surfactant substances, or the materials of another function."""
    library = draft.library
    if each == "surfactant" or each in CHARGE_CLASSES:
        for substance in library.substances:
            if substance.charge_class is None or (each in CHARGE_CLASSES and substance.charge_class != each):
                continue
            numerator = active_part(library, "substance", substance.inci)
            if numerator.any() or draft.probing:
                yield substance.inci, numerator
        return
    for name in select(library, "function", each).sure:
        yield name, draft.catalogue.find(f"material:{name}").numerator


def add_ratios(draft: Draft) -> None:
    """Add one amount in proportion to another.

    While the other is absent, at_least asks for nothing and at_most keeps the one out.
    """
    for position, wish in enumerate(draft.brief.ratio):
        top, bottom = (
            draft.catalogue.find(amount_name(draft.catalogue, name)) for name in (wish.of, wish.to)
        )
        measure = proportion(top, bottom, f"{wish.of} per {wish.to}", "g per g")
        label = f"{named(wish.of)} per {named(wish.to)}"
        draft.limit(Key("ratio", (position + 1,)), measure, wish.at_least, wish.at_most, label=label)


def amount_name(catalogue: Catalogue, reference: str) -> str:
    """Return the measure that a bare word means as an amount: a total, or an id or name with its prefix."""
    if ":" in reference or reference in catalogue.names():
        return reference
    return f"{catalogue.kind_of(reference)}:{reference}"


def described(kind: str, word: str, *, plural: bool = False) -> str:
    """Return how a reader would name a selection: an id, an INCI name, "humectant", "anything tagged sulfate"."""
    if kind == "tag":
        return f"material tagged {word}" if plural else f"something tagged {word}"
    return word


def _counted(wish: Choose) -> str:
    if wish.function is not None:
        return f"{wish.function}s"
    if wish.tag is not None:
        return f"materials tagged {wish.tag}"
    return "of " + ", ".join(wish.among)


def _choosable(draft: Draft, wish: Choose) -> list[str]:
    if wish.function is not None:
        return list(select(draft.library, "function", wish.function).sure)
    if wish.tag is not None:
        return list(select(draft.library, "tag", wish.tag).sure)
    return list(wish.among)
