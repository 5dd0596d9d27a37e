"""Returns the cautions that every answer about a formula carries."""

from __future__ import annotations

from optiform.brief.models import Brief
from optiform.law import claim_cautions

CAUTIONS = (
    "These are candidates to trial, not finished formulas: of 812 shampoo blends mixed in one study 294 stayed in one "
    "phase (Scientific Data 11, 2024, 728), and lather and feel are not predicted at all.",
    "Concentrated surfactants, acids and bases injure eyes and skin, and powders must not be breathed: read each "
    "safety data sheet and wear goggles, gloves and a fitting mask.",
    "A wash that contains water needs a preservative proven by a challenge test in the finished product; a computed "
    "amount of acid is no proof.",
    "Test stability in the final pack, warm, cold and frozen, with limits for pH and viscosity.",
    "Before anyone else uses or buys it: a safety assessment by a qualified person, and the local law. Any change to "
    "a formula, however small, opens both again.",
    "An index of mildness is never a promise for sensitive skin, for eyes or for children.",
)


def cautions_for(brief: Brief) -> tuple[str, ...]:
    """Return the cautions of an answer: what the words of its title claim first, then those of every answer."""
    return (*claim_cautions(brief.law, [brief.title]), *CAUTIONS)
