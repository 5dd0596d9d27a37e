"""A library that was written and read back is the same library, in both file formats and any order."""

import tempfile
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import given, settings

from optiform.library import load_library
from optiform.library.models import Library, Material, Part, Substance
from tests.library.on_disk import write_csv, write_xlsx

WORDS = st.from_regex(r"[a-z]{1,8}(-[a-z]{1,6})?\??", fullmatch=True)
IDS = st.from_regex(r"[a-z][a-z0-9._-]{0,9}", fullmatch=True).filter(lambda text: text != "water")
TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp", "Cn", "Co")),
    min_size=1,
    max_size=12,
).filter(lambda text: not text.startswith(("=", "#")))
CENTS = st.integers(0, 99_999).map(lambda cents: cents / 100)
PERCENTS = st.integers(0, 10_000).map(lambda hundredths: hundredths / 100)


@st.composite
def materials_of(draw, names):
    low, high = sorted(draw(st.tuples(PERCENTS, PERCENTS)))
    return [
        Material(
            id=name,
            name=draw(TEXT),
            function=draw(st.sampled_from(["surfactant", "oil", "acid", "other"])),
            also=draw(st.sampled_from([(), ("humectant",), ("base", "salt")])),
            price=draw(CENTS),
            min_if_used=low,
            max_use=max(high, 0.01),
            free_alkali=draw(st.integers(-50_000, 50_000)) / 1000,
            pH_min=draw(st.none() | st.integers(0, 700).map(lambda pH: pH / 100)),
            pH_max=draw(st.none() | st.just(7.25)),
            clarity=draw(st.sampled_from([None, "clear", "hazy"])),
            handling=draw(st.sampled_from([(), ("dust",), ("slurry", "hydrate")])),
            tags=tuple(draw(st.lists(WORDS, max_size=3))),
            source=draw(st.just("") | TEXT),
        )
        for name in names
    ]


@st.composite
def libraries(draw):
    names = draw(st.lists(IDS, min_size=1, max_size=5, unique=True))
    water = Material(id="water", name="Water", function="water", price=0.0)
    materials = [water, *draw(materials_of(names))]
    substances = [Substance(inci="Aqua")]
    parts = [Part(material="water", inci="Aqua", percent=100.0)]
    for name in names:
        inci = f"{name} {draw(TEXT)}".strip()
        pka = tuple(sorted(draw(st.lists(st.integers(0, 1400).map(lambda pH: pH / 100), max_size=3))))
        substances.append(Substance(inci=inci, pka=pka, tags=tuple(draw(st.lists(WORDS, max_size=2)))))
        held = draw(PERCENTS)
        parts.append(Part(material=name, inci=inci, percent=held, high=draw(st.none() | st.just(100.0))))
        parts.append(Part(material=name, inci="Aqua", percent=round(100.0 - held, 2)))
    return Library(
        name="made up", materials=tuple(materials), substances=tuple(substances), parts=tuple(parts)
    )


def rows_of(entries):
    """Return the entries as rows of a file; what has no value is blank."""
    return [{name: _cell(name, value) for name, value in entry if name != "extra"} for entry in entries]


def _cell(name, value):
    if isinstance(value, tuple):
        return (";" if name == "pka" else " ").join(map(str, value))
    return "" if value is None else value


def tables_of(library):
    return {
        "materials": rows_of(library.materials),
        "substances": rows_of(library.substances),
        "composition": rows_of(library.parts),
    }


def written(folder, library, kind):
    (folder / "library.toml").write_text(f'name = "{library.name}"\n', encoding="utf-8")
    tables = tables_of(library)
    if kind == "csv":
        for name, rows in tables.items():
            write_csv(folder / f"{name}.csv", list(rows[0]), rows)
        return folder
    sheets = {name: [list(rows[0]), *([*row.values()] for row in rows)] for name, rows in tables.items()}
    return write_xlsx(folder / "made.xlsx", sheets)


def content(library):
    """Return what a library says, whatever the order of its rows and wherever it stands."""
    return (
        frozenset(repr(material) for material in library.materials),
        frozenset(repr(substance) for substance in library.substances),
        frozenset(repr(part) for part in library.parts),
    )


@settings(max_examples=25, deadline=None)
@given(libraries())
def test_csv_reads_back_equal(library):
    with tempfile.TemporaryDirectory() as folder:
        read = load_library(written(Path(folder), library, "csv"))
    assert read.model_copy(update={"folder": ""}) == library


@settings(max_examples=15, deadline=None)
@given(libraries())
def test_xlsx_reads_back_equal(library):
    with tempfile.TemporaryDirectory() as folder:
        read = load_library(written(Path(folder), library, "xlsx"))
    assert read.model_copy(update={"folder": ""}) == library


@settings(max_examples=15, deadline=None)
@given(libraries(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(library, random):
    shuffled = {}
    for name in ("materials", "substances", "parts"):
        entries = list(getattr(library, name))
        random.shuffle(entries)
        shuffled[name] = tuple(entries)
    with tempfile.TemporaryDirectory() as folder:
        read = load_library(written(Path(folder), library.model_copy(update=shuffled), "csv"))
    assert content(read) == content(library)
    assert {name: sorted(map(repr, parts)) for name, parts in read.composition.items()} == {
        name: sorted(map(repr, parts)) for name, parts in library.composition.items()
    }
