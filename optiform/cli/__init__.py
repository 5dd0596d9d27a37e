"""The command line: each command parses, calls one function, and hands to a view.

A further command goes into the module of its kind, with `app.command()` from `optiform.cli.app` and
the options of `optiform.cli.options`.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""Set before numpy is imported: on products as small as ours, further threads cost more than they save."""

from optiform.cli.entry import main  # noqa: E402

__all__ = ["main"]
