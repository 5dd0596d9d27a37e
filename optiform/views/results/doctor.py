"""What the doctor found, in blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words.blocks import Block, Column, Heading, Paragraph, Table

if TYPE_CHECKING:
    from optiform.answers.doctor import Diagnosis


def doctor_blocks(diagnosis: Diagnosis) -> list[Block]:
    """Return the versions and the outcome of each test."""
    versions = tuple(diagnosis.versions.items())
    tests = tuple((test.name, "passed" if test.passed else "FAILED", test.told) for test in diagnosis.tests)
    verdict = (
        Paragraph("Everything works.", "good")
        if diagnosis.healthy
        else Paragraph("Something is broken.", "bad")
    )
    return [
        Heading("State of this installation", 1),
        verdict,
        Table("Versions", (Column("part", head=True), Column("version")), versions),
        Table("Tests", (Column("test", head=True), Column("outcome"), Column("what was seen")), tests),
    ]
