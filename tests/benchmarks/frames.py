"""How many frames a second canvas and 3D view reach on a large mesh.

    python tests/benchmarks/frames.py [TRIANGLES | FILE ...] [--size 1200x800] [--frames 40]

Prints medians over frames, and the processor time of all threads, which a busy machine does not
blur as much, while panning and turning, for the renderers alone and for the
widgets (which may draw coarsely while moving), and for hover and selection, which only shade.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import big_mesh
from PySide6.QtWidgets import QApplication

from evenweave.limits.limits import Limits
from evenweave.mesh.read import read
from evenweave.picture.coloured import Coloured, coloured
from evenweave.picture.painting.painting import Marks, flat_paint, solid_paint
from evenweave.picture.scene.scene import Scene, prepare_scene
from evenweave.pipeline import Review, review
from evenweave.raster.camera import FlatView, Orbit, fit_flat
from evenweave.raster.flat.flat import FlatRenderer
from evenweave.raster.look import Look
from evenweave.raster.solid.solid import SolidRenderer

PLAIN = Look(seams=False, flips=False, texel_grid=False)
FULL = Look(checker=True, edges=True, seams=True)
SELECTED = Marks(selection=(0, 1, 2), hover=3)


def timed(frames: int, draw: Callable[[int], object]) -> str:
    """Draw some frames; tell the median time, the fastest, and frames a second."""
    draw(0)
    spans, work = [], []
    for number in range(1, frames + 1):
        begun, worked = time.perf_counter(), time.process_time()
        draw(number)
        spans.append((time.perf_counter() - begun) * 1e3)
        work.append((time.process_time() - worked) * 1e3)
    median = statistics.median(spans)
    return (
        f"{median:6.1f} ms {1000 / median:6.1f} frames/s"
        f"   least {min(spans):5.1f} ms, processor {min(work):5.1f} ms"
    )


def flat_frames(shown: Coloured, size: tuple[int, int], frames: int, marks: Marks) -> list[str]:
    """Pan, then shade only."""
    renderer = FlatRenderer(shown.flat.mesh)
    home = fit_flat(shown.flat.home_bounds, *size)
    paint = flat_paint(shown.flat, shown.look, shown.colours, marks=marks)

    def pan(number: int) -> None:
        view = FlatView(home.u + number * 2e-4, home.v, home.scale, *size)
        renderer.picture(view, paint)

    return [timed(frames, pan), timed(frames, lambda number: renderer.picture(home, paint))]


def solid_frames(shown: Coloured, size: tuple[int, int], frames: int, marks: Marks) -> list[str]:
    """Turn, then shade only."""
    solid = shown.scene.solid
    renderer = SolidRenderer(solid.mesh)
    home = Orbit(up_axis=solid.up_axis).fitted(*solid.bounds(), size[0] / size[1])
    paint = solid_paint(
        solid, shown.flat, shown.look, layout_index=0, colours=shown.whole, marks=marks
    )

    def turn(number: int) -> None:
        renderer.picture(home.turned(0.01 * number, 0.0), *size, paint=paint)

    def still(number: int) -> None:
        renderer.picture(home, *size, paint=paint)

    return [timed(frames, turn), timed(frames, still)]


def widget_frames(scene: Scene, size: tuple[int, int], frames: int) -> None:
    """Pan and turn the widgets as a hand would, everything on."""
    from evenweave.window.views.canvas import UvCanvas
    from evenweave.window.views.solid_view import SolidView

    application = QApplication.instance() or QApplication([])
    shown = coloured(scene, 0, FULL)
    canvas, view = UvCanvas(), SolidView()
    for widget in (canvas, view):
        widget.resize(*size)
        widget.show()
        widget.show_layout(shown)
        widget.set_selection((0, 1, 2))
        wait(application)
        widget.grab()
    box = canvas.getPlotItem().getViewBox()

    def pan(number: int) -> None:
        canvas._begin_moving()
        box.translateBy(x=2e-4, y=0)
        canvas.viewport().repaint()

    def turn(number: int) -> None:
        view._turn(0.01, 0.0)
        view.repaint()

    def hover(number: int) -> None:
        canvas.set_hover(number % 2 + 3)
        canvas.viewport().repaint()

    print("  canvas widget, pan            ", timed(frames, pan), "coarse" * canvas.item.is_coarse)
    canvas._on_still_timeout()
    print("  canvas widget, hover          ", timed(frames, hover))
    print(
        "  3D widget, turn               ", timed(frames, turn), "coarse" * view.picture.is_coarse
    )


def wait(application: QApplication, seconds: float = 0.5) -> None:
    """Let everything be painted, and come to rest."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        application.processEvents()


def reviewed_mesh(mesh: str) -> Review:
    """Review a file, or a torus of so many triangles."""
    if not mesh.isdigit():
        return review(read(Path(mesh)), Limits())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "torus.obj"
        big_mesh.write_obj(big_mesh.torus(int(mesh)), path)
        return review(read(path), Limits())


def main() -> None:
    """Measure every size asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("meshes", nargs="*", default=["1000000"], help="triangles, or a file")
    parser.add_argument("--size", default="1200x800")
    parser.add_argument("--frames", type=int, default=40)
    asked = parser.parse_args()
    width, height = (int(side) for side in asked.size.split("x"))
    for mesh in asked.meshes:
        reviewed = reviewed_mesh(mesh)
        begun = time.perf_counter()
        scene = prepare_scene(reviewed)
        layout = scene.flats[0].layout
        print(
            f"{len(layout.triangle_face):,} triangles, {layout.island_count:,} islands, "
            f"{width}x{height}; scene prepared in {time.perf_counter() - begun:.2f} s"
        )
        for name, look, marks in (("heat alone", PLAIN, Marks()), ("everything", FULL, SELECTED)):
            begun = time.perf_counter()
            shown = coloured(scene, 0, look)
            print(f"  {name}: colours in {(time.perf_counter() - begun) * 1e3:.0f} ms")
            moved, still = flat_frames(shown, (width, height), asked.frames, marks)
            print("    flat, pan                   ", moved)
            print("    flat, shading only          ", still)
            moved, still = solid_frames(shown, (width, height), asked.frames, marks)
            print("    3D, turn                    ", moved)
            print("    3D, shading only            ", still)
        widget_frames(scene, (width, height), asked.frames)


if __name__ == "__main__":
    main()
