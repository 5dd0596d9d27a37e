"""The bounds of screening hold whatever the prices; tighter rows and smaller parts change no formula."""

from __future__ import annotations

import numpy as np
import pytest

from optiform.program import build
from optiform.program.reduction.bounding import Ends, bounds, relaxation
from optiform.program.reduction.part import part_of
from optiform.program.reduction.tighten import tightened
from optiform.solver import Session, solve_arrays
from tests.search.narrow.screen_briefs import random_brief
from tests.seeds import seeds

SEEDS = seeds(12, 24)


def solvable(seed):
    """Return a program that has a linear aim and a solution, with its best aim; or skip."""
    brief = random_brief(seed)
    program = build(brief)
    outcome = Session(program.form).solve()
    if program.ratio_aim is not None or outcome.values is None:
        pytest.skip("no linear aim, or no formula")
    return program, outcome


def best_with(program, material):
    """Return the best aim of formulas that use a material; infinite where there are none."""
    session = Session(program.form)
    session.set_column_bounds(int(program.own_choice[material]), 1.0, 1.0)
    return session.solve().objective


@pytest.mark.parametrize("seed", SEEDS)
def test_bounds_hold_whatever_the_prices(seed):
    """Weak duality: prices drawn at random, of any sign, prove nothing that is not so."""
    program, best = solvable(seed)
    draw = np.random.default_rng(seed)
    chosen = np.flatnonzero(program.own_choice >= 0)
    sample = draw.choice(chosen, size=min(6, len(chosen)), replace=False)
    true = [best_with(program, int(material)) for material in sample]
    relaxed = relaxation(program, program.form.objective)
    sharp = relaxed.prices(solve_arrays(relaxed.form).row_dual, program.form.rows)
    for spread in (0.0, 0.01, 0.1, 1.0):
        prices = sharp + spread * draw.normal(size=program.form.rows)
        found = bounds(program, program.form.objective, prices)
        assert found.least <= best.objective + 1e-7
        for material, least in zip(sample, true, strict=True):
            assert found.using[material] <= least + 1e-7
        for name, column in program.systems.items():
            session = Session(program.form)
            session.set_column_bounds(column, 1.0, 1.0)
            assert found.systems[name] <= session.solve().objective + 1e-7


@pytest.mark.parametrize("seed", SEEDS)
def test_the_relaxation_is_one_and_its_prices_prove_its_value(seed):
    """No formula beats the relaxation, and its prices prove at least as much as it does."""
    program, best = solvable(seed)
    relaxed = relaxation(program, program.form.objective)
    outcome = solve_arrays(relaxed.form)
    found = bounds(program, program.form.objective, relaxed.prices(outcome.row_dual, program.form.rows))
    assert outcome.objective <= best.objective + 1e-7
    assert found.least >= outcome.objective - 1e-6 * max(1.0, abs(outcome.objective))


@pytest.mark.parametrize("seed", SEEDS)
def test_tighter_rows_lose_and_win_nothing(seed):
    """The best aim, and the best aim with each of some materials forced in or kept out, stay as they are."""
    program, best = solvable(seed)
    tight = tightened(program)
    assert Session(tight.form).solve().objective == pytest.approx(best.objective, abs=2e-6)
    draw = np.random.default_rng(seed)
    chosen = np.flatnonzero(program.own_choice >= 0)
    for material in draw.choice(chosen, size=min(6, len(chosen)), replace=False):
        column = int(program.own_choice[material])
        for taken in (0.0, 1.0):
            aims = []
            for one in (program, tight):
                session = Session(one.form)
                session.set_column_bounds(column, taken, min(taken, one.form.upper[column]))
                aims.append(session.solve().objective if taken <= one.form.upper[column] else np.inf)
            assert aims[1] == pytest.approx(aims[0], abs=2e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_part_is_the_program_without_some_materials(seed):
    """Leaving materials out is the same as holding their choices at 0; the formula is one of the program's."""
    program, _ = solvable(seed)
    draw = np.random.default_rng(seed)
    kept = draw.random(program.size) < 0.7
    kept |= program.own_choice < 0
    part = part_of(program, kept)
    session = Session(program.form)
    for column in program.own_choice[~kept]:
        session.set_column_bounds(int(column), 0.0, 0.0)
    whole = session.solve()
    found = Session(part.form).solve() if part.possible else None
    if found is None or found.values is None:
        assert whole.values is None
        return
    assert found.objective == pytest.approx(whole.objective, abs=2e-6)
    values = part.full(found.values)
    assert float(program.form.objective @ values) == pytest.approx(found.objective, abs=1e-7)
    assert not values[: program.size][~kept].any()


def test_use_levels_are_found_again():
    """Every material with a minimum dose has its two levels where the block of use levels says."""
    program = build(random_brief(3))
    ends, arrays = Ends.of(program), program.library.arrays
    assert np.array_equal(ends.most, arrays.max_use[ends.materials])
    assert np.all(ends.least >= arrays.min_if_used[ends.materials])
    assert set(np.flatnonzero(arrays.min_if_used > 0)) - {0} <= set(ends.materials.tolist()) | set(
        program.shared
    )
    assert int(ends.rows.sum()) == 2 * len(ends.materials)
