"""Tells what a price list changes for a folder of products."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from optiform.answers.recost import Recosted, Recosting
from optiform.views.words.blocks import (
    Block,
    Field,
    Heading,
    Paragraph,
    Rows,
    bullets,
    joined,
    light,
    tabulated,
)
from optiform.views.words.names import Names
from optiform.views.words.numbers import change, fixed, percent, short

WORDS = {
    "kept": "the same formula stays best",
    "adjusted": "other amounts of the same choices are best now",
    "changed": "another formula is best now",
    "broken": "cannot be met at the new prices",
    "freed": "can be met at the new prices only",
    "impossible": "cannot be met, before or after",
    "fault": "could not be used",
    "failed": "this program failed",
}
PRICED = "priced as it is"
NAMED = 10
"""Names that are listed before the rest is counted."""

COSTS = (
    Field(
        "unchanged",
        lambda result: fixed(result.cost_same, 2),
        "decimal",
        note="unchanged: the old formula at the new prices",
    ),
    Field("best now", lambda result: fixed(result.cost_after, 2), "decimal"),
    Field(
        "saved",
        lambda result: fixed(result.saving, 2),
        "decimal",
        note="saved: by taking the formula that is best now",
    ),
)
CAUTION = (
    "Any change to a formula, however small, opens stability, the challenge test and the safety assessment again; "
    "a formula that stays the same keeps them."
)


def prices_moved_words(moved: int, unsure: int, library: str, formulas: Sequence[str]) -> str:
    """Return in a line which prices a list moves, and in which formulas."""
    if not moved:
        told = f"no price differs from {library}"
    else:
        told = f"{moved} {'price differs' if moved == 1 else 'prices differ'} from {library}"
        shown = joined([*formulas[:3], *([f"{len(formulas) - 3} more"] if len(formulas) > 3 else [])])
        told += f", of materials in {shown}" if formulas else ", of materials in no formula here"
    return (
        f"{told}; {unsure} {'row means' if unsure == 1 else 'rows mean'} nothing certain" if unsure else told
    )


def recost_blocks(found: Recosting) -> list[Block]:
    """Return a summary, one row per product, the changed formulas, and the files left out."""
    results = found.products
    units = list(dict.fromkeys(result.currency for result in results if result.currency))
    unit = "/".join([*(units if len(units) == 1 else ["currency of the library"]), "kg of contents"])
    names = _names(results)
    fields = (
        Field("product", lambda result: names[result.key], head=True),
        *((Field("currency", lambda result: result.currency),) if len(units) > 1 else ()),
        Field("before", lambda result: fixed(result.cost_before, 2), "decimal", note=f"all costs in {unit}"),
        *COSTS,
    )
    return [
        Heading("Products at the new prices", 1),
        Paragraph(_summary(results)),
        tabulated("Costs", fields, results, under=tuple(map(_words, results))),
        *_units(found, names, unit),
        *_changes(found, names),
        *_breaks(found, names),
        *bullets("What could not be used", (fault for result in results for fault in result.faults), "bad"),
        *_no_part(found, len(units) > 1),
        Heading("Caution"),
        Paragraph(CAUTION, "caution"),
    ]


def _names(results: Sequence[Recosted]) -> dict[str, str]:
    """Return the name of each product: its title, with its file where others have the same."""
    times = Counter(result.title for result in results)
    return {
        one.key: (one.title if times[one.title] == 1 else f"{one.title} ({one.name})")
        if one.title
        else one.name
        for one in results
    }


def _words(result: Recosted) -> str:
    """Return what happens to a product."""
    if result.kind == "formula" and not result.faults:
        return f"{PRICED}; it breaks limits" if result.breaks else PRICED
    words = WORDS[result.outcome]
    return f"{words}; unchanged it breaks a limit" if result.breaks and result.outcome != "broken" else words


def _summary(results: Sequence[Recosted]) -> str:
    """Return in one sentence how many products change, and how."""
    times = Counter(
        PRICED if result.kind == "formula" and not result.faults else WORDS[result.outcome]
        for result in results
    )
    order = [words for words in (*WORDS.values(), PRICED) if times[words]]
    told = "; ".join(f"{words}: {times[words]}" for words in order)
    return f"{len(results)} {'product' if len(results) == 1 else 'products'}. {told[:1].upper()}{told[1:]}."


def _units(found: Recosting, names: Mapping[str, str], unit: str) -> list[Block]:
    """Return what the contents of one sold unit cost, and by how much that changes."""
    if found.unit_g is None:
        return []
    money = unit.partition("/")[0]
    fields = (
        Field("product", lambda result: names[result.key], head=True),
        Field(
            "before",
            lambda result: fixed(result.unit.before, 2),
            "decimal",
            note=f"before: contents of one unit, {money}; then by how much that changes",
        ),
        Field("unchanged", lambda result: change(result.unit.before, result.unit.same, 2), "decimal"),
        Field("best now", lambda result: change(result.unit.before, result.unit.after, 2), "decimal"),
    )
    title = f"The change in one unit of {short(found.unit_g)} g"
    told = "Packaging, labour, tests and overhead cost what they did; samples are not counted."
    return [Heading(title), tabulated(title, fields, found.products), Paragraph(told, "quiet")]


def _changes(found: Recosting, names: Mapping[str, str]) -> list[Block]:
    """Return for each product whose best formula is another one now its amounts before and now."""
    fields = (
        Field("", lambda one: found.names.get(one[0], one[0]), head=True),
        Field("before", lambda one: percent(one[1]), "decimal"),
        Field("now", lambda one: percent(one[2]), "decimal"),
    )
    tables = [
        light(tabulated(names[result.key], fields, result.changes))
        for result in found.products
        if result.changes
    ]
    return [Heading("What changes, % w/w"), *tables] if tables else []


def _breaks(found: Recosting, names: Mapping[str, str]) -> list[Block]:
    say = Names(found.names.items()).said
    broken = [result for result in found.products if result.breaks]
    items = tuple(f"{names[result.key]}: {say('; '.join(result.breaks))}" for result in broken)
    return bullets("What the old formulas break", items)


def _no_part(found: Recosting, mixed: bool) -> list[Block]:
    """Return notes on currencies, matched names, unknown rows, and files that were passed over."""
    notes = []
    if mixed:
        notes.append(
            "The libraries have different currencies: each product was priced as if the list were in that of its own."
        )
    notes += [f"{result.title}: {told}" for result in found.products for told in result.matched]
    unknown = [f"{name} (did you mean {near}?)" if near else name for name, near in found.unknown]
    for words, told in (
        ("In the price list, and in no library", unknown),
        ("Passed over, neither brief nor formula", found.passed_over),
        ("Passed over as a plan, whose briefs and formulas count by themselves", found.plans),
    ):
        if told:
            more = f" and {len(told) - NAMED} more" if len(told) > NAMED else ""
            notes.append(f"{words}: {', '.join(told[:NAMED])}{more}.")
    return bullets("To know", notes)


def rows(results: Sequence[Recosted]) -> Rows:
    """Return one row per product, every digit."""
    columns = (
        "file", "kind", "outcome", "title", "currency", "cost_before", "cost_same", "cost_after", "saving",
        "structure_before", "structure_after", "breaks", "faults", "unit_before", "unit_same", "unit_after",
    )  # fmt: skip
    single, several, units = columns[1:9], columns[9:13], ("before", "same", "after")
    return columns, [
        (
            result.name,
            *(getattr(result, name) for name in single),
            *("; ".join(getattr(result, name)) for name in several),
            *(getattr(result.unit, name, None) for name in units),
        )
        for result in results
    ]
