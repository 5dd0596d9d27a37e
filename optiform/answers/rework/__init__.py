"""How can an existing formula become cheaper, gentler or free of something?"""

from optiform.answers.rework.reformulation import reformulate

__all__ = ["reformulate"]
