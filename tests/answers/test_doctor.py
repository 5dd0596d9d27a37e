"""The self-tests of an installation: they pass here, and they fail when something is broken."""

import itertools

import pytest

from optiform.answers import doctor
from optiform.answers.doctor import diagnose
from optiform.solver import Session


def test_a_sound_installation_is_healthy():
    found = diagnose()
    assert found.healthy, found.tests
    assert [test.name for test in found.tests][:2] == ["solver, continuous", "solver, whole numbers"]
    assert found.versions["highspy"][0].isdigit()
    assert set(doctor.PARTS) <= set(found.versions)


def test_the_printed_optimum_of_the_projects_is_the_best_of_all_sixteen_choices():
    """An oracle beside the textbook: every choice counted out."""

    def possible(x):
        a, b, c, d = x
        return 6 * a + 3 * b + 5 * c + 2 * d <= 10 and c + d <= 1 and c <= a and d <= b

    worth = {
        x: 9 * x[0] + 5 * x[1] + 6 * x[2] + 4 * x[3]
        for x in itertools.product((0, 1), repeat=4)
        if possible(x)
    }
    assert max(worth, key=worth.__getitem__) == (1, 1, 0, 0)
    assert max(worth.values()) == 14


def test_the_printed_optimum_of_the_plants_is_the_best_corner():
    """3 a + 5 b under a <= 4, 2 b <= 12, 3 a + 2 b <= 18: the corners by hand."""
    corners = [(0, 0), (4, 0), (4, 3), (2, 6), (0, 6)]
    assert max(corners, key=lambda corner: 3 * corner[0] + 5 * corner[1]) == (2, 6)


def test_a_solver_that_answers_wrongly_is_noticed(monkeypatch):
    solve = Session.solve

    def wrong(session):
        outcome = solve(session)
        outcome.values[0] += 0.01
        return outcome

    monkeypatch.setattr(Session, "solve", wrong)
    found = {test.name: test for test in diagnose().tests}
    assert not found["solver, continuous"].passed
    assert "instead of [2.0, 6.0]" in found["solver, continuous"].told
    assert not found["solver, whole numbers"].passed


@pytest.mark.parametrize("error", [ImportError("no highspy"), OSError("no data")])
def test_an_exception_is_a_failed_test_and_not_a_crash(monkeypatch, error):
    def fail(*_, **__):
        raise error

    monkeypatch.setattr("optiform.library.load_library", fail)
    found = {test.name: test for test in diagnose().tests}
    assert not found["starter library"].passed
    assert str(error) in found["starter library"].told


def test_a_package_that_is_missing_is_named():
    assert doctor.version_of("no-such-package-anywhere") == "not installed"
