"""What does a library hold, and what in it deserves a second look?"""

from optiform.answers.library.report import check_library

__all__ = ["check_library"]
