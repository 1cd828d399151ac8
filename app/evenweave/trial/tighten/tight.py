"""Packings of the grid packer, tightened: off the grid, by small moves."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from evenweave.arrays import ints
from evenweave.trial.nest.blocks import turn_matrix
from evenweave.trial.nest.cells import Place
from evenweave.trial.nest.outline import block_shape
from evenweave.trial.nest.search import Placed, Task
from evenweave.trial.tighten.convex import convex_pieces
from evenweave.trial.tighten.tighten import Loose, Lying, tight

ROUNDING_PX = 1e-3  # that coordinates may lose when they are written


def loosened(task: Task, *, may_turn: bool) -> Loose:
    """Return what is to be tightened."""
    grid = task.grid
    return Loose(
        pieces=tuple(convex_pieces(block_shape(block)) for block in task.blocks),
        room_px=(_within(grid.room[0] * grid.cell_px), _within(grid.room[1] * grid.cell_px)),
        padding_px=grid.padding * grid.cell_px + ROUNDING_PX,
        most_scale=task.bound,
        straight=np.array([block.straight_degrees() for block in task.blocks])
        if may_turn
        else None,
    )


def _within(side_px: float) -> tuple[float, float]:
    return ROUNDING_PX, side_px - ROUNDING_PX


def lying(task: Task, placed: Placed) -> Lying:
    """Return where blocks lie in texels."""
    shift = []
    for block, place in zip(task.blocks, placed.places, strict=True):
        low = (block.line_px.reshape(-1, 2) @ turn_matrix(place.degrees)).min(axis=0)
        at = np.array([place.x, place.y]) * task.grid.cell_px
        shift.append(at / placed.scale - low)
    return Lying(
        scale=placed.scale,
        degrees=np.array([place.degrees for place in placed.places]),
        shift=np.array(shift),
        tile=ints([place.tile for place in placed.places]),
    )


def placed(task: Task, lying: Lying) -> Placed:
    """Return the places of lowest corners in cells."""
    places = []
    moves = (lying.degrees.tolist(), lying.shift, lying.tile.tolist())
    for block, degrees, shift, tile in zip(task.blocks, *moves, strict=True):
        low = (block.line_px.reshape(-1, 2) @ turn_matrix(degrees)).min(axis=0)
        at = (low + shift) * lying.scale / task.grid.cell_px
        places.append(Place(tile, degrees, float(at[0]), float(at[1])))
    return Placed(lying.scale, tuple(places), 1.0)


def tightened(task: Task, loose: Loose, rough: Placed, go_on: Callable[[], bool]) -> Placed:
    """Return a packing made larger by small moves, as far as time allows."""
    return placed(task, tight(loose, lying(task, rough), go_on))
