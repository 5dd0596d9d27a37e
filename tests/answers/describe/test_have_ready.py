"""What stands ready beside a formula: an acid or base that brief and library allow, with its range and its water."""

import numpy as np
import pytest

from optiform import design
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.brief.models import Exclude, Ranked
from optiform.library.formulas import TypedFormula
from optiform.library.models import Incompatible, Rules
from tests.answers.describe.lots_by_draws import DrawnLots
from tests.program.samples import shelf, wash

ALKALINE = {"glucoside": {"free_alkali": 60.0, "free_alkali_low": 20.0, "free_alkali_high": 140.0}}
WINDOW = {"at_least": 4.5, "at_most": 5.5}


def washhouse(**more):
    return shelf("anion", "zwitter", "glucoside", "acid", "preserver", "glycerin", change=ALKALINE, **more)


def standing(library, target=None, **fields):
    """A glucoside wash as typed, with a pH target and no acid in it."""
    lines = (("glucoside", 10.0), ("preserver", 0.5), ("water", 89.5))
    brief = wash(library, targets={"pH": target or {**WINDOW, "set": "bench"}}, **fields)
    return brief, evaluate(TypedFormula("typed", lines, 100.0), library, brief).formulas[0].acidity


def test_a_bench_pH_far_above_the_window_has_an_acid_ready_and_its_water_held_back():
    library = washhouse()
    brief, found = standing(library)
    assert found.pH > 6.0
    assert not found.doses
    (ready,) = found.have_ready
    assert ready.material == "acid"
    assert 0.0 < ready.low < ready.percent < ready.high
    assert found.reserve == ready.high
    # By draws of its own: nine lots in ten reach the window between the two ends; the typical dose gives its middle.
    lots = {}
    for dose in (ready.low, ready.percent, ready.high):
        amounts = {"glucoside": 10.0, "preserver": 0.5, "acid": dose, "water": 89.5 - dose}
        lots[dose] = DrawnLots(library, amounts, found.ionic_strength).pH()
    assert np.median(lots[ready.percent]) == pytest.approx(5.0, abs=0.1)
    reached = (lots[ready.high] <= 5.5) & (lots[ready.low] >= 4.5)
    assert reached.mean() >= 0.9
    assert brief.targets["pH"].set == "bench"


def test_what_a_brief_excludes_never_stands_ready():
    library = washhouse()
    _, found = standing(library, exclude=(Exclude(material="acid"),))
    assert found.have_ready == ()
    assert found.reserve == 0.0


def test_what_is_off_the_shelf_never_stands_ready():
    library = washhouse()
    shelf_stock = {"glucoside": None, "preserver": None}
    assert standing(library, shelf=shelf_stock)[1].have_ready == ()
    assert standing(library, shelf={**shelf_stock, "acid": None})[1].have_ready


def test_what_may_not_meet_the_formula_never_stands_ready():
    rule = Incompatible(one="glucoside", other="acid", why="invented")
    library = washhouse().model_copy(update={"rules": Rules(incompatible=(rule,))})
    assert standing(library)[1].have_ready == ()


def test_sure_alkali_inside_the_window_needs_nothing_ready():
    """With the alkali of every lot known, and the acid in the formula, nothing else is asked for."""
    sure = {"glucoside": {"free_alkali": 60.0, "free_alkali_low": 59.0, "free_alkali_high": 61.0}}
    library = shelf("anion", "zwitter", "glucoside", "acid", "preserver", change=sure)
    (formula,) = design(wash(library, targets={"pH": WINDOW}, ranked=Ranked(how_many=1))).formulas
    assert formula.acidity.have_ready == ()
    assert formula.acidity.high - formula.acidity.low < 1.0


def test_a_formula_without_a_target_goes_by_where_its_system_works():
    """The preserver works between pH 4 and 5 alone, so an alkaline lot needs acid though no brief asks for a pH."""
    from tests.program.samples import SYSTEMS

    library = washhouse(systems=SYSTEMS[:1])
    lines = (("glucoside", 10.0), ("preserver", 0.5), ("water", 89.5))
    found = evaluate(TypedFormula("typed", lines, 100.0), library, None).formulas[0].acidity
    assert [dose.material for dose in found.have_ready] == ["acid"]


def test_a_titrated_material_brings_little_spread():
    """The same wash with its glucoside titrated at the bench: 5 % of 60 mmol/kg in place of 20 to 140."""
    from optiform.library.models import TitrationPoint

    points = tuple(
        TitrationPoint(material="glucoside", pH=pH, acid_mmol_per_kg=acid)
        for pH, acid in ((3.0, 62.0), (9.0, 58.0))
    )
    library = washhouse()
    titrated = library.model_copy(update={"titrations": points})
    loose, sure = (
        design(wash(shelf_, targets={"pH": WINDOW}, ranked=Ranked(how_many=1))).formulas[0].acidity
        for shelf_ in (library, titrated)
    )
    assert sure.high - sure.low < 0.5 * (loose.high - loose.low)
