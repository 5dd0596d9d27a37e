"""Lists every small number that something is compared with, each with its reason and unit."""

TOLERANCE = 1e-6
"""A requirement met within this much of its own unit is met (convention 4): less than any balance or meter shows."""

HALF = 0.5 * TOLERANCE
"""Rows are relaxed by this in their own unit while the solver searches, so that its own tolerance breaks none."""

NEARLY_HALF = 4e-7
"""A bound that is passed by less than this is rounded to itself: a little less than rows are relaxed by."""

EQUAL = 1e-6
"""Two results that differ by less than this part of themselves are equal: gains, tie-breaks, ends of a range."""

MONEY = 1e-6
"""Sums of money that differ by less than this are equal [currency, or currency/kg]."""

SMALLEST_TYPED = 1e-6
"""The least number above 0 that a file or an option may hold, in its own unit."""

GRID_CONTENT = 1e-5
"""On a fine grid of balance steps a result within this of the best is good enough [aim's unit]."""

CONE = 1e-8
"""A row that counts on a norm holds within this at the norm itself: a fiftieth of what rows are relaxed by."""

CLEAR = 1e-7
"""What lies this far apart (of 1, or of its own size) is apart whatever the solver's tolerance made of it."""

NOISE = 1e-8
"""Two solves of the same thing differ by less than this (of 1, or of their own size)."""

ROUNDING = 1e-9
"""What sums of percents, grams or prices lose to rounding is less than this (of 1, or of their own size)."""

SOLVER = 1e-9
"""Rows and columns of a solution hold within this, reduced costs too, and the gap left by a proof is no larger."""

STANDSTILL = 1e-10
"""An iteration that moves its value, an aim or a dose, by a smaller part of 1 or of itself has come to its end."""

LAST_DIGITS = 1e-12
"""What one operation loses to rounding is less than this (of 1, or of its own size): for values that are exact."""

TINIEST = 1e-300
"""Stands where a continued fraction would divide by zero: the smallest number whose inverse is still finite, nearly."""

NOT_SINGULAR = 1e-10
"""Part of its mean diagonal that is added to a design's information matrix so that it has an inverse from the start."""
