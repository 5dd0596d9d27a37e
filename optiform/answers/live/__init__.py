"""How does the answer follow when one wish of a brief moves, and how far may each wish move?"""

from optiform.answers.live.changes import Added, Bound, Change, Removed, changed
from optiform.answers.live.found import Found, Proven, Provisional
from optiform.answers.live.live_brief import LiveBrief
from optiform.answers.live.room import Room

__all__ = [
    "Added",
    "Bound",
    "Change",
    "Found",
    "LiveBrief",
    "Proven",
    "Provisional",
    "Removed",
    "Room",
    "changed",
]
