"""Two passes of a layout in colours: by what became of each island, or by what the colours show."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from PySide6.QtCore import QBuffer, QCoreApplication, QIODevice
from PySide6.QtGui import QColor, QPainter, QPixmap

from evenweave.compare.comparison import LayoutChange
from evenweave.compare.states import State
from evenweave.picture.coloured import Coloured, coloured
from evenweave.picture.difference import STATE_COLOURS, new_states, old_states, state_colours
from evenweave.picture.scene.layers import NO_LAYERS
from evenweave.raster.look import Look
from evenweave.window.parts.palette import current
from evenweave.window.state.preparation import Pass, Prepared


@dataclass(frozen=True, eq=False)
class Pair:
    """A layout before and after, in colours; None where there is none."""

    before: Coloured | None
    after: Coloured | None


def state_word(state: State) -> str:
    """Return what became of an island, in a word or two."""
    tr = QCoreApplication.translate
    return {
        "unchanged": tr("State", "Unchanged"),
        "moved": tr("State", "Moved"),
        "scaled": tr("State", "Scaled"),
        "turned": tr("State", "Turned"),
        "mirrored": tr("State", "Mirrored"),
        "re-flattened": tr("State", "Flattened anew"),
        "re-cut": tr("State", "Cut anew"),
        "lost": tr("State", "Lost"),
        "added": tr("State", "Added"),
    }[state]


def state_swatch(state: State) -> QPixmap:
    """Return a state's colour as a small square, outlined so that none is lost on its ground."""
    swatch = QPixmap(12, 12)
    swatch.fill(current().faint)
    painter = QPainter(swatch)
    painter.fillRect(1, 1, 10, 10, QColor(*STATE_COLOURS[state]))
    painter.end()
    return swatch


def state_swatch_html(state: State) -> str:
    """Return the same as an image in rich text."""
    data = QBuffer()
    data.open(QIODevice.OpenModeFlag.WriteOnly)
    state_swatch(state).save(data, "PNG")
    encoded = bytes(data.data().toBase64().data()).decode("ascii")
    return f'<img src="data:image/png;base64,{encoded}"/>'


def pair_in_states(passes: Pass, change: LayoutChange) -> Pair:
    """Return a layout of both passes coloured by what became of each island."""
    one = passes.comparison
    before = after = None
    if change.old >= 0:
        before = _by_state(passes.before, change.old, old_states(one, change.old), None)
    if change.new >= 0:
        senseless = one.new_faces[change.new].senseless
        after = _by_state(passes.after, change.new, new_states(one, change.new), senseless)
    return Pair(before, after)


def pair_in_look(passes: Pass, change: LayoutChange, look: Look) -> Pair:
    """Return a layout of both passes under one look."""
    look = replace(look, brush=None, mip=None, halos=False, seam_kinds=False)
    sides = ((passes.before, change.old), (passes.after, change.new))
    before, after = (
        coloured(side.scene, number, look) if number >= 0 else None for side, number in sides
    )
    return Pair(before, after)


def _by_state(
    side: Prepared, number: int, codes: np.ndarray, hatched: np.ndarray | None
) -> Coloured:
    flat = side.scene.flats[number]
    colours = state_colours(flat, codes, hatched)
    look = Look(colours="plain", flips=False)
    empty = np.zeros(0)
    return Coloured(side.scene, number, look, None, empty, colours, colours, NO_LAYERS)
