"""The command line: each command parses, calls one function, and hands to a view.

A further command goes into the module of its kind, with `app.command()` from `optiform.cli.app` and
the options of `optiform.cli.options`.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Set before numpy is imported: on products as small as ours, further threads cost more than they save."""

STOPPED = 4


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; a Ctrl-C while the program is being loaded stops it quietly."""
    try:
        from optiform.cli.entry import main as run
    except KeyboardInterrupt:
        return STOPPED
    return run(arguments)


__all__ = ["main"]
