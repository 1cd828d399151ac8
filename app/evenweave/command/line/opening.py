"""Opening meshes for a command, under the limits that hold for them."""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evenweave.command.line.terminal import ProgressLine
from evenweave.errors import FileProblem
from evenweave.limits.file import FoundLimits, discover, read_limits
from evenweave.limits.limits import Limits
from evenweave.mesh.asset import Asset, Unit
from evenweave.mesh.read import read
from evenweave.notes.notes_file import SUFFIX
from evenweave.notes.outcome import Outcome
from evenweave.pipeline import Grouping, Review, review
from evenweave.progress import within
from evenweave.writing import refuse_place


def given_limits(arguments: argparse.Namespace) -> FoundLimits | None:
    """Return the limits named on the command line, read once for all files."""
    if arguments.limits is None:
        return None
    return FoundLimits(read_limits(arguments.limits), arguments.limits)


def open_file(path: Path, arguments: argparse.Namespace, given: FoundLimits | None) -> Outcome:
    """Read and review one file. What keeps it from being read is in the outcome."""
    progress = ProgressLine(path.name)
    limits_path = given.path if given else None
    try:
        found = given or discover(path.parent)
        limits_path = found.path
        done = _review(path, arguments, _overridden(found.limits, arguments), progress)
        return Outcome(path, review=done, limits_path=limits_path)
    except FileProblem as problem:
        return Outcome(path, problem=problem, limits_path=limits_path)
    except MemoryError:
        cause = "it needs more memory than there is"
        much = FileProblem(path, "", cause, "close other programs or export it in pieces")
        return Outcome(path, problem=much, limits_path=limits_path)
    finally:
        progress.clear()


@dataclass(frozen=True, eq=False)
class Opened:
    """A file that could be read. limits_path : as in `Outcome`."""

    review: Review
    limits_path: Path | None


def opened(arguments: argparse.Namespace) -> Opened:
    """Read and review the one file of a command. Raises FileProblem."""
    outcome = open_file(arguments.file, arguments, given_limits(arguments))
    if outcome.review is None:
        assert outcome.problem is not None
        raise outcome.problem
    return Opened(outcome.review, outcome.limits_path)


def chosen_layout(review: Review, wanted: str | None) -> int:
    """Return the index of a layout named or numbered (from 1) on the command line.

    The first where none is asked for. Raises FileProblem.
    """
    names = [one.layout.name for one in review.layouts]
    if not names:
        raise FileProblem(review.asset.path, "", "it has no layout", "give a mesh with faces")
    if wanted is None:
        return 0
    if wanted in names:
        return names.index(wanted)
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    cause = f"there is no layout named {wanted}"
    raise FileProblem(review.asset.path, "", cause, f"it has {', '.join(names)}")


def _review(
    path: Path, arguments: argparse.Namespace, limits: Limits, progress: ProgressLine
) -> Review:
    asset = read(path, within(progress, 0.0, 0.4))
    if arguments.unit is not None:
        asset = replace(asset, unit=Unit(arguments.unit, is_stated=True))
    _refuse_unknown_uv_set(asset, arguments.uv_set)
    grouping = Grouping(uv_set=arguments.uv_set)
    return review(asset, limits, grouping, within(progress, 0.4, 1.0))


def _overridden(limits: Limits, arguments: argparse.Namespace) -> Limits:
    if arguments.tile is not None:
        width, height = arguments.tile
        limits = replace(limits, tile_width=width, tile_height=height, tile_from_texture=False)
    if arguments.density is not None:
        given = None if arguments.density == "median" else arguments.density
        limits = replace(limits, target_density=given)
    return limits


def _refuse_unknown_uv_set(asset: Asset, name: str | None) -> None:
    names = [one.name for one in asset.uv_sets]
    if name is None or name in names:
        return
    has = f"it has {', '.join(names)}" if names else "it has none"
    raise FileProblem(asset.path, "", f"there is no UV set named {name}", has)


def refuse_overwriting(output: Path | None, inputs: Sequence[Path]) -> None:
    """Raise FileProblem where nothing can be written, or where one of the inputs is.

    Inputs are never changed.
    """
    if output is None:
        return
    refuse_place(output)
    if not output.exists():
        return
    for path in inputs:
        if path.exists() and os.path.samefile(output, path):
            if path.name.endswith(SUFFIX):
                cause = "it is the notes file beside a mesh, which is only read here"
            else:
                cause = "it is the mesh that is read, and meshes are never changed"
            raise FileProblem(output, "", cause, "choose another name for the output")


def refuse_other_than_png(output: Path | None) -> None:
    """Raise FileProblem where the name of a picture promises another format."""
    if output is not None and output.suffix.lower() not in ("", ".png"):
        raise FileProblem(output, "", "pictures are written as PNG", "end its name with .png")
