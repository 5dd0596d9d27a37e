"""The root of a falling function between two bounds.

References
----------
.. [1] T. R. Chandrupatla, Adv. Eng. Softw. 28 (1997) 145: inverse quadratic interpolation where it is safe,
   else bisection (from memory).
"""

from collections.abc import Callable

_STEPS = 200


def falling_root(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Tell where a falling continuous function crosses zero; the nearer bound if it does so outside.

    Parameters
    ----------
    function : callable
        Function of one number, falling between the bounds.
    tolerance : float
        Allowed error of the root, above 0, in the unit of the bounds.

    Returns
    -------
    float
        The root; `low` if the function is not above zero there, `high` if it is not below zero there.

    Raises
    ------
    ArithmeticError
        If the bounds do not close in, which a continuous function cannot cause.
    """
    newest, opposite = low, high
    f_newest, f_opposite = function(low), function(high)
    if f_newest <= 0.0:
        return low
    if f_opposite >= 0.0:
        return high
    part = 0.5
    for _ in range(_STEPS):
        trial = newest + part * (opposite - newest)
        f_trial = function(trial)
        if f_trial == 0.0:
            return trial
        if (f_trial > 0.0) == (f_newest > 0.0):
            previous, f_previous = newest, f_newest
        else:
            previous, f_previous = opposite, f_opposite
            opposite, f_opposite = newest, f_newest
        newest, f_newest = trial, f_trial
        width = abs(opposite - newest)
        if width <= tolerance:
            return newest if abs(f_newest) < abs(f_opposite) else opposite
        xi = (newest - opposite) / (previous - opposite)
        phi = (f_newest - f_opposite) / (f_previous - f_opposite)
        part = 0.5
        if phi**2 < xi and (1.0 - phi) ** 2 < 1.0 - xi:
            part = f_newest / (f_opposite - f_newest) * f_previous / (f_opposite - f_previous)
            part += (
                (previous - newest)
                / (opposite - newest)
                * f_newest
                / (f_previous - f_newest)
                * f_opposite
                / (f_previous - f_opposite)
            )
        least = 0.5 * tolerance / width
        part = min(max(part, least), 1.0 - least)
    raise ArithmeticError(f"no root found between {low!r} and {high!r}")
