"""Every question answers as it did when its document was recorded: the same words, numbers within a millionth.

Where an optimum is not unique another formula may stand in its place, if its aim is the same and it breaks nothing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from optiform.answers.evaluate import evaluate
from optiform.brief import load_brief
from optiform.library.formulas import TypedFormula
from tests.recorded.commands import ROOT, Recorded, answer, commands, prepare
from tests.recorded.record import kept

CLOSE = 1e-6
COMMANDS = list(commands())
UNTOLD = {"optiform"}
"""Keys that may change by themselves: the version."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("recorded")
    prepare(place)
    return place


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_the_answer_is_the_recorded_one(command: Recorded, folder: Path) -> None:
    now = json.loads(answer((*command.words, "--format", "json"), folder))
    before = kept(command.name)
    differ = list(differences(before, now))
    if not differ:
        return
    assert as_good(before, now, command, folder), "\n".join(differ[:20])


def differences(before: Any, now: Any, place: str = "") -> Iterator[str]:
    """Yield every place at which two documents differ by more than a millionth."""
    if isinstance(before, dict) and isinstance(now, dict):
        for key in sorted({*before, *now} - UNTOLD):
            if key not in before or key not in now:
                yield f"{place}/{key} {'is gone' if key in before else 'is new'}"
            else:
                yield from differences(before[key], now[key], f"{place}/{key}")
    elif isinstance(before, list) and isinstance(now, list) and len(before) == len(now):
        for number, (old, new) in enumerate(zip(before, now, strict=True)):
            yield from differences(old, new, f"{place}/{number}")
    elif isinstance(before, float | int) and isinstance(now, float | int):
        if not math.isclose(before, now, rel_tol=CLOSE, abs_tol=CLOSE):
            yield f"{place}: {before!r} was recorded, now {now!r}"
    elif before != now:
        yield f"{place}: {str(before)[:200]!r} was recorded, now {str(now)[:200]!r}"


def as_good(before: Any, now: Any, command: Recorded, folder: Path) -> bool:
    """Tell whether other formulas stand where the recorded ones stood, with the same aims, and hold everything."""
    if before.get("question") != "design" or len(before["formulas"]) != len(now["formulas"]):
        return False
    brief = load_brief(command.words[1].replace("{0}", str(folder)).replace("problems/", f"{ROOT}/problems/"))
    for old, new in zip(before["formulas"], now["formulas"], strict=True):
        if not math.isclose(old["cost"], new["cost"], rel_tol=CLOSE, abs_tol=CLOSE):
            return False
        lines = tuple((line["material"], line["percent"]) for line in new["lines"])
        typed = TypedFormula("recorded", lines, sum(percent for _, percent in lines))
        if evaluate(typed, brief.library, brief).formulas[0].breaks:
            return False
    return True


def test_a_difference_is_seen() -> None:
    assert list(differences({"a": [1.0, 2.0]}, {"a": [1.0, 2.00001]})) == [
        "/a/1: 2.0 was recorded, now 2.00001"
    ]
    assert not list(differences({"a": [1.0, 2.0]}, {"a": [1.0, 2.0000001]}))
