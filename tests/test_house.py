"""The house stays one that a newcomer takes in: no circle of imports, no long file, no crowded room."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import optiform

ROOT = Path(optiform.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
MODULES = {
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__"): path
    for path in FILES
}
ROOMS = sorted({path.parent for path in FILES})
LONGEST_FILE, FULLEST_ROOM = 400, 16
LONGEST_FUNCTION, MOST_PARAMETERS = 60, 8
SMALL = 1e-4
"""A number below this that is none is a tolerance."""
UPWARDS = ("optiform.showing", "optiform.views.forms")
"""The one import that goes up: a result that is asked to show itself asks the views, and knows no words."""


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imported(path: Path) -> Iterator[str]:
    """Yield the modules of the package that a file imports when it runs, also inside its functions."""

    def walk(node: ast.AST) -> Iterator[str]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.If) and getattr(child.test, "id", "") == "TYPE_CHECKING":
                continue
            if isinstance(child, ast.ImportFrom) and (child.module or "").startswith("optiform"):
                for name in child.names:
                    whole = f"{child.module}.{name.name}"
                    yield whole if whole in MODULES else str(child.module)
            yield from walk(child)

    yield from walk(tree(path))


def circles(graph: dict[str, set[str]]) -> list[str]:
    """Return the names on a circle, or leading to one."""
    left = {name: set(others) for name, others in graph.items()}
    while ends := [name for name, others in left.items() if not others & left.keys()]:
        for name in ends:
            del left[name]
    return sorted(left)


def test_nothing_imports_itself_on_the_way():
    rooms = {name for name, path in MODULES.items() if path.name == "__init__.py"}
    graph = {
        name: {other for other in imported(path) if other not in rooms and other != name}
        for name, path in MODULES.items()
        if name not in rooms
    }
    graph[UPWARDS[0]].remove(UPWARDS[1])
    assert circles(graph) == []


def test_a_circle_would_be_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": set()}) == ["a", "b", "c"]


def test_a_file_is_read_in_one_sitting():
    lines = {place(path): path.read_text(encoding="utf-8").count("\n") for path in FILES}
    assert len(lines) > 200
    assert {name: count for name, count in lines.items() if count > LONGEST_FILE} == {}


def test_a_room_is_taken_in_at_a_glance():
    files = {
        place(room): len([path for path in room.glob("*.py") if path.name != "__init__.py"]) for room in ROOMS
    }
    assert {name: count for name, count in files.items() if count > FULLEST_ROOM} == {}
    assert [
        place(room) for room in ROOMS if not (room / "__init__.py").read_text("utf-8").startswith('"""')
    ] == []


def test_every_module_can_be_the_first_that_is_imported():
    """A circle by way of a room's door is seen only by who comes in through it.

    Whoever imports a room inside another comes through the outer door first; where that one brings the inner
    room along, there is nothing more to try.
    """
    code = (
        "import importlib, sys\n"
        "brought = set()\n"
        "for name in sys.argv[1:]:\n"
        "    if name in brought:\n"
        "        continue\n"
        "    for old in [old for old in sys.modules if old.startswith('optiform')]:\n"
        "        del sys.modules[old]\n"
        "    importlib.import_module(name)\n"
        "    brought |= {one for one in sys.modules if one.startswith(f'{name}.')}\n"
    )
    rooms = sorted(name for name, path in MODULES.items() if path.name == "__init__.py")
    ended = subprocess.run(
        [sys.executable, "-c", code, *rooms], capture_output=True, text=True, check=False, cwd=ROOT.parent
    )
    assert ended.returncode == 0, ended.stderr


def test_every_tolerance_stands_on_its_page():
    """Numbers this small that are none are named in optiform/tolerances.py."""
    small = [
        f"{place(path)}, line {node.lineno}: {node.value}"
        for path in FILES
        if path.name != "tolerances.py"
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and 0 < abs(node.value) < SMALL
    ]
    assert small == []


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    """Yield the functions of a file, those inside others too."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef):
            yield node


def test_a_function_is_read_at_a_glance():
    """The command line is let off: its parameters are the options, and their help is most of its lines."""
    long = []
    for path in FILES:
        if path.relative_to(ROOT).parts[0] == "cli":
            continue
        for one in functions(path):
            lines = one.end_lineno - one.lineno + 1
            named = [name.arg for name in (*one.args.posonlyargs, *one.args.args, *one.args.kwonlyargs)]
            parameters = len([name for name in named if name not in ("self", "cls")])
            if lines > LONGEST_FUNCTION or parameters > MOST_PARAMETERS:
                long.append(f"{place(path)}: {one.name} has {lines} lines, {parameters} parameters")
    assert long == []
