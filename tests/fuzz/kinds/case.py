"""What one input is: files, a command, and whether it must be refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

Make = Callable[[Random], "Case"]
ABSURD = ("1e300", "-1e300", "1e308", "1e999", "nan", "-inf", "9" * 4400, "0x" + "f" * 5000, "-1", "1e-320")
STEERING = ("\x1b[31m", "\x07", "\r", "\x0b", "\x9b2J", "\u202e", "\x7f", "\x00")
MISSPELT = (
    "decly",
    "function:oill",
    "tag:sulfat",
    "substance:Aqva",
    "share:anoinic",
    "materil:gum",
    "prize",
    "",
)
CHECK = ("check", "brief.toml")
EVALUATE = ("evaluate", "today.csv", "--library", "lib")
SHEET = ("sheet", "today.csv", "--batch", "1kg", "--library", "lib")
READERS = {
    "brief.toml": CHECK,
    "today.csv": EVALUATE,
    "plan.toml": ("shop", "plan.toml"),
    "unit.toml": (*SHEET, "--unit", "unit.toml"),
    "answer.json": ("sheet", "answer.json", "--batch", "1kg", "--library", "lib"),
    "lib/library.toml": ("library", "check", "lib"),
    "lib/materials.csv": ("library", "check", "lib"),
    "lib/substances.csv": ("library", "list", "lib"),
    "lib/composition.csv": CHECK,
    "lib/limits.csv": ("library", "check", "lib"),
    "lib/allergens.csv": ("library", "check", "lib"),
    "lib/titration.csv": ("library", "check", "lib"),
    "prices.csv": ("recost", ".", "--prices", "prices.csv", "--workers", "1", "--library", "lib"),
    "spec.toml": ("library", "add", "sea-salt", "--library", "lib", "--from", "spec.toml", "--dry-run"),
}
"""Every file that is read, with a command that reads it."""


@dataclass(frozen=True)
class Case:
    """One input: files beside the sound ones, and the command.

    Attributes
    ----------
    refused : bool, optional
        Whether it must be refused (True), must not be (False), or either will do.
    names : str
        What a refusal has to name.
    prepare : callable, optional
        What is done in the folder beyond writing files: pipes, links.
    """

    arguments: tuple[str, ...]
    files: Mapping[str, str | bytes | None] = field(default_factory=dict)
    refused: bool | None = True
    names: str = ""
    prepare: Callable[[Path], None] | None = None
