"""What one measure costs of another: the whole curve, proven, not a grid."""

from optiform.answers.tradeoff.front import Curve, Free, Here, Knee, Knot, Stretch, Third, TradeOff
from optiform.answers.tradeoff.question import tradeoff

__all__ = ["Curve", "Free", "Here", "Knee", "Knot", "Stretch", "Third", "TradeOff", "tradeoff"]
