"""The whole process on the starter library: a full conflict report under 3 s, `check` under 1 s."""

from __future__ import annotations

import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

PROBLEMS = Path(__file__).parents[2] / "problems"
SHIPPED = PROBLEMS / "too-many-wishes" / "brief.toml"
SPOILED = {
    "nettle, too cheap": ("nettle-gel-oily-skin", {"cost": "{ at_most = 0.4 }"}),
    "nettle, too gentle": ("nettle-gel-oily-skin", {"mildness": "{ at_least = 90 }"}),
    "shampoo, too cheap": ("spruce-shampoo", {"cost": "{ at_most = 0.4 }"}),
    "shampoo, gentle and cheap": (
        "spruce-shampoo",
        {"mildness": "{ at_least = 60 }", "cost": "{ at_most = 1.0 }"},
    ),
    "oat, alkaline": ("oat-conditioning-wash", {"pH": "{ at_least = 9.4, at_most = 9.8 }"}),
}
"""Shipped briefs with one wish that cannot be met, by the target that is written over."""


def spoiled(name: str, folder: Path) -> Path:
    """Write a shipped brief with other targets, and return its path."""
    problem, targets = SPOILED[name]
    text = (PROBLEMS / problem / "brief.toml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.split(" =")[0].strip('"') not in targets]
    place = lines.index("[targets]") + 1
    lines[place:place] = [f'"{key}" = {value}' for key, value in targets.items()]
    path = folder / "brief.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    tomllib.loads(path.read_text(encoding="utf-8"))
    return path


def seconds_of(command: str, brief: Path) -> float:
    """Return the better of three runs of a command, by the clock; each must answer that it cannot be met."""
    times = []
    for _ in range(3):
        before = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "optiform", command, str(brief)], capture_output=True, check=False
        )
        times.append(time.perf_counter() - before)
        assert done.returncode == 3, done.stderr
    return min(times)


@pytest.mark.benchmark
@pytest.mark.parametrize(("command", "seconds"), [("design", 3.0), ("check", 1.0)])
def test_a_conflict_is_told_in_time(command: str, seconds: float) -> None:
    assert seconds_of(command, SHIPPED) < seconds


@pytest.mark.benchmark
@pytest.mark.parametrize(("command", "seconds"), [("design", 3.0), ("check", 1.0)])
@pytest.mark.parametrize("name", SPOILED)
def test_other_conflicts_are_told_in_time(name: str, command: str, seconds: float, tmp_path: Path) -> None:
    assert seconds_of(command, spoiled(name, tmp_path)) < seconds
