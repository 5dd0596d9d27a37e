"""The command that shows a folder of work as local pages."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optiform.cli.app import app
from optiform.faults import BadInput, Fault
from optiform.views.output import Output, deliver, note


@app.command("open")
def open_folder(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="[FOLDER]", help="The folder of your work; absent: washes, made if need be."),
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="A port of this machine; 0: any.")] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Whether a browser is opened.")
    ] = True,
) -> None:
    """Show a folder of work as pages in the browser.

    \b
    Example:
      optiform open my-washes

    Briefs as forms, answers, batch records, materials. It prints its address; only this machine can reach it, and only
    with the key in it. Nothing outside the folder is written. Ctrl-C ends it.
    """
    import webbrowser

    from optiform.page.serving import opened

    place = folder if folder is not None else Path("washes")
    if place.exists() and not place.is_dir():
        raise BadInput([Fault(str(place), "FOLDER", "this is no folder", "a folder, or a new name")])
    if folder is not None and not place.is_dir():
        raise BadInput([Fault(str(place), "FOLDER", "there is no such folder", "an existing folder")])
    place.mkdir(exist_ok=True)
    found = opened(place, port)
    deliver(Output(), f"{found.address}\n")
    note("Open this address in a browser. Ctrl-C ends it.")
    if browser:
        webbrowser.open(found.address)
    found.serve()
