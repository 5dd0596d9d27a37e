"""What a library tells of a formula: its notes, and what is there only because a rule asks for it.

The oracle is the wording of the rules themselves on a library of eight materials.
"""

from __future__ import annotations

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief import brief_from
from optiform.library.formulas import TypedFormula
from optiform.library.models import Incompatible, Needs, Note, Rules, Trust
from optiform.library.waiving import guard_names, waive
from tests.builders import tiny_library

BINDS = Note(
    name="phenoxyethanol is bound",
    material="substance:Phenoxyethanol",
    other="tag:ethoxylated",
    say="part of the preservative sits in the micelles",
    trust=Trust.COMMON_PRACTICE,
)
SANDY = Note(material="scrub", at_least=2.0, say="Feels sandy.")
SINKS = Needs(material="tag:settling", other="tag:suspending", why="scrub sinks unless a polymer holds it")
APART = Incompatible(one="scent", other="plain-gum", why="they part")

LIBRARY = tiny_library(
    [
        {"id": "soap", "function": "surfactant", "price": 3.0},
        {"id": "peg", "name": "Ethoxylate, flakes", "tags": ("ethoxylated",), "price": 2.0},
        {"id": "guard", "name": "Phenoxyethanol", "price": 9.0},
        {"id": "scrub", "name": "Apricot scrub", "tags": ("settling",), "price": 1.0, "min_if_used": 0.5},
        {"id": "gellan", "name": "Gellan gum", "tags": ("suspending",), "price": 60.0, "min_if_used": 0.2},
        {"id": "plain-gum", "price": 10.0},
        {"id": "scent", "price": 40.0},
    ],
    rules=Rules(needs=(SINKS,), incompatible=(APART,), note=(BINDS, SANDY)),
)


def notes_of(library, **lines):
    rest = 100.0 - sum(lines.values())
    named = (*((name.replace("_", "-"), percent) for name, percent in lines.items()), ("water", rest))
    return evaluate(TypedFormula(name="one", lines=named, total=100.0), library).formulas[0].notes


def test_a_note_is_told_where_both_are_there_with_their_names_and_its_trust() -> None:
    told = "Phenoxyethanol with Ethoxylate: part of the preservative sits in the micelles (common practice)."
    assert told in notes_of(LIBRARY, soap=10, peg=1, guard=0.9)
    for lines in ({"soap": 10, "peg": 1}, {"soap": 10, "guard": 0.9}):
        assert not any("micelles" in note for note in notes_of(LIBRARY, **lines))


def test_a_note_of_one_material_may_start_at_an_amount() -> None:
    assert "Apricot scrub: Feels sandy." in notes_of(LIBRARY, scrub=2.0, gellan=0.3)
    assert not any("sandy" in note for note in notes_of(LIBRARY, scrub=1.9, gellan=0.3))


def test_a_brief_may_do_without_a_named_note() -> None:
    assert BINDS.name in guard_names(LIBRARY)
    assert waive(LIBRARY, [BINDS.name]).rules.note == (SANDY,)


def test_what_only_a_rule_wants_says_which() -> None:
    """Gellan is asked for by nobody; taken out, the scrub has nothing to hold it. The scrub is wished for."""
    keys = {"title": "x", "include": [{"material": "scrub", "at_least": 1.0}], "law": "none"}
    (formula, *_) = design(brief_from(keys, LIBRARY)).formulas
    assert {line.material for line in formula.lines} == {"water", "scrub", "gellan"}
    (told,) = [note for note in formula.notes if "only because" in note]
    assert told.startswith("Gellan gum is there only because") and SINKS.why in told
    asked = {**keys, "include": [*keys["include"], {"material": "gellan"}]}
    (formula, *_) = design(brief_from(asked, LIBRARY)).formulas
    assert not any("only because" in note for note in formula.notes)


def test_what_leaves_little_room_for_the_pH_is_named_whole() -> None:
    """Ether sulfate splits below 4.5, benzoate with sorbate ends at 4.7 with its margin (library.toml)."""
    from optiform.library import load_library
    from tests.answers.rework.today import STARTER_TODAY

    formula = TypedFormula(name="today", lines=STARTER_TODAY, total=100.0)
    (told,) = [
        n for n in evaluate(formula, load_library()).formulas[0].notes if "What keeps a lower pH out" in n
    ]
    assert (
        "pH out: sulfates stay whole from pH 4.5 up. What keeps a higher one out: benzoate with sorbate"
        in told
    )
