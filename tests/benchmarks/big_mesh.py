"""Write a large OBJ file to measure with: a torus cut into wavy islands.

    python tests/benchmarks/big_mesh.py --triangles 1000000 OUT.obj

About 200 triangles an island (5,000 islands at a million), nine faces of ten are quads, the
rest triangles and hexagons whose extra corners lie in the middle of a side; each island has
its own size and quarter turn within its slot of the tile, so nothing overlaps and densities
vary. Positions are shared across seams, texture coordinates are not. The same arguments
always give the same bytes.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np

CELLS = 10  # quads along each side of an island, before some are split or joined
ISLANDS_PER_PART = 50
MAJOR, MINOR = 3.0, 1.0
WAVE = 0.06  # amplitude of the outlines' waves, in island widths


@dataclass(frozen=True)
class BigMesh:
    """Corner lists of faces with 3, 4 or 6 corners.

    position, normal : (V, 3) float64; uv : (N, 2) float64
    faces : per face the pairs (position, uv), grouped by island
    face_island : (F,) island of each face
    """

    position: np.ndarray
    normal: np.ndarray
    uv: np.ndarray
    faces: list[list[tuple[int, int]]]
    face_island: list[int]


def torus(triangles: int, seed: int = 1) -> BigMesh:
    """Return the mesh with about so many triangles."""
    islands = max(3, round(triangles / (2 * CELLS * CELLS)))
    across = max(1, round((islands / 3) ** 0.5))
    around = max(2, round(islands / across))
    random = np.random.default_rng(seed)
    position, normal = _surface(around, across)
    uv = np.concatenate(
        [_island_uv(i, around * across, random) for i in range(around * across)], axis=0
    )
    faces: list[list[tuple[int, int]]] = []
    face_island: list[int] = []
    for island in range(around * across):
        before = len(faces)
        faces.extend(_island_faces(island, (around, across), random))
        face_island.extend([island] * (len(faces) - before))
    return BigMesh(position, normal, uv, faces, face_island)


def _surface(around: int, across: int) -> tuple[np.ndarray, np.ndarray]:
    """Grid of points on the torus, bent so that the islands' outlines wave."""
    a, b = np.meshgrid(
        np.arange(around * CELLS) / CELLS, np.arange(across * CELLS) / CELLS, indexing="ij"
    )
    u = 2 * np.pi * (a + WAVE * np.sin(2 * np.pi * b)) / around
    v = 2 * np.pi * (b + WAVE * np.sin(2 * np.pi * a)) / across
    normal = np.stack([np.cos(v) * np.cos(u), np.sin(v), -np.cos(v) * np.sin(u)], axis=-1)
    ring = np.stack([np.cos(u), np.zeros_like(u), -np.sin(u)], axis=-1)
    return (MAJOR * ring + MINOR * normal).reshape(-1, 3), normal.reshape(-1, 3)


def _island_uv(island: int, islands: int, random: np.random.Generator) -> np.ndarray:
    """Texture coordinates of one island's grid of points, inside its slot of the tile."""
    slots = int(np.ceil(islands**0.5))
    steps = np.arange(CELLS + 1) / CELLS
    s, t = np.meshgrid(steps, steps, indexing="ij")
    x = s + WAVE * np.sin(2 * np.pi * t) - 0.5
    y = t + WAVE * np.sin(2 * np.pi * s) - 0.5
    for _ in range(int(random.integers(4))):
        x, y = -y, x
    size = random.uniform(0.55, 0.8) / slots
    centre = (np.array(divmod(island, slots)) + 0.5) / slots
    return np.stack([centre[0] + size * x, centre[1] + size * y], axis=-1).reshape(-1, 2)


def _island_faces(
    island: int, shape: tuple[int, int], random: np.random.Generator
) -> list[list[tuple[int, int]]]:
    """Faces of one island, two neighbouring cells at a time: quads, a hexagon or triangles."""
    around, across = shape
    column, row = divmod(island, across)
    first_uv = island * (CELLS + 1) ** 2

    def corner(i: int, j: int) -> tuple[int, int]:
        point_i = (column * CELLS + i) % (around * CELLS)
        point_j = (row * CELLS + j) % (across * CELLS)
        return point_i * across * CELLS + point_j, first_uv + i * (CELLS + 1) + j

    faces = []
    kinds = random.choice(3, size=(CELLS, CELLS // 2), p=[0.9, 0.07, 0.03])
    for i in range(CELLS):
        for pair in range(CELLS // 2):
            low = [corner(i, 2 * pair + k) for k in range(3)]
            high = [corner(i + 1, 2 * pair + k) for k in range(3)]
            if kinds[i, pair] == 1:
                faces.append([low[0], high[0], high[1], high[2], low[2], low[1]])
                continue
            for k in range(2):
                quad = [low[k], high[k], high[k + 1], low[k + 1]]
                split = [quad[:3], [quad[0], *quad[2:]]]
                faces.extend(split if kinds[i, pair] == 2 else [quad])
    return faces


def write_obj(mesh: BigMesh, path: Path, *, materials: int = 1, shuffle: bool = False) -> None:
    """Write the mesh; `shuffle` puts its points and faces in random order, without parts."""
    order = np.arange(len(mesh.faces))
    point_line = np.arange(len(mesh.position))
    position, normal = mesh.position, mesh.normal
    if shuffle:
        random = np.random.default_rng(2)
        order = random.permutation(order)
        place = random.permutation(point_line)
        point_line = np.argsort(place)
        position, normal = position[place], normal[place]
    with path.open("w", encoding="ascii", newline="\n") as file:
        np.savetxt(file, position, fmt="v %.6f %.6f %.6f")
        np.savetxt(file, mesh.uv, fmt="vt %.6f %.6f")
        np.savetxt(file, normal, fmt="vn %.4f %.4f %.4f")
        lines = (point_line + 1).tolist()
        part = material = -1
        for face in order.tolist():
            island = mesh.face_island[face]
            if not shuffle and island // ISLANDS_PER_PART != part:
                part = island // ISLANDS_PER_PART
                file.write(f"o piece_{part}\n")
            if part % materials != material:
                material = part % materials
                file.write(f"usemtl metal_{material}\n")
            corners = (f"{lines[p]}/{t + 1}/{lines[p]}" for p, t in mesh.faces[face])
            file.write("f " + " ".join(corners) + "\n")


def main() -> None:
    """Write the file named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("output", type=Path)
    parser.add_argument("--triangles", type=int, default=1_000_000)
    parser.add_argument("--materials", type=int, default=1, help="parts take them in turn")
    parser.add_argument("--shuffle", action="store_true", help="points and faces in random order")
    wanted = parser.parse_args()
    mesh = torus(wanted.triangles)
    write_obj(mesh, wanted.output, materials=wanted.materials, shuffle=wanted.shuffle)


if __name__ == "__main__":
    main()
