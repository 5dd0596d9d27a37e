"""Questions on a terminal about what options leave open: a raw material, what was added and read at the bench."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import typer

from optiform.faults import Faults, nearest, printable
from optiform.library import Library
from optiform.views.output import note

if TYPE_CHECKING:
    from optiform.answers.bench.readings import Addition

STOP = "Nothing was written."


def on_terminal() -> bool:
    """Tell whether somebody is there to be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr is not None and sys.stderr.isatty()


def ask(question: str, usual: str = "") -> str:
    """Return what is typed after a question on standard error, or what is usual where nothing is."""
    shown = f" [{usual}]" if usual else ""
    print(printable(f"{question}{shown}: "), end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line:
        note(f"\n{STOP}")
        raise typer.Exit(2)
    return line.strip() or usual


def ask_until(question: str, read: Callable[[str, Faults], Any]) -> Any:
    """Return what a reader makes of an answer, asking again with what was wrong until it makes something of it."""
    while True:
        faults = Faults()
        found = read(ask(question), faults)
        if not faults.found:
            return found
        for fault in faults.found:
            note(f"  {fault}")


def yes(question: str) -> bool:
    """Return whether a question is answered with yes; an empty answer is no."""
    return ask(f"{question} (yes or no)", "no").casefold() in ("y", "yes")


def ask_for_sheet(given: dict[str, Any], library: Library) -> None:
    """Ask for what a supplier's sheet says and no option said; `given` takes the answers.

    Parameters
    ----------
    given : dict
        name, function, price, content, new, neutral, pH_10, titration, preserves, preserves_pH, source, each as its
        option has it.
    library : Library
    """
    from optiform.library.files.columns import number
    from optiform.library.selection import FUNCTIONS
    from optiform.library.typed.supplier_sheet import window

    def function(text: str, faults: Faults) -> str:
        if text not in FUNCTIONS:
            faults.add(
                "", f"'{text}' is no function", allowed=", ".join(FUNCTIONS), nearest=nearest(text, FUNCTIONS)
            )
        return text

    def price(text: str, faults: Faults) -> float | None:
        value = number(text, comma_decimals=True)
        if value is None or value < 0:
            faults.add("", f"'{text}' is no price", allowed="a number, 0 or more")
        return value

    def pH_at_10(text: str, faults: Faults) -> str:
        if text:
            window(text, "", faults)
        return text

    given["name"] = given["name"] or ask("Generic name, with its strength")
    given["function"] = given["function"] or ask_until(
        "What is it there for (surfactant, humectant ...)", function
    )
    if given["price"] is None:
        given["price"] = ask_until(f"Price as supplied, {library.currency} per kg", price)
    if not given["content"]:
        _ask_for_contents(given, library)
    if given["function"] == "preservative" and not given["preserves"]:
        given["preserves"] = ask("Preserves at a dose of LOW:HIGH, % w/w")
        given["preserves_pH"] = ask("Preserves at pH LOW:HIGH, or any")
    if not given["neutral"] and not given["pH_10"] and given["titration"] is None:
        text = ask_until("pH of 10 % in water, LOW:HIGH or one reading; empty: not known", pH_at_10)
        given["pH_10"] = text or None
    given["source"] = given["source"] or ask("Who says so (sheet, supplier, date); empty: not said")


def ask_for_additions(
    made_g: float | None, library: Library, read: Callable[[str, Faults], Addition | None]
) -> tuple[float | None, tuple[Addition, ...], float | None]:
    """Ask for what was made, then for each addition and the pH after it, until nothing more was added.

    Parameters
    ----------
    made_g : float, optional  [g]
        Mass of the formula, where it says one.
    read : callable
        Reads an addition.

    Returns
    -------
    tuple
        The mass before the additions [g], the additions, and the pH that was read last; None where none was read after
        the last addition.
    """
    from optiform.library.files.columns import number
    from optiform.library.typed.masses import mass_of

    def mass(text: str, faults: Faults) -> float | None:
        return mass_of(text, "", faults) if text else None

    def addition(text: str, faults: Faults) -> Addition | None:
        found = read(text, faults) if text else None
        if found is not None and found.material not in library.material:
            near = nearest(found.material, library.material)
            faults.add("", f"there is no material '{found.material}' in the library", nearest=near)
        return found

    def pH(text: str, faults: Faults) -> float | None:
        value = number(text, comma_decimals=True) if text else None
        if text and (value is None or not 0 <= value <= 14):
            faults.add("", f"'{text}' is no pH", allowed="a number from 0 to 14")
        return value

    if made_g is None:
        made_g = ask_until("How much was made, such as 500g; empty: nothing was added to it", mass)
    additions: list[Addition] = []
    measured = ask_until("Its pH; empty: not measured", pH)
    while made_g is not None:
        added = ask_until(
            "Added, such as citric-acid=3.6g@10 of a solution of 10 %; empty: no more", addition
        )
        if added is None:
            break
        additions.append(added)
        measured = ask_until("pH after it; empty: not measured", pH)
    return made_g, tuple(additions), measured


def _ask_for_contents(given: dict[str, Any], library: Library) -> None:
    """Ask for substances and percents until an empty line; what the library does not know is described."""
    from optiform.library.files.columns import number
    from optiform.library.typed.matching import folded
    from optiform.library.typed.supplier_sheet import CLASSES, NO_CLASS

    def percent(text: str, faults: Faults) -> float | None:
        value = number(text.removesuffix("%").strip(), comma_decimals=True)
        if value is None or not 0 < value <= 100:
            faults.add("", f"'{text}' is no percent", allowed="a number above 0, up to 100")
        return value

    def charge_class(text: str, faults: Faults) -> str:
        if text and text not in (*CLASSES, NO_CLASS):
            faults.add("", f"'{text}' is not known", allowed=", ".join((*CLASSES, NO_CLASS)))
        return text or NO_CLASS

    def mildness(text: str, faults: Faults) -> str:
        value = number(text)
        if text and (value is None or not 0 <= value <= 100):
            faults.add("", f"'{text}' is no index", allowed="a number from 0 to 100")
        return text

    known = {folded(inci): inci for inci in library.substance}
    unknown = False
    while inci := ask("Substance by its INCI name; empty: no more, the rest is water"):
        name = known.get(folded(inci)) or _perhaps(inci, library)
        if name is None:
            told = f"{inci} is new. Surfactant class ({', '.join(CLASSES)}; empty: no surfactant)"
            word = ask_until(told, charge_class)
            mild = (
                ask_until("Its mildness, 0 harsh to 100 gentle; empty: not known", mildness)
                if word in CLASSES
                else ""
            )
            given["new"].append(f"{inci}: {word}{mild and f', mildness={mild}'}")
            known[folded(inci)], name, unknown = inci, inci, True
        given["content"].append(f"{name}={ask_until(f'Percent of {name}', percent):.10g}")
    if unknown and not given["pH_10"] and given["titration"] is None:
        given["neutral"] = yes("Is it certain that it takes up no acid and no base")


def _perhaps(inci: str, library: Library) -> str | None:
    """Return the library's own substance where a slip of the pen is confirmed, or None."""
    near = nearest(inci, library.substance, cutoff=0.8)
    return near if near and yes(f"'{inci}' is not in the library. Is it {near}?") else None
