"""The application that all commands join, and the exit codes."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from copy import copy
from typing import Annotated, Any

import typer
import typer.core
from typer.main import get_command_name

from optiform.faults import BadInput, Fault
from optiform.views.output import Output, deliver

OURS, BAD_INPUT, STOPPED = 1, 2, 4
TASKS = {
    "Begin": ("start", "open", "library"),
    "From a wish to formulas": ("check", "design", "why", "tradeoff"),
    "A formula that exists": ("evaluate", "reformulate", "swap"),
    "Making it, and learning from it": ("weigh", "sheet", "bench", "lot", "trial"),
    "Several products": ("shop", "family", "recost"),
    "About the program": ("doctor", "schema"),
}
"""The commands by the task that they serve, as the help lists them."""

HELP = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


class OnceEach(typer.core.TyperCommand):
    """A command that refuses an option given twice where it takes one value, instead of dropping the first."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the words of a command line."""
        if ctx.resilient_parsing:  # a half-typed line, when a shell asks what may follow
            return super().parse_args(ctx, args)
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        for option, times in Counter(order).items():
            takes_one = (
                isinstance(option, typer.core.TyperOption) and not option.is_flag and not option.multiple
            )
            if takes_one and times > 1:
                raise BadInput([Fault("", option.opts[0], f"given {times} times", "once")])
        return super().parse_args(ctx, args)


class ByTask(typer.core.TyperGroup):
    """The commands in the order of the work, under a heading for each task."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of the commands in the order of their tasks."""
        return [name for names in TASKS.values() for name in names if name in self.commands]

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each task's commands with what they do."""
        for task, names in TASKS.items():
            with formatter.section(task):
                formatter.write_dl(
                    [(f"{name:11}", self.commands[name].get_short_help_str(66)) for name in names]
                )


class Commands(typer.Typer):
    """Commands that take each option once."""

    def command(self, name: str | None = None, **settings: Any) -> Callable[[Any], Any]:
        """Add a function as a command."""
        return super().command(name, **{"cls": OnceEach, **settings})

    def narrowed(self, first: str) -> Commands:
        """Return an application of the command alone that a command line begins with: it is quicker to build."""
        commands = [item for item in self.registered_commands if _name_of(item) == first]
        groups = [item for item in self.registered_groups if item.name == first]
        if not commands and not groups:
            return self
        alone = copy(self)
        alone.registered_commands, alone.registered_groups = commands, groups
        alone._add_completion = False
        return alone


def _name_of(command: Any) -> str:
    """Return the word by which a command is called."""
    return command.name or get_command_name(command.callback.__name__)


app = Commands(
    cls=ByTask,
    context_settings=HELP,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
library_app = Commands(
    add_completion=False, context_settings=HELP, no_args_is_help=True, rich_markup_mode=None
)
trial_app = Commands(add_completion=False, context_settings=HELP, no_args_is_help=True, rich_markup_mode=None)


def _print_version(wanted: bool) -> None:
    if wanted:
        from optiform.version import __version__

        deliver(Output(), f"optiform {__version__}\n")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop."),
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="After a failure of ours, show where.")] = False,
) -> None:
    """Which washes can be made of these materials, which is cheapest, and what each wish costs.

    \b
    First steps:
      optiform start --for oily --texture gel --out nettle.toml
      optiform design nettle.toml

    Percent is percent w/w everywhere. Results are candidates to trial, not finished formulas.
    """


@library_app.callback()
def _library() -> None:
    """See, check and extend a library of raw materials.

    \b
    Example:
      optiform library list --function surfactant
    """


@trial_app.callback()
def _trial() -> None:
    """Plan trials, record them, and see what they taught.

    \b
    Example:
      optiform trial add bench --formula today.csv --reading viscosity=3200
    """
