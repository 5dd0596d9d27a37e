"""Inputs that are no file that can be read: other things, impossible names, too much, other kinds of bytes."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

from tests.fuzz.kinds.case import CHECK, EVALUATE, READERS, Case
from tests.fuzz.workshop import BRIEF, FORMULA
from tests.library.on_disk import MATERIALS


def _role(random: Random) -> tuple[str, tuple[str, ...]]:
    return random.choice(sorted(READERS.items()))


def no_file(random: Random) -> Case:
    """A folder, a pipe, a device, a link to itself, or nothing, where a file is read."""
    name, command = _role(random)
    if name.startswith("lib/") and name not in ("lib/composition.csv", "lib/materials.csv"):
        name, command = "today.csv", EVALUATE

    def prepare(folder: Path) -> None:
        path = folder / name
        {
            "folder": path.mkdir,
            "pipe": lambda: os.mkfifo(path),
            "device": lambda: path.symlink_to("/dev/zero"),
            "loop": lambda: path.symlink_to(path.name),
            "nothing": lambda: None,
        }[what]()

    what = random.choice(("folder", "pipe", "device", "loop", "nothing"))
    return Case(command, {name: None}, names=Path(name).stem, prepare=prepare)


def impossible_name(random: Random) -> Case:
    """A path with a NUL, or longer than any file's name, wherever a file names another one."""
    path = random.choice(("a\\u0000", "b" * 256, "c" * 5000, "d/" * 3000))
    key = random.choice(("library", "prices", "shelf", "formula", "make", "stock"))
    if key == "formula":
        text = BRIEF + f'[baseline]\nformula = "{path}"\nkeep = ["gum"]\n'
    elif key in ("make", "stock"):
        line = f'stock = "{path}"\n' if key == "stock" else ""
        named = path if key == "make" else "today.csv"
        text = f'title = "x"\nlibrary = "lib"\n{line}[[make]]\nformula = "{named}"\nbatch = "1kg"\n'
        return Case(("shop", "plan.toml"), {"plan.toml": text})
    elif key == "library":
        text = BRIEF.replace('"lib"', f'"{path}"')
    else:
        text = f'{key} = "{path}"\n{BRIEF}'
    return Case(random.choice((CHECK, ("design", "brief.toml"))), {"brief.toml": text})


def impossible_argument(random: Random) -> Case:
    """The same as an argument, also with half a surrogate pair."""
    path = random.choice(("a\0b", "b" * 256, "c/" * 3000, "\ud800.toml", "\x1b[31m.csv", "no\nfile"))
    before, after = random.choice(
        (
            (["check"], []),
            (["evaluate"], []),
            (["library", "check"], []),
            (["shop"], []),
            (["lot"], ["--active", "3"]),
        )
    )
    return Case((*before, path, *after))


def too_large(random: Random) -> Case:
    """A file beyond its limit in bytes; it has holes, so it costs no disk."""
    name, command = random.choice(
        (("brief.toml", CHECK), ("today.csv", EVALUATE), ("answer.json", READERS["answer.json"]))
    )

    def prepare(folder: Path) -> None:
        with (folder / name).open("ab") as file:
            file.truncate(random.choice((70_000_000, 3_000_000_000)))

    return Case(command, names=name, prepare=prepare)


def many_rows(random: Random) -> Case:
    """More rows than are read."""
    return Case(
        EVALUATE,
        {"today.csv": FORMULA + "gum,0\n" * random.choice((10_000, 1_000_001, 2_000_000))},
        names="today",
    )


def random_bytes(random: Random) -> Case:
    """Bytes without any sense, or the beginning of another kind of file."""
    name, command = _role(random)
    head = random.choice(
        (b"", b"PK\x03\x04", b"%PDF", b"\xff\xfe", b"\x1f\x8b", b"\xd0\xcf\x11\xe0", b"\xef\xbb\xbf")
    )
    return Case(command, {name: head + random.randbytes(random.choice((1, 40, 3000)))}, names=Path(name).stem)


def not_utf8(random: Random) -> Case:
    """One byte that is not UTF-8."""
    name, command = random.choice(
        (("brief.toml", CHECK), ("today.csv", EVALUATE), ("lib/materials.csv", CHECK))
    )
    text = {"brief.toml": BRIEF, "today.csv": FORMULA, "lib/materials.csv": MATERIALS}[name].encode()
    place = random.randrange(len(text))
    return Case(
        command,
        {name: text[:place] + random.choice((b"\xe4", b"\x80", b"\xff")) + text[place:]},
        names=Path(name).stem,
    )
