"""Imports run one way at both levels of folders, in no circle, and Qt stays in the window."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "app" / "evenweave"

# From the top down: a module may import its own line and every line below it.
ORDER = [
    {"__main__"},
    {"cli"},
    {"command"},
    {"window", "warm", "library"},
    {"report", "trial"},
    {"picture"},
    {"notes"},
    {"compare"},
    {"pipeline"},
    {"quantities"},
    {"check"},
    {"measure"},
    {"layout"},
    {"mesh"},
    {"raster"},
    {
        "arrays",
        "errors",
        "progress",
        "limits",
        "places",
        "schemas",
        "writing",
        "kernel_cache",
        "lean_memory",
        "lean_numba",
        "threads",
        "__init__",
    },
]

# The rooms and loose files of each folder, likewise from the top down.
ROOMS = {
    "command": [
        "advise check compare improve limits notes outlines picture prepare samples",
        "advice_report",
        "line",
    ],
    "window": [
        "shell",
        "comparison",
        "dialogs",
        "notes",
        "findings islands advice",
        "views",
        "bars",
        "actions",
        "services",
        "state",
        "paper",
        "parts",
    ],
    "library": ["improve", "review", "from_trimesh to_trimesh"],
    "quantities": ["reference", "catalogue", "quantity"],
    "report": ["document build_server", "gate", "text", "machine"],
    "trial": [
        "reseam",
        "jobs",
        "safe",
        "document",
        "advice",
        "straighten",
        "pack",
        "tighten",
        "nest",
        "sew",
        "cut",
        "flatten",
        "save",
        "work uvs",
    ],
    "picture": [
        "pictures coloured difference place_picture outlines",
        "painting",
        "lettering",
        "scene",
    ],
    "compare": ["verdict", "comparison", "findings states figures", "motion", "matching"],
    "check": [
        "run",
        "catalogue guess",
        "target",
        "rules",
        "texts",
        "own",
        "subject",
        "finding numbers",
    ],
    "measure": [
        "measure",
        "seams space",
        "islands",
        "stacks",
        "overlap",
        "outline distortion",
        "results",
    ],
    "mesh": [
        "read",
        "validation companions formats",
        "obj gltf usd ply collada",
        "assembly",
        "asset caveats tokens images",
        "names texturing",
        "place",
    ],
    "limits": ["file", "toml", "limits", "sets range"],
    "raster": [
        "solid",
        "flat",
        "ink",
        "colour",
        "overlay",
        "look chunks patterns bands",
        "camera chunks_kernels sides_kernels tint_kernels",
        "kernel_types",
    ],
}
FILES = sorted(PACKAGE.rglob("*.py"))
MOST_FILES = 16
MOST_LINES = 300
MOST_LINES_OF_A_FUNCTION = 60


def levels(order: list[set[str]]) -> dict[str, int]:
    return {name: level for level, names in enumerate(order) for name in names}


LEVEL = levels(ORDER)
ROOM_LEVEL = {top: levels([set(line.split()) for line in rows]) for top, rows in ROOMS.items()}


def parts(path: Path) -> tuple[str, ...]:
    found = path.relative_to(PACKAGE).with_suffix("").parts
    return found[:-1] if found[-1] == "__init__" and len(found) > 1 else found


MODULES = {parts(path): path for path in FILES}


def imported(path: Path) -> set[tuple[str, ...]]:
    """Every module of the package imported anywhere in the file."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            base = tuple(node.module.split("."))
            whole = {(*base, alias.name) for alias in node.names}
            names = {name if name[1:] in MODULES else base for name in whole}
        elif isinstance(node, ast.Import):
            names = {tuple(alias.name.split(".")) for alias in node.names}
        else:
            continue
        found |= {name[1:] for name in names if name[0] == "evenweave" and len(name) > 1}
    return found


# The package's own face names what stands above it for type checkers, and loads it when asked.
FACE = PACKAGE / "__init__.py"
IMPORTS = {name: imported(path) for name, path in MODULES.items() if path != FACE}


@pytest.mark.parametrize(
    "path", [path for path in FILES if path != FACE], ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_a_module_imports_only_its_own_folder_and_what_stands_below(path: Path) -> None:
    own = LEVEL[parts(path)[0]]
    names = {name[0] for name in imported(path)}
    above = {name for name in names if LEVEL[name] < own}
    beside = {name for name in names if LEVEL[name] == own and name != parts(path)[0]}
    if own < len(ORDER) - 1:
        assert not beside, f"{path.name} imports {beside}, which stands beside it"
    assert not above, f"{path.name} imports {above}, which stands above it"


@pytest.mark.parametrize("top", ROOMS)
def test_rooms_import_only_rooms_that_stand_below(top: str) -> None:
    level = ROOM_LEVEL[top]
    for name, targets in IMPORTS.items():
        if name[0] != top or len(name) < 2:
            continue
        for target in targets:
            if target[0] == top and len(target) > 1 and target[1] != name[1]:
                assert level[name[1]] < level[target[1]], f"{'.'.join(name)} -> {'.'.join(target)}"


def circles(graph: dict[tuple[str, ...], set[tuple[str, ...]]]) -> list[list[tuple[str, ...]]]:
    """Return the strongly connected components of more than one node (Tarjan 1972)."""
    index: dict[tuple[str, ...], int] = {}
    low: dict[tuple[str, ...], int] = {}
    stack: list[tuple[str, ...]] = []
    found = []

    def visit(node: tuple[str, ...]) -> None:
        index[node] = low[node] = len(index)
        stack.append(node)
        for other in sorted(graph.get(node, ())):
            if other not in index:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], index[other])
        if low[node] == index[node]:
            cut = stack.index(node)
            if len(stack) - cut > 1:
                found.append(stack[cut:])
            del stack[cut:]

    for node in sorted(graph):
        if node not in index:
            visit(node)
    return found


def test_circles_are_found() -> None:
    graph = {("a",): {("b",)}, ("b",): {("c",)}, ("c",): {("b",)}, ("d",): {("a",)}}
    assert circles(graph) == [[("b",), ("c",)]]


def test_no_files_import_one_another_in_a_circle() -> None:
    assert circles(IMPORTS) == []


def test_no_folder_is_crowded_and_no_file_long() -> None:
    count: dict[Path, int] = {}
    for path in FILES:
        count[path.parent] = count.get(path.parent, 0) + (path.name != "__init__.py")
    assert {str(p): n for p, n in count.items() if n > MOST_FILES} == {}
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in FILES}
    assert {str(p): n for p, n in lines.items() if n > MOST_LINES} == {}


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_function_is_long(path: Path) -> None:
    """The docstring apart, which says what arrays hold."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = node.end_lineno - node.lineno + 1 if node.end_lineno else 0
            first = node.body[0]
            if ast.get_docstring(node) is not None and first.end_lineno is not None:
                lines -= first.end_lineno - first.lineno + 1
            assert lines <= MOST_LINES_OF_A_FUNCTION, node.name


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_qt_is_named_in_the_window_alone(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if parts(path)[0] != "window":
        assert "import PySide6" not in text
        assert "from PySide6" not in text
        assert "pyqtgraph import" not in text
        assert "import pyqtgraph" not in text


def test_checking_a_mesh_loads_no_qt() -> None:
    program = (
        "import sys, evenweave.cli, evenweave.pipeline, evenweave.report.machine.machine;"
        "print([m for m in sys.modules if m.split('.')[0] in ('PySide6', 'pyqtgraph')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"
