"""Draws the shelf of a family as a matrix of materials and products."""

from __future__ import annotations

from functools import partial

from optiform.families.model import Family
from optiform.views.pictures.drawing import BLUE, FAINT, ORANGE, QUIET, SMALL, WIDTH, Sheet, drawn, width_of
from optiform.views.words.blocks import Block, Drawn, Heading, Paragraph
from optiform.views.words.family_tables import names
from optiform.views.words.family_words import called, letter
from optiform.views.words.numbers import percent

TITLE = "The shelf"
STEP = 19.0
TOP = 24.0
LEAST, MOST = 3.0, 13.0
WIDE, NARROW = (720.0, 400.0), (float(WIDTH), 158.0)
"""Width of the picture on a page and on a phone, and the most that the names of materials take of it  [px]."""
SHOWN = 12
"""Products that have room for a column."""


def shelf_picture(found: Family) -> list[Block]:
    """Return the shelf as a picture; empty where there are no materials or too many products."""
    if not found.shelf or len(found.products) > SHOWN:
        return []
    products = ", ".join(f"{letter(place)} {title}" for place, title in enumerate(called(found).values()))
    note = f"{products}. Squares by amount, % w/w; orange where only one product uses the material."
    pictures = (drawn(partial(_draw, found, *size)) for size in (("shelf", *WIDE), ("shelf-narrow", *NARROW)))
    return [Heading("The shelf in a picture", 3), Paragraph(note, "quiet"), Drawn(*pictures)]


def _draw(found: Family, name: str, across: float, room: float) -> str:
    """Draw the matrix at a width, with at most some width for the names of materials."""
    short, count = names(found), len(found.products)
    room = min(room, 8 + max(width_of(short.short(stand.material)) for stand in found.shelf))
    sheet = Sheet(TOP + STEP * len(found.shelf) + 4.0, across=across)
    width = (across - room) / count
    for place in range(count):
        sheet.words(room + width * (place + 0.5), 13, letter(place), bold=True, anchor="center")
    for place, stand in enumerate(found.shelf):
        middle = TOP + STEP * (place + 0.5)
        sheet.line((0.0, across), (middle + STEP / 2, middle + STEP / 2), colour=FAINT, width=0.4)
        sheet.words(0, middle + 4, short.short(stand.material), room=room - 8)
        colour = ORANGE if len(stand.products) == 1 else BLUE
        for column, amount in enumerate(stand.percents):
            if amount > 0:
                size = min(MOST, max(LEAST, LEAST + (MOST - LEAST) * (amount / 20.0) ** 0.5))
                left = room + width * column + 4.0
                sheet.bar(left, middle - size / 2, size, size, colour, edge=colour)
                if width >= 40.0:
                    sheet.words(left + MOST + 3, middle + 4, percent(amount), size=SMALL, colour=QUIET)
    shared = sum(len(stand.products) > 1 for stand in found.shelf)
    told = f"{len(found.shelf)} materials by {count} products; {shared} of them are used by more than one."
    return sheet.finish(name, TITLE, told)
