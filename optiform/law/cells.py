"""From the cells of a law table to words, names, dates and numbers, noting each that cannot be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from optiform.faults import Faults, nearest
from optiform.library.files.columns import number, number_fault, shortened
from optiform.library.files.tables import Table
from optiform.library.models import MOST, Trust
from optiform.tolerances import SMALLEST_TYPED


@dataclass(frozen=True)
class Cells:
    """The cells of one row of a table, and where to note what is wrong with them."""

    table: Table
    row: int
    faults: Faults

    def refuse(self, column: str, message: str, allowed: str = "", near: str = "") -> None:
        """Note that a cell cannot be used."""
        place = self.table.place(self.row, column)
        self.faults.add(place, message, allowed=allowed, nearest=near, file=self.table.file)

    def text(self, column: str) -> str:
        """Return the text of a cell; empty where the column is absent."""
        return self.table.cells[column][self.row] if column in self.table.cells else ""

    def needed(self, column: str, what: str) -> str:
        """Return the text of a cell that must not be empty."""
        text = self.text(column)
        if not text:
            self.refuse(column, "the cell is empty", what)
        return text

    def word(self, column: str, words: Sequence[str], blank: str) -> str:
        """Return one of the allowed words."""
        text = self.text(column)
        if text and text not in words:
            self.refuse(column, f"'{shortened(text)}' is not known", ", ".join(words), nearest(text, words))
        return text if text in words else blank

    def names(self, column: str, words: Sequence[str] = ()) -> tuple[str, ...]:
        """Return the names of a list with semicolons between, each once and, if given, among `words`."""
        found = tuple(name.strip() for name in self.text(column).split(";") if name.strip())
        for name in sorted(set(found)):
            if words and name not in words:
                message = f"'{shortened(name)}' is not known"
                self.refuse(column, message, ", ".join(words), nearest(name, words))
        folded = [name.casefold() for name in found]
        for name in sorted({name for name in found if folded.count(name.casefold()) > 1}):
            self.refuse(column, f"'{shortened(name)}' appears twice", "each name once")
        return tuple(dict.fromkeys(name for name in found if not words or name in words))

    def percent(self, column: str) -> float | None:
        """Return a percentage from 0 to 100, or None for an empty cell."""
        return self._number(column, 0.0, 100.0, "a number from 0 to 100")

    def positive(self, column: str) -> float | None:
        """Return a number above 0, or None for an empty cell."""
        return self._number(column, SMALLEST_TYPED, MOST, f"a number above 0, up to {MOST:g}")

    def _number(self, column: str, low: float, high: float, allowed: str) -> float | None:
        text = self.text(column)
        if not text:
            return None
        value = number(text)
        if value is None:
            self.refuse(column, *number_fault(text, allowed))
            return None
        if not low <= value <= high:
            self.refuse(column, f"{value:g} is not allowed", allowed)
            return None
        return value

    def day(self, column: str) -> date | None:
        """Return a date, or None for an empty cell."""
        text = self.text(column)
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.refuse(column, f"'{shortened(text)}' is not a date", "year-month-day, e.g. 2026-07-31")
            return None

    def equivalents(self, column: str, substances: Sequence[str]) -> dict[str, float]:
        """Return the equivalents per mole of each substance: one number for all, or ``name=number`` pairs."""
        text = self.text(column)
        if not text:
            return {}
        single = number(text)
        if single is not None:
            return dict.fromkeys(substances, single) if self._sound(column, single, text) else {}
        found: dict[str, float] = {}
        for pair in (part.strip() for part in text.split(";") if part.strip()):
            name, sign, amount = (part.strip() for part in pair.rpartition("="))
            value = number(amount) if sign else None
            if value is None:
                allowed = "a number, or INCI=number;INCI=number"
                self.refuse(column, f"'{shortened(pair)}' is not understood", allowed)
            elif name not in substances:
                message = f"'{shortened(name)}' is not among the substances"
                self.refuse(column, message, "; ".join(substances), nearest(name, substances))
            elif self._sound(column, value, pair):
                found[name] = value
        return found

    def _sound(self, column: str, value: float, text: str) -> bool:
        sound = 0 < value <= MOST
        if not sound:
            self.refuse(column, f"'{shortened(text)}' is not allowed", f"a number above 0, up to {MOST:g}")
        return sound

    def sourced(self) -> tuple[Trust, str]:
        """Return the trust word at the head of the source cell, and the rest; a library's own by default."""
        text = self.text("source")
        head, colon, rest = text.partition(":")
        if colon and head.strip() in set(Trust):
            return Trust(head.strip()), rest.strip()
        return Trust.OWN, text
