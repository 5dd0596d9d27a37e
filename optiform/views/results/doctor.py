"""Tells the versions and self-tests of an installation."""

from __future__ import annotations

from optiform.answers.doctor import Diagnosis
from optiform.views.words.blocks import Block, Field, Heading, Paragraph, tabulated

VERSIONS = (Field("part", lambda item: item[0], head=True), Field("version", lambda item: item[1]))
TESTS = (
    Field("test", lambda test: test.name, head=True),
    Field("outcome", lambda test: "passed" if test.passed else "FAILED"),
    Field("what was seen", lambda test: test.told),
)


def doctor_blocks(diagnosis: Diagnosis) -> list[Block]:
    """Return the versions and the outcome of each test."""
    works = Paragraph("Everything works.", "good")
    broken = Paragraph("Something is broken.", "bad")
    return [
        Heading("State of this installation", 1),
        works if diagnosis.healthy else broken,
        tabulated("Versions", VERSIONS, diagnosis.versions.items()),
        tabulated("Tests", TESTS, diagnosis.tests),
    ]
