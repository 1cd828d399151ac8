"""`Layout`: the faces that share one texture, welded, triangulated and cut into islands."""

from __future__ import annotations

from dataclasses import dataclass, field

from evenweave.arrays import FloatArray, IntArray, ints
from evenweave.mesh.texturing import Slot, UvTransform


@dataclass(frozen=True)
class Tile:
    """Size of one tile's texture in texels."""

    width: int = 2048
    height: int = 2048


@dataclass(frozen=True, eq=False)
class Layout:
    """One layout: all faces of some materials, in one UV set.

    materials : names of the materials; uv_set : name of the set, "" if there is none
    asset_face : (F,) int32, the asset's face behind each face of the layout
    missing_face : asset's faces of these materials that have no UVs in this set
    unusable_face : asset's faces whose UVs are not finite (or beyond 1e6 tiles); not in F
    face_start : (F + 1,) int32
    corner_point : (C,) int32 index into `point_m`, the welded position
    corner_uv : (C,) int32 index into `uv`, the welded texture coordinate
    point_m : (P, 3) float64 metres (may hold points that this layout does not use)
    uv : (U, 2) float64 tile units, v up, snapped to 2**-24; each row is used
    triangle_corner : (T, 3) int32 index of corners, ordered as in the face, grouped by face
    triangle_face : (T,) int32
    face_island : (F,) int32; islands are numbered by their first face
    island_name : I names, unique within the layout ("roof", "roof 2")
    island_parts : per island the asset's part indices, ascending
    edges : see `Edges`
    slots : the textures that read this layout, where the file says so
    transforms : by material, how its texture is laid on the stored coordinates; `uv` has it applied
    needs_uvs : False where no texture reads these materials, in an asset that has textures
    """

    name: str
    materials: tuple[str, ...]
    uv_set: str
    asset_face: IntArray
    missing_face: IntArray
    unusable_face: IntArray
    face_start: IntArray
    corner_point: IntArray
    corner_uv: IntArray
    point_m: FloatArray
    uv: FloatArray
    triangle_corner: IntArray
    triangle_face: IntArray
    face_island: IntArray
    island_name: tuple[str, ...]
    island_parts: tuple[tuple[int, ...], ...]
    edges: Edges
    slots: tuple[Slot, ...] = ()
    transforms: tuple[tuple[str, UvTransform], ...] = ()
    needs_uvs: bool = True

    def reads(self) -> str:
        """Say in which set it is, for which textures, and how they are laid on it."""
        names = dict.fromkeys(slot.name for slot in self.slots)
        moved = list(dict.fromkeys(transform.words() for _, transform in self.transforms))
        said = f" for {', '.join(names)}" if names else ""
        if len(moved) == 1:
            said += f", {moved[0]}"
        elif moved:
            said += f", moved in {len(moved)} ways"
        return f"{self.uv_set}{said}" if self.uv_set else ""

    @property
    def island_count(self) -> int:
        """Number of islands."""
        return len(self.island_name)


@dataclass(frozen=True, eq=False)
class Edges:
    """Edges of the polygons (never the diagonals of a triangulation), by kind.

    An edge is a corner c: it runs from c to the next corner of the same face.

    seam : (S, 2) int32 corners, the two sides of a seam: joined in 3D, split in UV, or the fold
    between two islands of which one lies mirrored on the other
    border : (B,) int32 corners of edges with one face only
    nonmanifold : (N,) int32 corners of edges used by more than two faces, every use listed
    outline : (O,) int32 corners whose edge bounds an island in UV: seam sides, borders, unmatched
    uses of non-manifold edges, and folds (edges with all their faces on one side, once each)
    twin : (C,) int32 the other side of an edge with two faces, inside an island or at a seam;
    -1 elsewhere
    """

    seam: IntArray
    border: IntArray
    nonmanifold: IntArray
    outline: IntArray
    twin: IntArray = field(default_factory=lambda: ints([]))
