"""Writes a family as a workbook: the shelf, the products, what to buy."""

from __future__ import annotations

from optiform.families.model import Family
from optiform.views.data.sheet_xlsx import Book
from optiform.views.results.families.shelf import rows
from optiform.views.results.sheet_rows import shopping_rows
from optiform.views.words import family_words as words


def family_workbook(found: Family) -> bytes:
    """Return a family as the bytes of an .xlsx file; every worksheet carries the cautions."""
    book = Book()
    told = (f"{found.title}: {words.verdict(found)}", words.proof(found), words.saving(found), *found.notes)
    titles = tuple(member.title for member in found.products)

    page = book.sheet("Shelf")
    row = book.lines(page, 1, "One shelf, % w/w", (text for text in told if text))
    stands = [
        (stand.material, stand.name, *(amount or None for amount in stand.percents)) for stand in found.shelf
    ]
    row = book.table(page, row, ("material", "name", *titles), stands)
    book.lines(page, row, "Cautions", found.cautions)

    page = book.sheet("Products")
    columns = ("product", "grams", "alone", "here", "aim", "aim_alone", "aim_here")
    members = [
        (member.title, member.grams, member.alone, member.here, member.aim, member.aim_alone, member.aim_here)
        for member in found.products
    ]
    row = book.table(page, 1, columns, members)
    row = book.table(page, row, *rows(found))
    book.lines(page, row, "Cautions", found.cautions)

    if found.purchase is not None:
        page = book.sheet("Shopping")
        row = book.table(page, 1, *shopping_rows(found.purchase))
        book.lines(page, row, "Cautions", found.cautions)
    return book.bytes()
