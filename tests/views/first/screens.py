"""The first screens of every shipped problem and of starter briefs, each asked once."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from optiform.answers.model.answer import Answer
from optiform.api import check, design, evaluate, reformulate
from optiform.api.given import at_home
from optiform.brief import brief_from
from optiform.brief.starting import skins, starter_brief, textures
from optiform.views.forms import result_of
from optiform.views.render import text
from tests import asked

PROBLEMS = Path(__file__).parents[3] / "problems"
PATHS = (path for path in sorted(PROBLEMS.glob("*/*.toml")) if path.name != "plan.toml")
BRIEFS = {f"{path.parent.name}-{path.stem}": path for path in PATHS}
OWN = [name for name, path in BRIEFS.items() if not (path.parent / "library").exists()]
POSSIBLE = [name for name in OWN if not name.startswith("too-many")]
SOLVED = [name for name in BRIEFS if not name.startswith("too-many")]
STARTERS = [f"{skin}/{feel}" for skin in skins() for feel in textures()]
EVERY_SKIN = [STARTERS[(len(textures()) + 1) * place % len(STARTERS)] for place in range(len(skins()))]
"""One starter of each skin, over all textures."""


@cache
def designed(name: str) -> Answer:
    """Return the design of a problem, or of a starter by its skin and texture."""
    if name in BRIEFS:
        path = BRIEFS[name]
        return at_home(asked.designed(path.parent.name)) if path.name == "brief.toml" else design(path)
    import tomllib

    skin, feel = name.split("/")
    return design(brief_from(tomllib.loads(starter_brief(skin, feel))))


@cache
def checked(name: str) -> Answer:
    """Return the check of a problem."""
    return check(BRIEFS[name])


@cache
def evaluated(name: str) -> Answer:
    """Return what the best formula of a problem is by itself."""
    return evaluate(designed(name).formulas[0])


@cache
def reworked(name: str) -> Answer:
    """Return a cheaper version of the last formula of a problem's ranking."""
    return reformulate(designed(name).formulas[-1], aim="cheaper")


def screen_of(answer: Answer) -> str:
    """Return the first screen of an answer as a pipe gets it."""
    return result_of(answer).to_text(text.Screen())
