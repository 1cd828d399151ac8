"""Options of the command line and what their values mean."""

from __future__ import annotations

import argparse
import math
import re
from pathlib import Path
from typing import Literal

from evenweave.limits.limits import LARGEST_TILE, complaint

MOST_JOBS = 64
LEAST_PICTURE, LARGEST_PICTURE = 320, 16384


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options that say how files are to be opened and judged."""
    group = parser.add_argument_group("how files are judged")
    group.add_argument(
        "--tile",
        type=tile,
        metavar="SIZE",
        help="size of one tile in texels, 2048 or 2048x1024",
    )
    group.add_argument(
        "--density",
        type=density,
        metavar="PX_PER_M",
        help="target density in texels per metre, or median",
    )
    group.add_argument(
        "--limits",
        type=Path,
        metavar="FILE.toml",
        help="limits to use; else evenweave.toml is looked for from the mesh's folder upward",
    )
    group.add_argument(
        "--uv-set", metavar="NAME", help="the UV set to look at; else those that textures read"
    )
    group.add_argument(
        "--unit",
        type=metres,
        metavar="METRES",
        help="length of one file unit in metres, 0.01 for centimetres",
    )


def tile(text: str) -> tuple[int, int]:
    """Return the width and height that "2048" or "2048x1024" mean."""
    told = re.fullmatch(r"(\d{1,6})(?:[xX×](\d{1,6}))?", text)
    if told:
        size = int(told[1]), int(told[2] or told[1])
        if all(1 <= side <= LARGEST_TILE for side in size):
            return size
    raise argparse.ArgumentTypeError(
        f"{text!r} is no size; write 2048 or 2048x1024, each from 1 to {LARGEST_TILE}"
    )


def density(text: str) -> float | Literal["median"]:
    """Return texels per metre, or "median"."""
    if text == "median":
        return "median"
    value = _number(text)
    if wrong := complaint("target_density", value):
        raise argparse.ArgumentTypeError(f"{text!r} {wrong}")
    return value


def metres(text: str) -> float:
    """Return the length of a unit."""
    value = _number(text)
    if not 0 < value < math.inf:
        raise argparse.ArgumentTypeError(f"{text!r} must be a number above 0")
    return value


def jobs(text: str) -> int:
    """Return how many files are to be worked on at once."""
    if text.isdecimal() and 1 <= int(text) <= MOST_JOBS:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} must be a whole number from 1 to {MOST_JOBS}")


def picture_size(text: str) -> tuple[int, int]:
    """Return the width and height that "1920x1080" means."""
    told = re.fullmatch(r"(\d{1,6})[xX×](\d{1,6})", text)
    if told:
        size = int(told[1]), int(told[2])
        if all(LEAST_PICTURE <= side <= LARGEST_PICTURE for side in size):
            return size
    raise argparse.ArgumentTypeError(
        f"{text!r} is no size; write 1920x1080, each from {LEAST_PICTURE} to {LARGEST_PICTURE}"
    )


def dots_per_inch(text: str) -> float:
    """Return dots per inch."""
    told = re.fullmatch(r"\d{1,5}", text)
    if told and 1 <= int(text) <= 9600:
        return float(text)
    raise argparse.ArgumentTypeError(f"{text!r} must be a whole number from 1 to 9600")


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan
