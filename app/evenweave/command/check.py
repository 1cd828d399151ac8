"""`evenweave check`: measure, judge and say what was found, without a window."""

from __future__ import annotations

import argparse
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.check.warning import Severity
from evenweave.command.options import add_options
from evenweave.command.terminal import complain, deliver
from evenweave.errors import EvenweaveError, FileProblem

if TYPE_CHECKING:
    from evenweave.limits_file import FoundLimits
    from evenweave.report.machine import Outcome

FOUND, UNREAD = 1, 2

EXAMPLES = """\
examples:
  evenweave check lantern.obj
  evenweave check lantern.obj --explain
  evenweave check *.glb --tile 4096 --density 1024 --fail-on warning
  evenweave check assets/*.usd --format json --output result.json

exit code:
  0  nothing as grave as --fail-on was found
  1  something was
  2  a file could not be read (the others are still judged), or the command is wrong
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "check",
        help="measure and judge files, as text, JSON or CSV",
        description="Measure and judge the UV layouts of meshes, without a window.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE", help="meshes to look at")
    parser.add_argument(
        "--format",
        choices=("text", "json", "csv"),
        default="text",
        help="text for people, json for programs, csv for tables of islands (default: text)",
    )
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="write to a file instead of the terminal"
    )
    parser.add_argument(
        "--fail-on",
        choices=tuple(severity.name.lower() for severity in Severity),
        default="fault",
        metavar="LEVEL",
        help="exit with 1 if a note, warning or fault is found (default: fault)",
    )
    parser.add_argument(
        "--explain",
        action="store_true",
        help="in text, also say why each finding matters, what to do, and how it was measured",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Judge every file, deliver the result, and return the exit code."""
    from evenweave.command.opening import given_limits, refuse_overwriting

    refuse_overwriting(arguments.output, arguments.files)
    given = given_limits(arguments)
    piece, whole = _format(arguments)
    pieces, codes = [], [0]
    for path in arguments.files:
        # Only the piece is kept: reviews of a whole library would not fit into memory.
        outcome = _opened(path, arguments, given)
        pieces.append(piece(outcome))
        codes.append(_code(outcome, Severity[arguments.fail_on.upper()]))
        if outcome.problem is not None and (arguments.format != "text" or arguments.output):
            complain(str(outcome.problem))
    deliver(whole(pieces), arguments.output)
    return max(codes)


def _opened(path: Path, arguments: argparse.Namespace, given: FoundLimits | None) -> Outcome:
    """Open one of many files: a bug met in one is shown, and the others are still done."""
    from evenweave.command.opening import open_file
    from evenweave.report.machine import Outcome

    try:
        return open_file(path, arguments, given)
    except EvenweaveError:
        raise
    except Exception:
        traceback.print_exc()
        cause = "it met a mistake in Evenweave itself"
        problem = FileProblem(path, "", cause, "report it together with the lines on stderr")
        return Outcome(path, problem=problem)


def _format(
    arguments: argparse.Namespace,
) -> tuple[Callable[[Outcome], Any], Callable[[list[Any]], str]]:
    """Return what is made of each file, and what puts those together."""
    from evenweave.report import machine, table, text

    if arguments.format == "text":
        return lambda one: text.file_text(one, is_full=arguments.explain), text.report_text
    whole = machine.result_text if arguments.format == "json" else table.table_text
    return machine.file_result, whole


def _code(outcome: Outcome, level: Severity) -> int:
    if outcome.review is None:
        return UNREAD
    worst = outcome.review.worst_severity
    return FOUND if worst is not None and worst >= level else 0
