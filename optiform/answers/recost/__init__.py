"""What do new prices do to every brief and formula of a folder?"""

from optiform.answers.recost.folder import Found, gather
from optiform.answers.recost.one import Recosted, Task, recost_one
from optiform.answers.recost.run import Recosting, recosting

__all__ = ["Found", "Recosted", "Recosting", "Task", "gather", "recost_one", "recosting"]
