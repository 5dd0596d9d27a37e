"""Whatever stands in briefs, libraries, formulas, plans and options: an answer or faults, in plain text.

Types, ranges, texts and structures are drawn. The normal run takes well under a minute;
``OPTIFORM_EXAMPLES=100000 pytest tests/fuzz/test_anything.py`` goes on as long as one likes.
"""

from __future__ import annotations

import os
import string
import tempfile
from pathlib import Path

import hypothesis.strategies as some
from hypothesis import HealthCheck, given, settings

from optiform.brief.keys import BriefKeys
from optiform.brief.writing import write_brief
from tests.fuzz.kinds.case import CHECK, EVALUATE, SHEET
from tests.fuzz.workshop import BRIEF, SOUND_FILES, run, write, wrong_with
from tests.library.on_disk import SOUND

FEW = 12
EXAMPLES = int(os.environ.get("OPTIFORM_EXAMPLES", FEW))
FORMS = ("text", "json", "csv", "md", "html")
often = settings(max_examples=EXAMPLES, derandomize=EXAMPLES == FEW, suppress_health_check=list(HealthCheck))

NAMES = (
    "water,betaine,gum,acid,tag:gum,function:oil,substance:Aqua,cost,pH,x,,active matter,mildness,ingredients"
)
KEYS = """
    material other one of to each function tag among measure terms name rule at_least at_most ratio times set base
    minimise maximise then tie how_many differ_in allowance batch_g balance_g error_percent seed formula keep hold
    unknown lots batch rank size_g price supplier minimum_order delivery why trust say unless
"""
COMMANDS = "check why evaluate sheet weigh lot bench shop start tradeoff library"
OPTIONS = "--brief --batch --library --rank --format --seconds --balance --full --all"
WORDS = "brief.toml today.csv lib 1kg json html -1 nan 0 1e308"
names = some.sampled_from(NAMES.split(","))
texts = some.text(max_size=12) | names
numbers = (
    some.integers(-5, 120)
    | some.floats()
    | some.sampled_from((0.0, -0.0, 1e-12, 1e9, 1e10, 2**63 - 1, 10**18, 50, 100.0))
)
leaves = numbers | texts | some.booleans() | some.dates()
keys = some.sampled_from(KEYS.split())
tables = some.dictionaries(keys, leaves | some.lists(leaves, max_size=3), max_size=5)
values = leaves | tables | some.lists(tables, min_size=1, max_size=3) | some.lists(leaves, max_size=3)
limits = some.fixed_dictionaries({}, optional={"at_least": numbers, "at_most": numbers})
briefs = some.fixed_dictionaries(
    {"title": texts, "library": some.just("lib"), "targets": some.dictionaries(texts, limits, max_size=3)},
    optional={
        **{key: values for key in BriefKeys.model_fields if key not in ("title", "library", "targets")},
        "include": some.lists(some.fixed_dictionaries({"material": names}), min_size=1, max_size=2),
        "weighing": some.fixed_dictionaries({}, optional={"batch_g": numbers, "balance_g": numbers}),
        "ranked": some.fixed_dictionaries({}, optional={"how_many": numbers}),
        "certainty": some.fixed_dictionaries({}, optional={"lots": numbers, "seed": numbers}),
    },
)
plans = some.fixed_dictionaries(
    {"title": texts, "library": some.just("lib")},
    optional={
        "make": some.lists(
            some.fixed_dictionaries(
                {
                    "formula": some.just("today.csv") | texts,
                    "batch": some.sampled_from(("2kg", "1e9kg", "0.001 g")),
                },
                optional={"times": numbers, "title": texts},
            ),
            max_size=2,
        ),
        "pack": some.lists(tables, max_size=2),
        "supplier": some.lists(tables, max_size=2),
        "spare_percent": numbers,
        "aim": some.sampled_from(("cash", "consumed", "x")),
    },
)
cells = some.sampled_from(("water", "gum", "q.s.", "1", "1e9", "-0", "5 %", "0,5", '"', "\n")) | some.text(
    max_size=6
)
formulas = some.lists(some.lists(cells, min_size=1, max_size=3).map(",".join), max_size=6).map(
    lambda rows: "\n".join(("material,percent", *rows)) + "\n"
)
places = some.tuples(some.integers(0, 500), some.integers(0, 9), some.text(max_size=4))
edits = some.lists(places, min_size=1, max_size=3)
options = some.lists(
    some.sampled_from(f"{OPTIONS} {WORDS}".split()) | some.text(string.printable, max_size=6), max_size=4
)


def sound(files: dict[str, str], arguments: tuple[str, ...]) -> None:
    """Run a command on drawn files and hold the run against what no run may do."""
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder), files)
        done = run(Path(folder), list(arguments))
    assert wrong_with(done, timed=EXAMPLES > 1000) == [], done.err[-2000:]


@often
@given(briefs, some.sampled_from(("check", "design")), some.sampled_from(FORMS))
def test_any_brief(brief: dict[str, object], command: str, form: str) -> None:
    sound({"brief.toml": write_brief(brief)}, (command, "brief.toml", "--format", form, "--seconds", "5"))


@often
@given(some.sampled_from(sorted(SOUND)), edits, some.sampled_from((CHECK, ("library", "check", "lib"))))
def test_any_library(name: str, changes: list[tuple[int, int, str]], command: tuple[str, ...]) -> None:
    text = SOUND[name]
    for start, length, inserted in changes:
        text = text[:start] + inserted + text[start + length :]
    sound({f"lib/{name}": text}, command)


@often
@given(formulas, some.sampled_from((EVALUATE, SHEET)), some.sampled_from(FORMS))
def test_any_formula(text: str, command: tuple[str, ...], form: str) -> None:
    sound({"today.csv": text}, (*command, "--format", form))


@often
@given(plans, some.sampled_from(FORMS))
def test_any_plan(plan: dict[str, object], form: str) -> None:
    sound({"plan.toml": write_brief(plan)}, ("shop", "plan.toml", "--format", form))


@often
@given(some.sampled_from(COMMANDS.split()), some.sampled_from(sorted(SOUND_FILES)) | texts, options)
def test_any_options(command: str, file: str, words: list[str]) -> None:
    sound({"brief.toml": BRIEF}, (command, file, *words))
