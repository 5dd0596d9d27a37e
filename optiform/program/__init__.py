"""A brief and a library as requirements and one array-form program."""

from optiform.program.build import build
from optiform.program.judge import Break, breaks, complete
from optiform.program.moved import in_place, with_bound
from optiform.program.norm import Norm, Square
from optiform.program.program import USED, Form, Move, Program, SparseRow
from optiform.program.reduction.reduce import Reduced, reduce
from optiform.program.requirement import Key, Requirement, limit_title
from optiform.program.rows.baseline_rows import held_brief
from optiform.program.strength import at_strength

__all__ = [
    "USED",
    "Break",
    "Form",
    "Key",
    "Move",
    "Norm",
    "Program",
    "Reduced",
    "Requirement",
    "SparseRow",
    "Square",
    "at_strength",
    "breaks",
    "build",
    "complete",
    "held_brief",
    "in_place",
    "limit_title",
    "reduce",
    "with_bound",
]
