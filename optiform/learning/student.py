"""Quantiles of Student's t and tail areas of F, both from the incomplete beta function."""

from __future__ import annotations

import math

from optiform.tolerances import LAST_DIGITS, TINIEST

MOST_TERMS = 500


def student_t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """Return the value that Student's t stays below with a probability inside 0 to 1; its degrees need not be whole."""
    if not (0.0 < probability < 1.0 and degrees_of_freedom > 0):
        raise ValueError("a probability between 0 and 1, and degrees of freedom above 0")
    if probability == 0.5:
        return 0.0
    tail = 2.0 * min(probability, 1.0 - probability)
    low, high = 0.0, 1.0  # the share df / (df + t^2), which rises with the tail
    while high - low > LAST_DIGITS * high:
        middle = (low + high) / 2.0
        if incomplete_beta(middle, degrees_of_freedom / 2.0, 0.5) < tail:
            low = middle
        else:
            high = middle
    share = (low + high) / 2.0
    return math.copysign(math.sqrt(degrees_of_freedom * (1.0 - share) / share), probability - 0.5)


def f_tail(ratio: float, above: float, below: float) -> float:
    """Return the probability that F with so many degrees of freedom above and below exceeds a ratio."""
    return incomplete_beta(below / (below + above * ratio), below / 2.0, above / 2.0)


def incomplete_beta(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b).

    Notes
    -----
    The continued fraction of Abramowitz and Stegun 26.5.8, evaluated by Lentz's method.
    """
    if x <= 0.0 or x >= 1.0:
        return min(max(x, 0.0), 1.0)
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - incomplete_beta(1.0 - x, b, a)
    logarithm = a * math.log(x) + b * math.log1p(-x)
    logarithm += math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    value = upper = 1.0
    lower = 0.0
    for term in range(1, MOST_TERMS):
        half = term // 2
        if term % 2 == 0:
            factor = half * (b - half) * x / ((a + term - 1) * (a + term))
        else:
            factor = -(a + half) * (a + b + half) * x / ((a + term - 1) * (a + term))
        lower = 1.0 / (1.0 + factor * lower or TINIEST)
        upper = 1.0 + factor / upper or TINIEST
        value *= lower * upper
        if abs(lower * upper - 1.0) < LAST_DIGITS:
            break
    return math.exp(logarithm) / (a * value)
