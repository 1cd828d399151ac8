"""What a picture to be exported shall show."""

from __future__ import annotations

from dataclasses import dataclass

VIEWS = ("flat", "solid", "both")
SIZES = ((1280, 720), (1920, 1080), (2560, 1440), (3840, 2160))
LEAST_SIDE, LARGEST_SIDE = 320, 8192


@dataclass(frozen=True)
class PictureWish:
    """view : one of VIEWS; width, height in pixels."""

    view: str = "both"
    width: int = 1920
    height: int = 1080
