"""The commands whose answers are kept: every question, on every problem and on starter briefs."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from optiform.brief.starting import skins, starter_brief, textures
from optiform.cli import main

ROOT = Path(__file__).parents[2]
PROBLEMS = sorted(path.parent.name for path in (ROOT / "problems").glob("*/brief.toml"))
OWN = [name for name in PROBLEMS if not (ROOT / "problems" / name / "library").exists()]
POSSIBLE = [name for name in OWN if name != "too-many-wishes"]


@dataclass(frozen=True)
class Recorded:
    """One command: a name for its document, and its words. `{0}` stands for a folder to write in."""

    name: str
    words: tuple[str, ...]


def commands() -> Iterator[Recorded]:
    """Yield every command, cheapest questions first; files that later ones read are written by `prepare`."""
    for name in PROBLEMS:
        brief = f"problems/{name}/brief.toml"
        yield Recorded(f"check-{name}", ("check", brief))
        yield Recorded(f"design-{name}", ("design", brief))
    for skin, texture in starters():
        brief = f"{{0}}/{skin}-{texture}.toml"
        yield Recorded(f"design-start-{skin}-{texture}", ("design", brief))
    for name in POSSIBLE:
        formula = f"{{0}}/{name}.csv"
        brief = f"problems/{name}/brief.toml"
        yield Recorded(f"why-{name}", ("why", brief, "xanthan-gum"))
        yield Recorded(f"evaluate-{name}", ("evaluate", formula, "--brief", brief))
        yield Recorded(f"sheet-{name}", ("sheet", formula, "--batch", "2kg", "--brief", brief))
        yield Recorded(f"weigh-{name}", ("weigh", formula, "--batch", "250g", "--brief", brief))
        yield Recorded(f"cheaper-{name}", ("reformulate", "--from", formula, "--aim", "cheaper"))
    nettle = "{0}/nettle-gel-oily-skin.csv"
    yield Recorded("gentler-nettle", ("reformulate", "--from", nettle, "--aim", "gentler"))
    yield Recorded("lot-nettle", ("lot", nettle, "--material", "coco-glucoside", "--active", "49.5"))
    yield Recorded("bench-nettle", ("bench", nettle, "--batch", "500g", "--pH", "5.1"))
    yield Recorded("shop-spring", ("shop", "{0}/spring.toml"))
    evenings = "problems/three-evenings"
    yield Recorded("trial-list-three-evenings", ("trial", "list", f"{evenings}/bench"))
    yield Recorded("trial-learn-three-evenings", ("trial", "learn", f"{evenings}/bench"))
    yield Recorded("trial-plan-three-evenings", ("trial", "plan", f"{evenings}/first.toml", "--trials", "9"))
    yield Recorded("trial-next-three-evenings", ("trial", "next", f"{evenings}/nettle.toml"))
    yield Recorded("design-three-evenings", ("design", f"{evenings}/nettle.toml"))
    yield Recorded("library-check", ("library", "check"))
    yield Recorded("library-list", ("library", "list"))
    yield Recorded("library-show", ("library", "show", "xanthan-gum"))


def starters() -> Iterator[tuple[str, str]]:
    """Yield one skin for every texture and one texture for every skin."""
    kinds, feels = skins(), textures()
    for place in range(max(len(kinds), len(feels))):
        yield kinds[place % len(kinds)], feels[place % len(feels)]


def prepare(folder: Path) -> None:
    """Write what the commands read: starter briefs, the first formula of each problem, a plan of purchases."""
    for skin, texture in starters():
        (folder / f"{skin}-{texture}.toml").write_text(starter_brief(skin, texture), encoding="utf-8")
    for name in POSSIBLE:
        text = answer(("design", f"problems/{name}/brief.toml", "--format", "json"), folder)
        lines = json.loads(text)["formulas"][0]["lines"]
        rows = [f"{line['material']},{line['percent']!r}" for line in lines]
        (folder / f"{name}.csv").write_text("\n".join(["material,percent", *rows, ""]), encoding="utf-8")
    plan = 'title = "Spring"\n' + "".join(
        f'\n[[make]]\nformula = "{name}.csv"\nbatch = "{batch}"\n'
        for name, batch in zip(POSSIBLE[:2], ("5kg", "2kg"), strict=True)
    )
    (folder / "spring.toml").write_text(plan, encoding="utf-8")


def answer(words: tuple[str, ...], folder: Path) -> str:
    """Return what a command prints on stdout.

    Raises
    ------
    AssertionError
        If the command fails or refuses its input.
    """
    placed = [word.replace("{0}", str(folder)).replace("problems/", f"{ROOT}/problems/") for word in words]
    printed, said = io.StringIO(), io.StringIO()
    with redirect_stdout(printed), redirect_stderr(said):
        code = main(placed)
    assert code in (0, 3), f"{' '.join(placed)} ended with {code}: {said.getvalue()}"
    return printed.getvalue().replace(str(folder), "FOLDER").replace(str(ROOT), "ROOT")
