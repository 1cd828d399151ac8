"""The smallest mesh with something to remark."""

from pathlib import Path

SQUARE = """\
o {2}
usemtl {3}
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt {0} {0}
vt {1} {0}
vt {1} {1}
vt {0} {1}
f 1/1 2/2 3/3 4/4
"""


def square(
    path: Path,
    low: float = 0.25,
    high: float = 0.75,
    *,
    name: str = "square",
    material: str = "paint",
) -> Path:
    """Write a square; half a tile wide it has a warning of coverage and nothing else."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(SQUARE.format(low, high, name, material))
    return path
