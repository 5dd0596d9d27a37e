"""Likely lots of a formula drawn by plain numpy: the pH of each by bisection, no code of the package but its tables.

Distributions as docs/explanation/ph.md states them: free alkali two-piece normal with its 5th and 95th percentile as
stated, pKa normal, parts with a specification triangular, water making up for them.
"""

import math

import numpy as np

Z = 1.6448536269514722  # 95th percentile of the standard normal distribution, from tables
ALKALI = {
    "own": 0.1,
    "published": 0.2,
    "common practice": 0.35,
    "memory": 0.35,
    "estimate": 0.35,
    "invented": 0.5,
}
PKA = {
    "own": 0.05,
    "published": 0.02,
    "common practice": 0.1,
    "memory": 0.1,
    "estimate": 0.3,
    "invented": 0.3,
}


class DrawnLots:
    """`count` lots of a formula, at one ionic strength."""

    def __init__(self, library, amounts, strength, count=1000, seed=20260611):
        """Draw everything a lot may differ in."""
        self.random, self.count, self.strength = np.random.default_rng(seed), count, strength
        self.term = 0.509 * math.sqrt(strength) / (1 + 1.5 * math.sqrt(strength))
        self.library = library
        self.alkali = np.zeros(count)
        self.grams = {}
        for material, percent in amounts.items():
            if percent > 0:
                self._material(library.material[material], percent)
        self.pka = {inci: self._pka(library.substance[inci]) for inci in self.grams if inci != "Aqua"}

    def _two_piece(self, low, typical, high):
        z = self.random.standard_normal(self.count)
        return typical + np.where(z > 0, (high - typical) / Z, (typical - low) / Z) * z

    def _material(self, material, percent):
        typical = material.free_alkali
        factor = math.exp(ALKALI[self.library.trust.get("free_alkali") or material.trust or "memory"])
        low, high = sorted((typical / factor, typical * factor))
        low = low if material.free_alkali_low is None else material.free_alkali_low
        high = high if material.free_alkali_high is None else material.free_alkali_high
        self.alkali += percent * self._two_piece(low, typical, high) / 1000.0
        parts = self.library.composition[material.id]
        left = np.full(self.count, 100.0)
        for part in parts:
            if part.inci == "Aqua":
                continue
            drawn = np.full(self.count, part.percent)
            if part.low is not None and part.high is not None and part.high > part.low:
                drawn = self.random.triangular(part.low, part.percent, part.high, self.count)
            left = left - drawn
            self.grams[part.inci] = self.grams.get(part.inci, 0.0) + percent * drawn / 100.0
        if any(part.inci == "Aqua" for part in parts):
            self.grams["Aqua"] = self.grams.get("Aqua", 0.0) + percent * left / 100.0

    def _pka(self, substance):
        if not substance.pka:
            return ()
        spread = substance.pka_spread
        if spread is None:
            effective = substance.pka_kind == "effective"
            spread = 0.3 if effective else PKA[self.library.trust.get("pka") or substance.trust or "memory"]
        if substance.pka_kind != "effective":
            spread = math.hypot(spread, 0.07 * self.strength)
        shift = self.random.standard_normal(self.count) * spread / Z
        return tuple(pka + shift for pka in substance.pka)

    def charge(self, pH):
        """Return the charge of every lot at its own pH  [meq per 100 g]."""
        gamma = 10.0**-self.term
        water = self.grams.get("Aqua", 0.0)
        total = self.alkali + water * (10.0**-pH - 10.0 ** (pH - 13.997)) / gamma
        for inci, grams in self.grams.items():
            s = self.library.substance[inci]
            if inci == "Aqua" or not s.charge_known or s.molar_mass is None:
                continue
            start = s.charge_acid_form or 0.0
            weight, lost, whole = np.ones(self.count), np.zeros(self.count), np.ones(self.count)
            for step, pka in enumerate(self.pka[inci]):
                moved = 0.0 if s.pka_kind == "effective" else self.term * (2 * (start - step) - 1)
                weight = weight * 10.0 ** (pH - pka - moved)
                whole, lost = whole + weight, lost + (step + 1) * weight
            total = total + 1000.0 * grams / s.molar_mass * ((s.strong_charge or 0.0) + start - lost / whole)
        return total

    def pH(self):
        """Return the pH of every lot."""
        low, high = np.zeros(self.count), np.full(self.count, 14.0)
        for _ in range(50):
            middle = 0.5 * (low + high)
            above = self.charge(middle) > 0
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return 0.5 * (low + high)
