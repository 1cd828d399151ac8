"""Compile every kernel ahead of time, so that the first mesh opens as fast as the next.

Compiled kernels are kept on disk; running this again takes well under a second.
"""

from __future__ import annotations

from dataclasses import replace

from evenweave.limits import Limits
from evenweave.mesh.read import read
from evenweave.places import sample_assets
from evenweave.progress import Progress, silent, within
from evenweave.raster.look import COLOURS, Look
from evenweave.report.pictures import PictureWish, picture
from evenweave.review import review


def warm(progress: Progress = silent) -> None:
    """Read, review and draw a bundled asset: that runs, and so compiles, every kernel."""
    progress(0.0, "reading")
    asset = read(sample_assets() / "lantern_first_pass.obj", within(progress, 0.0, 0.2))
    result = review(asset, Limits(), progress=within(progress, 0.2, 0.7))
    progress(0.7, "drawing")
    look = Look(checker=True, edges=True, ellipses=True)
    for colours in COLOURS:
        wish = PictureWish(look=replace(look, colours=colours), width=480, height=360)
        picture(result, wish)
    progress(1.0, "ready")
