"""`evenweave advise`: what could be done about a mesh's layouts, without a window."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from evenweave.command.line.options import add_options
from evenweave.command.line.terminal import deliver

MOST_ISLANDS = 20

EXAMPLES = """\
examples:
  evenweave advise lantern.obj
  evenweave advise lantern.obj --islands 5
  evenweave advise lantern.glb --json --output advice.json

exit code:
  0  advice was given
  2  the file could not be read, or the command is wrong
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "advise",
        help="say what could be done: unwrap again, cut, sew, straighten, level, pack",
        description="Say of each island whether it is as good as its seams allow, needs unwrapping "
        "again or another seam; what to sew and straighten, and how full the tile could be.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="mesh to look at")
    parser.add_argument(
        "--format",
        choices=("text", "json"),
        default="text",
        help="text for people, json for programs (default: text)",
    )
    parser.add_argument(
        "--json", dest="format", action="store_const", const="json", help="same as --format json"
    )
    parser.add_argument(
        "--islands",
        type=count,
        default=MOST_ISLANDS,
        metavar="N",
        help=f"islands of each layout to advise on, worst first (default: {MOST_ISLANDS})",
    )
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="write to a file instead of the terminal"
    )
    add_options(parser)
    parser.set_defaults(run=run)


def count(text: str) -> int:
    """Return a whole number from 1."""
    if text.isdecimal() and 1 <= int(text) <= 1_000_000:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} must be a whole number from 1")


def run(arguments: argparse.Namespace) -> int:
    """Advise, deliver the result, and return the exit code."""
    from evenweave.command.advice_report import advice_json, advice_lines
    from evenweave.command.line.opening import opened, refuse_overwriting
    from evenweave.command.line.terminal import ProgressLine
    from evenweave.progress import within
    from evenweave.trial.advice.advice import worst_first
    from evenweave.trial.document.survey import survey
    from evenweave.trial.work.worker import Worker

    refuse_overwriting(arguments.output, [arguments.file])
    done = opened(arguments).review
    progress = ProgressLine(arguments.file.name)
    try:
        with Worker() as worker:
            surveys = [
                survey(
                    one,
                    done.limits,
                    worst_first(one)[: arguments.islands],
                    worker,
                    progress=within(progress, k / len(done.layouts), (k + 1) / len(done.layouts)),
                )
                for k, one in enumerate(done.layouts)
            ]
    finally:
        progress.clear()
    make = advice_json if arguments.format == "json" else advice_lines
    deliver(make(done, surveys), arguments.output)
    return 0
