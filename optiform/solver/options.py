"""How the solver is set: while it branches, and where it gave up."""

from __future__ import annotations

from typing import Any

from optiform.tolerances import CLEAR, NOISE

AFRESH: tuple[dict[str, Any], ...] = (
    {"presolve": "on"},
    {"presolve": "off"},
    {"presolve": "off", "simplex_strategy": 4},
    {"presolve": "on", "simplex_scale_strategy": 0},
    {"presolve": "on", "primal_feasibility_tolerance": NOISE, "dual_feasibility_tolerance": NOISE},
    {"presolve": "on", "primal_feasibility_tolerance": CLEAR, "mip_feasibility_tolerance": CLEAR},
)
"""Other ways to solve a program on which the solver gave up; the loosest tolerance is still a fifth of ours."""
BRANCHING = dict.fromkeys(
    (
        "mip_heuristic_run_rins",
        "mip_heuristic_run_rens",
        "mip_heuristic_run_root_reduced_cost",
        "mip_heuristic_run_feasibility_jump",
        "mip_allow_restart",
    ),
    False,
)
"""What costs more than it finds: searches around a solution, and a second presolve on the way.

Measured by processor time on all integer programs that the shipped briefs lead to: with these searches they take
three times as long. Symmetries, cuts at nodes, pseudo-costs, scaling and simplex strategies made no difference."""
PRIMAL = 4
"""The simplex strategy that keeps a solution feasible: HiGHS's number for it."""
