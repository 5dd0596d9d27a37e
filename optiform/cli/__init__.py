"""The command line: each command parses, calls one function, and hands to a view.

A further command goes into the module of its kind, with `app.command()` from `optiform.cli.app` and
the options of `optiform.cli.options`.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from collections.abc import Sequence

from optiform import stopping

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Set before numpy is imported: on products as small as ours, further threads cost more than they save."""

COLLECT_AFTER = 1_000_000
"""New values after which reference cycles are looked for; one answer rarely needs as many, and has few cycles."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; a signal stops it from here on, also while it is being loaded."""
    _hold_streams()
    try:
        with stopping.ending():
            from optiform.cli.entry import main as run

            return run(arguments)
    except stopping.Stopped:
        with contextlib.suppress(OSError):
            print(stopping.so_far(), file=sys.stderr, flush=True)
        return stopping.EXIT_CODE


def program() -> int:
    """Be the program: run the command that the process was started with, and end with its exit code.

    What came before the end counts; a signal that comes while Python takes itself down changes nothing any more.
    The system takes all memory back then, so no reference cycle is looked for.
    """
    gc.set_threshold(COLLECT_AFTER, 10, 10)
    code = main()
    stopping.ignore()
    gc.freeze()
    return code


def _hold_streams() -> None:
    """Point closed standard streams at nothing, so that no file that is opened later takes the place of one.

    Standard output stays absent in Python: that its result has nowhere to go is told before the work.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    sys.stderr = sys.stderr or open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115


__all__ = ["main", "program"]
