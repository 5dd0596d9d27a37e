"""What does one measure cost of another, along the whole curve?"""

from optiform.answers.tradeoff.front import Curve, Free, Here, Knee, Knot, Stretch, Third, TradeOff
from optiform.answers.tradeoff.question import tradeoff

__all__ = ["Curve", "Free", "Here", "Knee", "Knot", "Stretch", "Third", "TradeOff", "tradeoff"]
