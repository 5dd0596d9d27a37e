"""Published mixture experiments: data are facts, read in the named places; fits are repeated here, never copied."""

from itertools import combinations
from typing import NamedTuple

import numpy as np


class Experiment(NamedTuple):
    """Blends (fractions that sum to 1) and what was read of each."""

    blends: np.ndarray
    readings: np.ndarray


def experiment(*runs: tuple[tuple[float, ...], tuple[float, ...]]) -> Experiment:
    """Return an experiment from blends, each with its readings."""
    blends = [blend for blend, readings in runs for _ in readings]
    return Experiment(np.array(blends), np.array([value for _, readings in runs for value in readings]))


def scheffe(blends, order: int) -> np.ndarray:
    """Return the columns of a Scheffe polynomial: blends, products of two (order 2), the product of three (order 3)."""
    blends = np.asarray(blends, dtype=float)
    columns = [blends[:, list(group)].prod(axis=1) for size in range(1, order + 1)
               for group in combinations(range(blends.shape[1]), size)]  # fmt: skip
    return np.column_stack(columns)


# Yarn elongation: Cornell, Experiments with Mixtures; read in the R package mixexp (ModelPlot.Rd) and in Penn State
# STAT 503, lesson 11.3.3.
YARN = experiment(
    ((1, 0, 0), (11.0, 12.4)),
    ((0.5, 0.5, 0), (15.0, 14.8, 16.1)),
    ((0, 1, 0), (8.8, 10.0)),
    ((0, 0.5, 0.5), (10.0, 9.7, 11.8)),
    ((0, 0, 1), (16.8, 16.0)),
    ((0.5, 0, 0.5), (17.7, 16.4, 16.6)),
)

# Railroad flare illumination: McLean and Anderson, Technometrics 8 (1966) 447-454; from memory, confirmed by a refit.
FLARE = experiment(
    ((0.40, 0.10, 0.47, 0.03), (75,)),
    ((0.40, 0.10, 0.42, 0.08), (180,)),
    ((0.60, 0.10, 0.27, 0.03), (195,)),
    ((0.60, 0.10, 0.22, 0.08), (300,)),
    ((0.40, 0.47, 0.10, 0.03), (145,)),
    ((0.40, 0.42, 0.10, 0.08), (230,)),
    ((0.60, 0.27, 0.10, 0.03), (220,)),
    ((0.60, 0.22, 0.10, 0.08), (350,)),
    ((0.50, 0.10, 0.345, 0.055), (220,)),
    ((0.50, 0.345, 0.10, 0.055), (260,)),
    ((0.40, 0.2725, 0.2725, 0.055), (190,)),
    ((0.60, 0.1725, 0.1725, 0.055), (310,)),
    ((0.50, 0.235, 0.235, 0.03), (260,)),
    ((0.50, 0.21, 0.21, 0.08), (410,)),
    ((0.50, 0.2225, 0.2225, 0.055), (425,)),
)

# Polvoron: R package daewr (polvdat); Lawson, Design and Analysis of Experiments with R, chapter 11.
POLVORON = experiment(
    ((0.8, 0.15, 0.05), (5.33,)),
    ((0.4, 0.55, 0.05), (5.87,)),
    ((0, 0.95, 0.05), (3.69,)),
    ((0, 0.725, 0.275), (3.83,)),
    ((0, 0.5, 0.5), (3.85,)),
    ((0.2, 0.3, 0.5), (5.23,)),
    ((0.4, 0.1, 0.5), (5.68,)),
    ((0.6, 0.1, 0.3), (5.88,)),
    ((0.8, 0.1, 0.1), (5.75,)),
    ((0.4, 0.36, 0.24), (6.54, 6.82, 6.41)),
)

# Etch rate: Myers and Montgomery, Response Surface Methodology (2002), table 12.4; read in the R package mixexp (etch).
SIXTHS = (2 / 3, 1 / 6, 1 / 6)
ETCH = experiment(
    ((1, 0, 0), (540, 560)),
    ((0, 1, 0), (330, 350)),
    ((0, 0, 1), (295, 260)),
    ((0.5, 0.5, 0), (610,)),
    ((0.5, 0, 0.5), (425,)),
    ((0, 0.5, 0.5), (330,)),
    ((1 / 3, 1 / 3, 1 / 3), (800, 850)),
    (SIXTHS, (710,)),
    ((1 / 6, 2 / 3, 1 / 6), (640,)),
    ((1 / 6, 1 / 6, 2 / 3), (460,)),
)
