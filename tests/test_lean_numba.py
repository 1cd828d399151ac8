"""numba loads without looking for what no kernel uses, and hides it from nobody afterwards."""

import ast
import subprocess
import sys
from pathlib import Path

from evenweave import lean_numba

PACKAGE = Path(lean_numba.__file__).parent
PRODUCTS = {"dot", "vdot", "inner", "outer", "cov", "corrcoef", "convolve", "correlate", "linalg"}


def test_what_seemed_missing_can_be_loaded_afterwards() -> None:
    program = (
        "import sys; from evenweave import lean_numba; lean_numba.load();"
        "assert 'scipy.linalg' not in sys.modules; import scipy.linalg, numpy as np;"
        "assert scipy.linalg.det(np.eye(3)) == 1;"
        "from numba import njit;"
        "assert round(njit(lambda a: np.linalg.det(a @ a))(2 * np.eye(2)), 9) == 16"
    )
    subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)


def test_no_kernel_uses_what_is_left_out() -> None:
    for path in PACKAGE.rglob("*kernels.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            assert not isinstance(node, ast.MatMult), path
            assert not (isinstance(node, ast.Attribute) and node.attr in PRODUCTS), path
