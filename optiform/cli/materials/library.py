"""Commands about a library."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import BAD_INPUT, library_app
from optiform.cli.options import (
    ForceOption,
    FormatOption,
    LibraryArgument,
    LibraryOption,
    OutOption,
)
from optiform.faults import BadInput, Fault, nearest, printable
from optiform.views.forms import Result
from optiform.views.output import Format, Output, deliver, show

if TYPE_CHECKING:
    from optiform.library import Library


@library_app.command("check")
def library_check(
    folder: LibraryArgument = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """List everything that is wrong with a library at once.

    \b
    Example:
      optiform library check my-library

    Where nothing is wrong: what it holds, what deserves a second look, where its numbers come from.
    """
    from optiform.answers.library.report import report_on
    from optiform.views.results.library import report_blocks

    output, report = Output(form, out, force), report_on(folder)
    show(output, Result("Library", lambda: report_blocks(report), "library check", report))
    raise typer.Exit(BAD_INPUT if report.faults else 0)


@library_app.command("list")
def library_list(
    folder: LibraryArgument = None,
    function: Annotated[
        str | None,
        typer.Option(
            metavar="F", help="Only materials of this function.", autocompletion=completing.functions
        ),
    ] = None,
    tag: Annotated[
        str | None, typer.Option(metavar="T", help="Only materials that have or may have this tag.")
    ] = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """List the materials of a library.

    \b
    Example:
      optiform library list --function surfactant
    """
    from optiform.library import load_library
    from optiform.library.about import chosen
    from optiform.views.results.library import list_blocks, list_table

    output, held = Output(form, out, force), load_library(folder)
    materials = chosen(held, function, tag)
    value = {"library": held.name, "materials": materials}
    blocks, table = partial(list_blocks, held, materials), partial(list_table, materials)
    show(output, Result(held.name, blocks, "library list", value, table))


@library_app.command("show")
def library_show(
    material: Annotated[
        str,
        typer.Argument(metavar="MATERIAL", help="The id of a material.", autocompletion=completing.materials),
    ],
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Show one material with all that is known of it.

    \b
    Example:
      optiform library show xanthan-gum

    Composition, use range, the rules that touch it, where its numbers come from, trials and packs.
    """
    from optiform.library import load_library

    output, held = Output(form, out, force), load_library(library)
    if material not in held.material:
        known = {**{item.name: item.id for item in held.materials}, **{item: item for item in held.material}}
        near = known.get(nearest(material, known), "")
        raise BadInput([Fault(held.name, "MATERIAL", f"there is no material '{material}'", nearest=near)])
    show_material(output, held, material)


def show_material(output: Output, library: Library, material: str) -> None:
    """Write one material with all that is known of it."""
    from optiform.library.about import about
    from optiform.views.results.library import material_blocks

    found = about(library, material)
    value = {"library": library.name, **vars(found)}
    blocks = partial(material_blocks, library, found)
    show(output, Result(found.material.name, blocks, "library show", value))


@library_app.command("copy")
def library_copy(folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new folder.")]) -> None:
    """Copy the starter library into a new folder, to edit it.

    \b
    Example:
      optiform library copy my-library
    """
    from optiform.library.adding import copy_starter

    deliver(Output(), "".join(f"{printable(str(path))}\n" for path in copy_starter(folder)))
