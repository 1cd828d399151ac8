"""Imports run one way, and Qt stays in the window."""

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
    {"window", "warm"},
    {"report", "trial"},
    {"notes"},
    {"compare"},
    {"review"},
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
        "limits_file",
        "places",
        "writing",
        "kernel_cache",
        "__init__",
    },
]
LEVEL = {name: level for level, names in enumerate(ORDER) for name in names}
FILES = sorted(PACKAGE.rglob("*.py"))


def place(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imported(path: Path) -> set[str]:
    """Every module of the package imported anywhere in the file, by its first name."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            names = (
                [f"evenweave.{a.name}" for a in node.names]
                if node.module == "evenweave"
                else [node.module]
            )
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        else:
            continue
        found |= {n.split(".")[1] for n in names if n.startswith("evenweave.")}
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_imports_only_its_own_folder_and_what_stands_below(path: Path) -> None:
    own = LEVEL[place(path)]
    above = {n for n in imported(path) if n != "__version__" and LEVEL[n] < own}
    beside = {n for n in imported(path) if LEVEL.get(n) == own and n != place(path)}
    if own < len(ORDER) - 1:
        assert not beside, f"{path.name} imports {beside}, which stands beside it"
    assert not above, f"{path.name} imports {above}, which stands above it"


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_qt_is_named_in_the_window_alone(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if place(path) != "window":
        assert "import PySide6" not in text
        assert "from PySide6" not in text
        assert "pyqtgraph import" not in text
        assert "import pyqtgraph" not in text


def test_checking_a_mesh_loads_no_qt() -> None:
    program = (
        "import sys, evenweave.cli, evenweave.review, evenweave.report.machine.machine;"
        "print([m for m in sys.modules if m.split('.')[0] in ('PySide6', 'pyqtgraph')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], check=True, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[]"
