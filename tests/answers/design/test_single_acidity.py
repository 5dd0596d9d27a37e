"""Windows that meet in one pH: solved, weighed within half a step, and never searched for ever."""

import pytest

from optiform.answers.design import design
from optiform.brief.models import Include, Ranked, Weighing
from optiform.solver import Session
from tests.program.samples import SYSTEMS, shelf, wash

MEETING = shelf(
    "anion", "zwitter", "glucoside", "xanthan", "glycerin", "acid", "preserver",
    systems=SYSTEMS[:1], change={"xanthan": {"pH_min": 5.0}},
)  # fmt: skip


@pytest.mark.parametrize(
    ("library", "window"),
    [
        (MEETING, {"at_least": 4.0, "at_most": 6.0}),  # the system works up to 5.0, the gum from 5.0 on
        (shelf("anion", "zwitter", "glucoside", "acid", "glycerin"), {"at_least": 5.0, "at_most": 5.0}),
    ],
)
def test_a_single_pH_is_weighed_within_half_a_step(library, window, monkeypatch):
    """No whole steps give a pH to the last digit; searching them for it would not end."""
    includes = (Include(material="xanthan"),) if "xanthan" in library.material else ()
    brief = wash(
        library,
        targets={"pH": window},
        include=includes,
        weighing=Weighing(batch_g=1000, balance_g=0.01),
        ranked=Ranked(how_many=1),
    )
    usual, solves = Session.solve, []

    def counted(session):
        solves.append(session)
        assert len(solves) < 20_000
        return usual(session)

    monkeypatch.setattr(Session, "solve", counted)
    (formula,) = design(brief).formulas
    assert formula.acidity.pH == pytest.approx(5.0, abs=1e-6)
    assert formula.weighable is not None
    assert formula.weighable.off
    assert formula.weighable.off[0].value == pytest.approx(5.0, abs=0.05)


def test_little_room_for_the_pH_is_told():
    """A formula that works in less than 0.3 pH (common practice, no source) says so."""
    brief = wash(
        MEETING, targets={"pH": {"at_least": 4.0, "at_most": 6.0}}, include=(Include(material="xanthan"),)
    )
    formula = design(brief).formulas[0]
    assert any("at pH 5 alone" in note and "drift" in note for note in formula.notes)
    roomy = wash(
        shelf("anion", "glucoside", "acid", "zwitter"), targets={"pH": {"at_least": 4.5, "at_most": 5.0}}
    )
    assert not any("drift" in note for note in design(roomy).formulas[0].notes)
