"""`evenweave compare`: two passes of one asset side by side, without a window."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.check.finding import Severity
from evenweave.command.line.options import add_options, picture_size
from evenweave.command.line.terminal import ProgressLine, deliver

if TYPE_CHECKING:
    from evenweave.limits.file import FoundLimits
    from evenweave.pipeline import Review

FOUND = 1

EXAMPLES = """\
examples:
  evenweave compare first.obj second.obj
  evenweave compare first.obj second.glb --format json --output changes.json
  evenweave compare first.obj second.obj --picture changes.png --fail-on warning

Both are judged under the limits that hold for NEW, so that a change of limits is no change of
the asset. Islands are matched by their surface: names, numbers and triangles may differ.
What is waived in the notes file beside NEW is listed apart and does not count.

exit code:
  0  nothing as grave as --fail-on is new
  1  something is, or is worse than before
  2  a file could not be read, or the command is wrong
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "compare",
        help="compare two passes of one asset",
        description="Say what became of each island and each warning from one pass of an asset "
        "to the next, and whether the next is better.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("old", type=Path, metavar="OLD", help="the earlier pass")
    parser.add_argument("new", type=Path, metavar="NEW", help="the later pass")
    parser.add_argument(
        "--format",
        choices=("text", "json"),
        default="text",
        help="text for people, json for programs (default: text)",
    )
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="write to a file instead of the terminal"
    )
    parser.add_argument(
        "--picture",
        type=Path,
        metavar="PATH.png",
        help="also draw both layouts side by side, coloured by what became of the islands",
    )
    parser.add_argument(
        "--layout",
        metavar="NAME",
        help="layout of the picture (default: the one that changed most)",
    )
    parser.add_argument(
        "--size",
        type=picture_size,
        default=(1920, 1080),
        metavar="WxH",
        help="size of the picture in pixels (default: 1920x1080)",
    )
    parser.add_argument(
        "--fail-on",
        choices=tuple(severity.name.lower() for severity in Severity),
        default="fault",
        metavar="LEVEL",
        help="exit with 1 if a new note, warning or fault is found (default: fault)",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Compare, deliver the result, and return the exit code."""
    from evenweave.command.line.opening import (
        given_limits,
        refuse_other_than_png,
        refuse_overwriting,
    )
    from evenweave.command.line.waivers import waiving_beside
    from evenweave.compare.comparison import compare
    from evenweave.compare.findings import is_against
    from evenweave.limits.file import discover
    from evenweave.report.machine.compare_waivers import apart

    for output in (arguments.output, arguments.picture):
        refuse_overwriting(output, [arguments.old, arguments.new])
    refuse_other_than_png(arguments.picture)
    limits = given_limits(arguments) or discover(arguments.new.parent)
    old, new = (_reviewed(path, arguments, limits) for path in (arguments.old, arguments.new))
    progress = ProgressLine("Comparing")
    try:
        whole = compare(old, new, progress)
    finally:
        progress.clear()
    result, waived = apart(whole, waiving_beside(arguments.new, new))
    if arguments.picture is not None:
        from evenweave.picture.difference import difference, layout_named
        from evenweave.picture.pictures import write_png

        layout = layout_named(result, arguments.layout)
        write_png(arguments.picture, difference(result, layout, *arguments.size))
    if arguments.format == "json":
        from evenweave.report.machine.comparison import comparison_text as machine_text

        text = machine_text(result, waived)
    else:
        from evenweave.report.text.comparison import comparison_text

        text = comparison_text(result, waived)
    deliver(text, arguments.output)
    level = Severity[arguments.fail_on.upper()]
    return FOUND if any(is_against(one, level) for one in result.findings) else 0


def _reviewed(path: Path, arguments: argparse.Namespace, limits: FoundLimits) -> Review:
    from evenweave.command.line.opening import open_file

    outcome = open_file(path, arguments, limits)
    if outcome.review is None:
        assert outcome.problem is not None
        raise outcome.problem
    return outcome.review
