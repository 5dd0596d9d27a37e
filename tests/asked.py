"""Answers to the shipped problems that several tests look at; each is worked out once in a process."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from optiform.answers.design import design
from optiform.answers.model import Answer
from optiform.brief import Brief, load_brief

PROBLEMS = Path(__file__).parents[1] / "problems"


@cache
def problem(name: str) -> Brief:
    """Return the brief of a shipped problem; it is frozen."""
    return load_brief(PROBLEMS / name / "brief.toml")


@cache
def designed(name: str) -> Answer:
    """Return the answer to a shipped problem; it is frozen."""
    return design(problem(name))
