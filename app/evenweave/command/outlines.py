"""`evenweave outlines`: UV outlines to paint over, as SVG or PNG, without a window."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.command.line.options import add_options
from evenweave.errors import FileProblem

if TYPE_CHECKING:
    from evenweave.pipeline import LayoutReview, Review

EXAMPLES = """\
examples:
  evenweave outlines lantern.obj --output lantern.svg
  evenweave outlines lantern.obj --layout glass --output glass.svg
  evenweave outlines lantern.obj --layout brass --tile 4096 --output brass.png

An SVG holds a group for each layout and in it a named path for each island; one unit is one
texel. A PNG is one layout at the size of a tile, on transparent ground. Where a layout uses
several UDIM tiles, each gets a PNG of its own: brass.1001.png, brass.1002.png.
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "outlines",
        help="save UV outlines to paint over, as SVG or PNG",
        description="Save the outlines of all islands, to paint over.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the mesh")
    parser.add_argument(
        "--output", type=Path, required=True, metavar="PATH.svg|.png", help="the file to write"
    )
    parser.add_argument(
        "--layout",
        metavar="NAME",
        help="name or number of the layout (default: all in an SVG, the first in a PNG)",
    )
    parser.add_argument(
        "--line",
        type=line_width,
        default=1.5,
        metavar="TEXELS",
        help="width of the lines in a PNG (default: 1.5)",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def line_width(text: str) -> float:
    """Return a width of lines in texels."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.5 <= value <= 64:
        raise argparse.ArgumentTypeError(f"{text!r} must be a number from 0.5 to 64")
    return value


def run(arguments: argparse.Namespace) -> int:
    """Draw, write, and return the exit code."""
    from evenweave.command.line.opening import chosen_layout, opened, refuse_overwriting

    refuse_overwriting(arguments.output, [arguments.file])
    kind = arguments.output.suffix.lower()
    if kind not in (".svg", ".png"):
        cause = "its name does not say what to write"
        raise FileProblem(arguments.output, "", cause, "end it with .svg or .png")
    done = opened(arguments).review
    index = chosen_layout(done, arguments.layout)
    is_one = kind == ".png" or arguments.layout is not None
    chosen = (done.layouts[index],) if is_one else done.layouts
    if not any(one.layout.island_count for one in chosen):
        name = f"the layout {chosen[0].layout.name or 'no material'}" if is_one else "it"
        cause = f"{name} has no UVs to outline"
        raise FileProblem(arguments.file, "", cause, "unwrap it first, or choose another")
    if kind == ".png":
        _write_png(arguments, done, chosen[0])
    else:
        _write_svg(arguments.output, done, chosen)
    return 0


def _write_svg(path: Path, review: Review, chosen: tuple[LayoutReview, ...]) -> None:
    from evenweave.picture.outlines import outlines_svg, painted_tiles
    from evenweave.writing import write_whole

    tiles = sorted({place for one in chosen for place in painted_tiles(one)})
    text = outlines_svg([one.layout for one in chosen], chosen[0].measures.tile, tiles)
    write_whole(path, text.encode("utf-8", "replace"))


def _write_png(arguments: argparse.Namespace, review: Review, layout_review: LayoutReview) -> None:
    from evenweave.command.line.opening import refuse_overwriting
    from evenweave.picture.outlines import outlines_picture, painted_tiles, tile_files
    from evenweave.picture.pictures import write_png

    for place, path in tile_files(arguments.output, painted_tiles(layout_review)).items():
        refuse_overwriting(path, [arguments.file])
        picture = outlines_picture(
            layout_review.layout, layout_review.measures.tile, place, line_px=arguments.line
        )
        write_png(path, picture)
