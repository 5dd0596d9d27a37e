"""Writes the reference pages and the pictures of the docs from the code itself; with --check, says what is stale.

python docs/generate.py            # write
python docs/generate.py --check    # exit 1 if a page differs, or a picture says something else
"""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import click
import typer.main
from key_tables import brief_reference, model_table

from optiform.families import plan
from optiform.library import load_library, models
from optiform.measures import Catalogue
from optiform.trials.expected import ExpectedRow
from optiform.trials.models import ReadingRow, WeighedRow

DOCS = Path(__file__).parent
REFERENCE, PICTURES = DOCS / "reference", DOCS / "pictures"
PROBLEMS = DOCS.parent / "problems"
WIDTH = 88
MADE = "<!-- Made by docs/generate.py from the code. Edit the code, not this page. -->\n\n"


def brief_page() -> str:
    """Return the page of every key of a brief."""
    intro = (
        "# Brief\n\nA brief is a TOML file. `title` is needed, and at least one target, one include or a baseline that "
        "keeps or holds something; everything else has the default shown here. An unknown key, a misspelt "
        "measure or a missing file is an error that names the nearest right word. Paths are relative to the "
        "brief's own folder.\n\n"
    )
    return intro + brief_reference()


def family_page() -> str:
    """Return the page of every key of a family plan."""
    intro = (
        "# Family plan\n\nA family plan is a TOML file: several briefs that are made from one shelf "
        "([how to](../how-to/share-one-shelf.md)). Its briefs draw on one library. Paths start from the plan's "
        "own folder; an unknown key, a misspelt name or a missing file is an error that names the nearest right "
        "word.\n\n"
    )
    tables = {
        "Top of the file": plan.FamilyKeys,
        **{f"[{name}]": table for name, table in plan.TABLES.items()},
    }
    lists = {f"[[{name}]]": model for name, model in plan.LISTS.items()}
    parts = (f"## {head}\n\n{model_table(model)}" for head, model in (tables | lists).items())
    return intro + "\n\n".join(parts) + "\n"


TABLES: dict[str, tuple[type[models.Frozen], str]] = {
    "materials.csv": (
        models.Material,
        "What is bought and weighed. Exactly one has the function `water`.",
    ),
    "substances.csv": (models.Substance, "INCI-level chemicals and botanicals, one row each."),
    "composition.csv": (models.Part, "What each material consists of; the parts of a material add to 100."),
    "titration.csv": (
        models.TitrationPoint,
        "Optional: bench titrations, which replace computed charge curves.",
    ),
    "trials.csv": (
        models.Trial,
        "Optional: viscosities that you measured; those of another trust than `own` give no viscosity.",
    ),
    "packs.csv": (models.Pack, "Optional: packs that suppliers sell."),
}
RULES: dict[str, tuple[type[models.Frozen], str]] = {
    "[[measure]]": (
        models.ColumnMeasure,
        "A column of materials.csv or substances.csv that counts as a measure.",
    ),
    "[[system]]": (
        models.PreservativeSystem,
        "Preservatives that work together; exactly one system is always chosen.",
    ),
    "[[base]]": (models.Base, "What was tried: the blend in which the trials of one base were made."),
    "[[needs]]": (models.Needs, "Whenever `material` is used, `other` is used as well."),
    "[[incompatible]]": (models.Incompatible, "Never together."),
    "[[when]]": (models.When, "Whenever `material` is used, a measure stays within bounds."),
    "[[linear]]": (models.LinearRule, "Any linear rule over sums."),
    "[[note]]": (models.Note, "Forbids nothing: what a reader is told of a formula that holds these."),
}


def library_page() -> str:
    """Return the page of every table, column and rule of a library."""
    parts = [
        "# Library",
        "A library is a folder: `library.toml` (name, currency, trust of columns, house rules) and the tables below as "
        "UTF-8 CSV, comma separated, header row, `.` decimal; or one `.xlsx` with the same tables as sheets, "
        "`library.toml` beside it. A blank cell is unknown, not zero. Where a rule names materials, write an id, "
        "or `function:WORD`, `tag:WORD`, `substance:INCI`. Trust is one of "
        + ", ".join(trust.value for trust in models.Trust)
        + "; the `[trust]` table sets it for a whole column.",
        "`optiform library check DIR` lists everything that is wrong at once, and warns where the computed pH of a "
        "material at 10 % in water leaves its supplier's window.",
    ]
    for name, (model, about) in TABLES.items():
        parts.append(f"## {name}\n\n{about}\n\n{model_table(model)}")
    parts.append("## library.toml")
    for name, (model, about) in RULES.items():
        parts.append(f"### {name}\n\n{about}\n\n{model_table(model)}")
    return "\n\n".join(parts) + "\n"


TRIALS: dict[str, tuple[type[models.Frozen], str]] = {
    "weighed.csv": (WeighedRow, "One line for each material of a trial, as it was really weighed."),
    "readings.csv": (
        ReadingRow,
        "One line for each reading. A reading after three days, or away from room temperature, belongs to the "
        "stability log; it is listed and never fitted. One of the first twelve hours counts only while no later one "
        "stands beside it. Yes or no is a gate: `one phase`, `clear`, `gelled`.",
    ),
    "expected.csv": (
        ExpectedRow,
        "Optional, in the library's folder: what you expect of a measure before any trial, per 1 % w/w of each "
        "material; of viscosity its log10. The line that names a material counts before its kind, that before "
        "`other`. Where a "
        "library says nothing, lines from memory that come with the program do.",
    ),
}


def trials_page() -> str:
    """Return the page of every column of a bench folder."""
    parts = [
        "# Trials",
        "A bench is a folder of two UTF-8 CSV files, comma separated, header row, `.` decimal, written by hand or by "
        "`optiform trial add`. Trials and readings stand in the order in which they were made.",
    ]
    parts.extend(f"## {name}\n\n{about}\n\n{model_table(model)}" for name, (model, about) in TRIALS.items())
    return "\n\n".join(parts) + "\n"


def measures_page() -> str:
    """Return the page of every built-in measure, with its unit and what to know about it."""
    catalogue = Catalogue(load_library())
    rows = ["| measure | unit | better | range of a bound | note |", "|---|---|---|---|---|"]
    for name in catalogue.names():
        measure = catalogue.find(name)
        low, high = (
            f"{end:g}" if abs(end) != float("inf") else "" for end in (measure.lowest, measure.highest)
        )
        rows.append(
            f"| `{name}` | {measure.unit} | {measure.better or ''} | {low} to {high} | {measure.note} |"
        )
    return (
        "# Measures\n\nA measure is a number that a formula amounts to, defined once as a ratio of two linear forms "
        "([why](../explanation/one-idea.md)). Any of them can be a target; any but pH, buffer capacity, viscosity "
        "and uncharged acid can be an aim.\n\n"
        + "\n".join(rows)
        + "\n\nWith a word behind a colon: `substance:INCI`, `tag:WORD`, `function:WORD`, `material:ID` (% w/w), "
        "`share:WORD` (a charge class, tag, substance or material, % of active matter) and `undissociated:INCI` (% w/w "
        "of one acid in its uncharged form at the pH that holds for it, counted as the acid). A `[[measure]]` in "
        "library.toml turns any column into a measure, without code.\n"
    )


def commands_page() -> str:
    """Return the page of every command, as its own help prints it."""
    from optiform.cli.entry import app

    codes = (
        "Exit codes: 0 answered, 1 our failure, 2 bad input (every fault listed), 3 the brief cannot be met "
        "(explained), 4 stopped at a limit with the best so far."
    )
    parts = ["# Commands", codes]
    parts.extend(
        f"## {context.command_path}\n\n```text\n{context.get_help().rstrip()}\n```"
        for context in _contexts(typer.main.get_command(app), "optiform", None)
    )
    return "\n\n".join(parts) + "\n"


def _contexts(command: Any, name: str, parent: click.Context | None) -> Iterator[click.Context]:
    """Yield the context of a command and of every command below it."""
    context = click.Context(command, info_name=name, parent=parent, terminal_width=80, max_content_width=80)
    yield context
    for child, below in getattr(command, "commands", {}).items():
        yield from _contexts(below, child, context)


def python_page() -> str:
    """Return the page of every question as a Python function, from its signature and docstring."""
    import optiform

    intro = (
        "# Python\n\nEvery question of the command line is a function: `from optiform import design, sheet`. Where a "
        "brief, a library or a formula is meant, a path will do, and so will what another question returned. Faults "
        "of files come as one `BadInput` with all of them in `.faults`. Whatever comes back is frozen, its mappings "
        "too; tables are pandas frames. An answer, and each formula of it, shows itself: `to_text()` at one look, "
        "`to_text(full=True)`, `to_html()`, `to_json()`, `to_csv()`, `frame()`, and `plot()` where its page has "
        "pictures."
    )
    parts = [intro]
    parts.extend(
        f"## {name}\n\n{_function(getattr(optiform, name))}"
        for name in optiform.__all__
        if inspect.isfunction(getattr(optiform, name))
    )
    return "\n\n".join(parts) + "\n"


def cost_of_mildness() -> str:
    """Return the picture of the README: the least cost of a shipped wash at every mildness."""
    from optiform import tradeoff
    from optiform.views.pictures.tradeoff_picture import tradeoff_svg

    return tradeoff_svg(tradeoff(PROBLEMS / "nettle-gel-oily-skin" / "brief.toml"))


def words_of(picture: str) -> list[str]:
    """Return every word that a picture holds; versions of the drawing library place them a little differently."""
    return [text for text in ElementTree.fromstring(picture).itertext() if text.strip()]


def _function(function: Callable[..., Any]) -> str:
    """Return the signature of a function, and its docstring with a list for each section."""
    first, *sections = re.split(r"\n\n(?=\w+\n-+\n)", (inspect.getdoc(function) or "").replace("``", "`"))
    parts = [f"```text\n{_signature(function)}\n```", first.replace("\n", " ")]
    for section in sections:
        title, _, body = section.split("\n", 2)
        if title == "Notes":
            parts.append(" ".join(body.split()))
            continue
        found = re.findall(r"^(\S.*?)(?: : (.*))?\n((?:    .*\n?|\n)*)", body + "\n", re.MULTILINE)
        rows = [f"- `{name}`{f' ({kind})' if kind else ''}{_sentence(about)}" for name, kind, about in found]
        parts.append("\n".join(rows if title == "Parameters" else [f"{title}:\n", *rows]))
    return "\n\n".join(parts)


def _signature(function: Callable[..., Any]) -> str:
    """Return the signature of a function, a line for each parameter where it is long."""
    signature = inspect.signature(function)
    written, starred = [], False
    for name, parameter in signature.parameters.items():
        if parameter.kind is parameter.KEYWORD_ONLY and not starred:
            written.append("*")
            starred = True
        value = parameter.default
        shown = value.__name__ if inspect.isfunction(value) else repr(value)
        default = "" if value is parameter.empty else f" = {shown}"
        written.append(f"{name}: {parameter.annotation}{default}")
    line = f"{function.__name__}({', '.join(written)}) -> {signature.return_annotation}"
    if len(line) <= WIDTH:
        return line
    lines = "".join(f"    {item},\n" for item in written)
    return f"{function.__name__}(\n{lines}) -> {signature.return_annotation}"


def _sentence(about: str) -> str:
    words = " ".join(about.split())
    return f": {words}" if words else ""


PAGES: dict[Path, Callable[[], str]] = {
    REFERENCE / "brief.md": brief_page,
    REFERENCE / "family.md": family_page,
    REFERENCE / "library.md": library_page,
    REFERENCE / "measures.md": measures_page,
    REFERENCE / "trials.md": trials_page,
    REFERENCE / "commands.md": commands_page,
    REFERENCE / "python.md": python_page,
}
DRAWN: dict[Path, Callable[[], str]] = {PICTURES / "cost-of-mildness.svg": cost_of_mildness}


def stale() -> dict[Path, str]:
    """Return what each file that is out of date has to hold."""
    found = {}
    for path, page in PAGES.items():
        text = MADE + page()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            found[path] = text
    for path, draw in DRAWN.items():
        text = draw()
        if not path.exists() or words_of(path.read_text(encoding="utf-8")) != words_of(text):
            found[path] = text
    return found


def main() -> int:
    """Write or check every page and picture; return the exit code."""
    found = stale()
    if "--check" in sys.argv and found:
        names = ", ".join(path.name for path in found)
        print(f"out of date: {names}; run python docs/generate.py", file=sys.stderr)
        return 1
    for path, text in found.items():
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
