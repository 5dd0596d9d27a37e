"""A brief that lacks a usual guard gets a note, and a rule never."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from optiform.brief import brief_from, missing_guards
from tests.answers.rework.today import STARTER_TODAY, starter
from tests.brief.samples import quay_library, wanted
from tests.builders import tiny_library

LIBRARY = quay_library()
GUARDED: dict[str, Any] = {
    "targets": {
        "active matter": {"at_least": 8},
        "mildness": {"at_least": 70},
        "pH": {"at_least": 4.8, "at_most": 5.2},
        "ingredients": {"at_most": 12},
    },
    "include": [{"material": "nettle-extract", "at_least": 2}, {"function": "thickener"}],
    "choose": [{"function": "surfactant", "at_least": 2}],
    "share": [{"of": "anionic", "at_least": 30}, {"each": "surfactant", "at_most": 65}],
    "weighing": {},
}


def without(section: str, key: Any) -> dict[str, Any]:
    held = GUARDED[section]
    if isinstance(held, dict):
        return {**GUARDED, section: {name: item for name, item in held.items() if name != key}}
    return {**GUARDED, section: [entry for number, entry in enumerate(held) if number != key]}


def test_a_guarded_brief_has_no_notes() -> None:
    assert missing_guards(brief_from(wanted(**GUARDED), LIBRARY)) == ()


@pytest.mark.parametrize(
    ("section", "key", "words"),
    [
        ("targets", "active matter", "Active matter has no floor"),
        ("targets", "mildness", "gentleness has no floor"),
        ("targets", "pH", "Nothing is asked of the pH"),
        ("targets", "ingredients", "number of ingredients has no ceiling"),
        ("include", 1, "may be as thin as water"),
        ("choose", 0, "at least two surfactants"),
        ("share", 0, "No anionic share"),
        ("share", 1, "caps a single surfactant"),
    ],
)
def test_each_guard_that_is_missing_gives_one_note(section: str, key: Any, words: str) -> None:
    (note,) = brief_from(wanted(**without(section, key)), LIBRARY).notes
    assert words in note


def test_no_weighing_no_system_and_a_bare_extract_are_said() -> None:
    no_balance = {key: value for key, value in GUARDED.items() if key != "weighing"}
    assert any(
        "too small for your balance" in note for note in brief_from(wanted(**no_balance), LIBRARY).notes
    )
    bare = LIBRARY.model_copy(update={"systems": ()})
    assert any("no preservative system" in note for note in brief_from(wanted(**GUARDED), bare).notes)
    dust = {**GUARDED, "include": [{"material": "nettle-extract"}, {"function": "thickener"}]}
    assert any("without an amount" in note for note in brief_from(wanted(**dust), LIBRARY).notes)


def test_a_half_window_is_no_window() -> None:
    half = {**GUARDED, "targets": {**GUARDED["targets"], "pH": {"at_most": 5.2}}}
    assert any("no window with two ends" in note for note in brief_from(wanted(**half), LIBRARY).notes)


def test_a_chelator_that_could_be_had_is_missed() -> None:
    library = tiny_library([
        {"id": "glucoside", "function": "surfactant"}, {"id": "gluconate", "function": "chelator"},
    ])  # fmt: skip
    brief = brief_from(wanted(include=[{"material": "glucoside", "at_least": 5}]), library)
    assert any("No chelator" in note for note in brief.notes)
    brief = brief_from(wanted(include=[{"material": "gluconate", "at_least": 0.1}]), library)
    assert not any("No chelator" in note for note in brief.notes)


def test_a_library_without_surfactants_is_not_told_about_washes() -> None:
    library = tiny_library([{"id": "sand"}])
    brief = brief_from({"title": "x", "include": [{"material": "sand", "at_least": 5}]}, library)
    assert not any("surfactant" in note or "pH" in note for note in brief.notes)


def test_guards_change_nothing_but_the_notes() -> None:
    brief = brief_from(wanted(), LIBRARY)
    assert brief.notes
    assert set(brief.targets) == {"active matter"} and brief.share == brief.choose == ()


HELD: dict[str, Any] = {
    "keep": ["xanthan-gum", "function:chelator"],
    "hold": {"active matter": 0.2, "share:anionic": 5.0, "mildness": 2.0, "pH": 0.2},
    "at_most_new": 1,
}


def changing(tmp_path: Path, **baseline: Any) -> tuple[str, ...]:
    """Return the notes of a brief that starts from a formula of the starter library."""
    lines = "".join(f"{name},{percent}\n" for name, percent in STARTER_TODAY)
    (tmp_path / "today.csv").write_text(f"material,percent\n{lines}")
    keys = {
        "title": "x",
        "targets": {"natural origin": {"at_least": 50.0}},
        "choose": [{"function": "surfactant", "at_least": 2}],
        "share": [{"each": "surfactant", "at_most": 65.0}],
        "weighing": {},
        "baseline": {"formula": "today.csv", **baseline},
    }
    return missing_guards(brief_from(keys, starter(), tmp_path))


def test_what_is_held_of_a_baseline_is_a_guard(tmp_path: Path) -> None:
    assert changing(tmp_path, **HELD) == ()


@pytest.mark.parametrize(
    ("away", "words"),
    [
        ("active matter", "Active matter has no floor"),
        ("share:anionic", "No anionic share"),
        ("mildness", "gentleness has no floor"),
        ("pH", "Nothing is asked of the pH"),
        ("xanthan-gum", "may be as thin as water"),
        ("function:chelator", "No chelator"),
        ("at_most_new", "number of ingredients has no ceiling"),
    ],
)
def test_what_is_not_held_of_a_baseline_is_missed(tmp_path: Path, away: str, words: str) -> None:
    held: dict[str, Any] = {key: value for key, value in HELD.items() if key != away}
    held["hold"] = {name: width for name, width in HELD["hold"].items() if name != away}
    held["keep"] = [word for word in HELD["keep"] if word != away]
    (note,) = changing(tmp_path, **held)
    assert words in note


def test_a_window_that_reaches_down_to_nothing_is_no_floor(tmp_path: Path) -> None:
    wide = {**HELD, "hold": {**HELD["hold"], "active matter": 20.0}}
    (note,) = changing(tmp_path, **wide)
    assert "Active matter has no floor" in note
