"""A small workshop on disk, and one run of the command line in it, looked at from outside."""

from __future__ import annotations

import contextlib
import io
import os
import re
import resource
import time
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from optiform.cli import main
from tests.library.on_disk import SOUND

BRIEF = """\
title = "Nettle wash"
library = "lib"
[targets]
"active matter" = { at_least = 2.0, at_most = 9.0 }
[[include]]
material = "nettle"
at_least = 1.0
"""
FORMULA = "material,percent\nwater,q.s.\nnettle,2\nbetaine,20\ngum,0.5\n"
PLAN = """\
title = "Spring"
library = "lib"
[[make]]
formula = "today.csv"
batch = "2kg"
[[pack]]
material = "betaine"
size_g = 1000.0
price = 4.0
supplier = "Quay store"
"""
ANSWER = '{"brief": {"title": "Saved"}, "formulas": [{"rank": 1, "lines": [{"material": "water", "percent": 100}]}]}'
SOUND_FILES = {
    **{f"lib/{name}": text for name, text in SOUND.items()},
    "brief.toml": BRIEF,
    "today.csv": FORMULA,
    "plan.toml": PLAN,
    "unit.toml": "[unit]\ncontents_ml = 200.0\ndensity = 1.02\n",
    "prices.csv": "material,price\nbetaine,4.1\n",
    "shelf.csv": "material,stock_g\nwater,\nnettle,500\nbetaine,2000\ngum,100\nacid,100\n",
    "answer.json": ANSWER,
}
SECONDS, WAITED, MEGABYTES = 10.0, 100.0, 1000.0
BUFFERED_LINES = 60
"""Fifty faults, a line that counts them, a line for the rest, and a few of the command's own."""


@dataclass(frozen=True)
class Run:
    """What one command did: its exit code, what it printed, its time, the most memory so far.

    `seconds` is what it worked, on all cores together; a busy machine changes nothing in it. `waited` is what
    passed meanwhile: a run that hangs works little and waits long.
    """

    code: int
    out: str
    err: str
    seconds: float
    waited: float
    megabytes: float


class _Stream(io.TextIOWrapper):
    """A text stream over bytes, as standard output is one."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", errors="replace", write_through=True, newline="")

    def text(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode("utf-8", "replace")


def write(folder: Path, files: Mapping[str, str | bytes | None]) -> None:
    """Write a sound workshop with some files changed; None leaves one out."""
    for name, content in {**SOUND_FILES, **files}.items():
        if content is None:
            continue
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"))


def run(folder: Path, arguments: list[str]) -> Run:
    """Run one command inside a folder and in this process."""
    out, err, before = _Stream(), _Stream(), Path.cwd()
    os.chdir(folder)
    begun, worked = time.perf_counter(), sum(os.times()[:4])
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(arguments)
    finally:
        os.chdir(before)
    took, worked = time.perf_counter() - begun, sum(os.times()[:4]) - worked
    return Run(
        code,
        out.text(),
        err.text(),
        worked,
        took,
        resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
    )


def steering(text: str) -> str:
    """Return the first control character in a text, in words; a line end is none."""
    found = next((mark for mark in text if mark != "\n" and unicodedata.category(mark) in ("Cc", "Cs")), "")
    return f"U+{ord(found):04X}" if found else ""


def wrong_with(done: Run, *, refused: bool | None = None, names: str = "", timed: bool = True) -> list[str]:
    """Return what a run did that no run may do.

    Parameters
    ----------
    done : Run
    refused : bool, optional
        Whether the input has to be refused, or must not be; absent: either will do.
    names : str
        What a refusal has to name: the file, or the option.
    timed : bool
        Whether time and memory count; they depend on the machine, so the normal run leaves them out.
    """
    found = []
    if done.code not in (0, 2, 3, 4):
        found.append(f"exit {done.code}")
    if refused is True and done.code != 2:
        found.append(f"accepted in silence (exit {done.code})")
    if refused is False and done.code == 2:
        found.append("refused")
    if done.code == 2 and (not (done.err + done.out).strip() or names not in done.err + done.out):
        found.append(f"no fault that names '{names}'")
    if "Traceback" in done.err or "not to blame" in done.err + done.out:
        found.append("a failure of ours")
    if steering(done.out) or steering(done.err):
        found.append(f"a control character in the output: {steering(done.out) or steering(done.err)}")
    if done.code == 2 and len(done.err.splitlines()) > BUFFERED_LINES:
        found.append(f"{len(done.err.splitlines())} lines of faults")
    if timed and done.seconds > SECONDS:
        found.append(f"{done.seconds:.1f} s")
    if timed and done.waited > WAITED:
        found.append(f"waited {done.waited:.1f} s")
    if timed and done.megabytes > MEGABYTES:
        found.append(f"{done.megabytes:.0f} MB")
    if done.code == 2 and re.search(r"(\S)\1{300}", done.err):
        found.append("a value repeated in full")
    return found
