"""The command line: each command parses, calls one function, and hands to a view.

A further command goes into the module of its kind, with `app.command()` from `optiform.cli.app` and
the options of `optiform.cli.options`.
"""

from optiform.cli.entry import main

__all__ = ["main"]
