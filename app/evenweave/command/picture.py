"""`evenweave picture`: a picture of a layout or of the object, without a window."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.command.line.options import add_options, dots_per_inch, picture_size
from evenweave.raster.look import COLOURS, Look

if TYPE_CHECKING:
    from evenweave.notes.waiving import JudgedFinding
    from evenweave.picture.lettering.pins import Pin
    from evenweave.pipeline import Review

EXAMPLES = """\
examples:
  evenweave picture lantern.obj --show density --output density.png
  evenweave picture lantern.obj --view flat --checker --size 3840x2160 --output checker.png
  evenweave picture lantern.obj --layout glass --show stretch --output glass.png
  evenweave picture lantern.obj --notes --marks --dpi 300 --output review.png
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "picture",
        help="save a picture of a layout as PNG",
        description="Save a picture of one layout, flat or on the object, with title, legend "
        "and scale.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the mesh")
    parser.add_argument(
        "--output", type=Path, required=True, metavar="PATH.png", help="the picture to write"
    )
    parser.add_argument(
        "--show",
        choices=COLOURS,
        default="density",
        metavar="WHAT",
        help=f"what the colours show: {', '.join(COLOURS)} (default: density)",
    )
    parser.add_argument(
        "--view",
        choices=("flat", "solid", "both"),
        default="both",
        help="the flat layout, the object, or both side by side (default: both)",
    )
    _add_drawing(parser)
    parser.add_argument(
        "--layout", metavar="NAME", help="name or number of the layout (default: the first)"
    )
    parser.add_argument(
        "--size",
        type=picture_size,
        default=(1920, 1080),
        metavar="WxH",
        help="size of the picture in pixels (default: 1920x1080)",
    )
    parser.add_argument(
        "--notes",
        action="store_true",
        help="pin the notes kept beside the mesh, with their texts",
    )
    parser.add_argument(
        "--marks",
        action="store_true",
        help="point at every open warning's place, with its title; waived ones are listed below",
    )
    parser.add_argument(
        "--dpi",
        type=dots_per_inch,
        metavar="DPI",
        help="dots per inch written into the picture, for printing",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def _add_drawing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--checker", action="store_true", help="draw the checker on it")
    parser.add_argument("--ellipses", action="store_true", help="draw ellipses of distortion")
    parser.add_argument("--edges", action="store_true", help="draw the edges of all faces")
    parser.add_argument(
        "--mip",
        type=int,
        choices=range(15),
        metavar="K",
        help="draw the texel blocks of mip level K; those that hold several islands are crossed",
    )
    parser.add_argument(
        "--halos", action="store_true", help="draw the required padding and margin round islands"
    )
    parser.add_argument(
        "--seam-kinds",
        action="store_true",
        help="tell seams apart: hard edges without a seam, seams on flat ground, edges of more "
        "than two faces",
    )


def run(arguments: argparse.Namespace) -> int:
    """Draw, write, and return the exit code."""
    from evenweave.command.line.opening import (
        chosen_layout,
        opened,
        refuse_other_than_png,
        refuse_overwriting,
    )
    from evenweave.command.line.waivers import waiving_beside
    from evenweave.picture.pictures import PictureOptions, picture, write_png

    refuse_overwriting(arguments.output, [arguments.file])
    refuse_other_than_png(arguments.output)
    done = opened(arguments).review
    width, height = arguments.size
    look = Look(
        colours=arguments.show,
        checker=arguments.checker,
        ellipses=arguments.ellipses,
        edges=arguments.edges,
        mip=arguments.mip,
        halos=arguments.halos,
        seam_kinds=arguments.seam_kinds,
    )
    layout = chosen_layout(done, arguments.layout)
    findings = waiving_beside(arguments.file, done).layouts[layout]
    options = PictureOptions(
        layout=layout,
        view=arguments.view,
        look=look,
        width=width,
        height=height,
        pins=_pins(arguments, done, layout, findings),
        findings=findings,
    )
    write_png(arguments.output, picture(done, options), dpi=arguments.dpi)
    return 0


def _pins(
    arguments: argparse.Namespace,
    review: Review,
    layout: int,
    findings: tuple[JudgedFinding, ...],
) -> tuple[Pin, ...]:
    from evenweave.notes.locating import Finder
    from evenweave.notes.notes_file import notes_path, read_notes
    from evenweave.picture.lettering.pins import finding_pins, note_pins

    pins: tuple[Pin, ...] = ()
    if arguments.notes:
        store = read_notes(notes_path(arguments.file))
        found = Finder([one.layout for one in review.layouts]).notes(store.notes)
        pins += note_pins(found, layout, labels=True)
    if arguments.marks:
        is_open = [one.finding for one in findings if not one.is_waived]
        pins += finding_pins(review.layouts[layout], is_open, labels=True)
    return pins
