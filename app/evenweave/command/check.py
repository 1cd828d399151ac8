"""`evenweave check`: measure, judge and say what was found, without a window."""

from __future__ import annotations

import argparse
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.check.finding import Severity
from evenweave.command.line.options import add_options, jobs
from evenweave.command.line.terminal import complain, deliver
from evenweave.errors import EvenweaveError, FileProblem

if TYPE_CHECKING:
    from evenweave.limits.file import FoundLimits
    from evenweave.notes.outcome import Outcome
    from evenweave.report.gate.gate import Gate, Judged

FOUND, UNREAD = 1, 2

EXAMPLES = """\
examples:
  evenweave check lantern.obj
  evenweave check lantern.obj --explain
  evenweave check *.glb --tile 4096 --density 1024 --fail-on warning
  evenweave check assets "props/**/*.usd" --format sarif --output evenweave.sarif
  evenweave check assets --format json --output known.json
  evenweave check assets --baseline known.json --fail-on warning --format junit --output out.xml

files:
  A folder stands for all meshes in and below it. Patterns with *, ? and ** are understood where
  the shell leaves them alone.

waivers:
  What is waived in the notes file beside a mesh (lantern.obj.evenweave-notes.json) is shown with
  its reason and counted apart in every format, and does not fail. A warning is waived where all
  of its islands are. Waivers whose value has got worse do not hold.

baseline:
  A warning is known where the earlier result names the same islands under the same check in the
  same layout, no less gravely; islands are told by name, else by their place in the texture.
  What was waived then and is open now is new.

exit code:
  0  nothing as grave as --fail-on is open (with --baseline: open and new)
  1  something is
  2  a file could not be read (the others are still judged), or the command is wrong
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "check",
        help="measure and judge files, as text, JSON, CSV, SARIF or JUnit XML",
        description="Measure and judge the UV layouts of meshes, without a window.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="meshes, patterns or folders"
    )
    parser.add_argument(
        "--format",
        choices=("text", "json", "csv", "sarif", "junit"),
        default="text",
        help="text for people, json for programs, csv for tables of islands, sarif and junit for "
        "build servers (default: text)",
    )
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="write to a file instead of the terminal"
    )
    parser.add_argument(
        "--fail-on",
        choices=tuple(severity.name.lower() for severity in Severity),
        default="fault",
        metavar="LEVEL",
        help="exit with 1 if a finding of this level or graver is open: note (a remark), "
        "warning or fault (default: fault)",
    )
    parser.add_argument(
        "--ignore-waivers",
        action="store_true",
        help="judge as if nothing were waived, whatever the notes beside the meshes say",
    )
    parser.add_argument(
        "--baseline",
        type=Path,
        metavar="OLD.json",
        help="an earlier result of --format json: fail only on what is not in it, or was waived in "
        "it and is open now",
    )
    parser.add_argument(
        "--explain",
        action="store_true",
        help="in text, also say why each finding matters, what to do, and how it was measured",
    )
    parser.add_argument(
        "--jobs",
        type=jobs,
        metavar="COUNT",
        help="files to judge at the same time (default: one a processor, where it is worth it)",
    )
    add_options(parser)
    parser.set_defaults(run=run)


@dataclass(frozen=True, eq=False)
class _Task:
    """One file to judge, as it is handed to a process."""

    path: Path
    arguments: argparse.Namespace
    given: FoundLimits | None
    gate: Gate


@dataclass(frozen=True, eq=False)
class _Answer:
    """What became of a file: its piece of the output, the exit code, and complaints."""

    piece: Any
    code: int
    problem: str
    notes_problem: str


def run(arguments: argparse.Namespace) -> int:
    """Judge every file, deliver the result, and return the exit code."""
    from evenweave.command.line.baseline import entry, read_baseline
    from evenweave.command.line.crew import answers, crew_size
    from evenweave.command.line.mesh_paths import mesh_paths
    from evenweave.command.line.opening import given_limits, refuse_overwriting
    from evenweave.notes.notes_file import notes_path
    from evenweave.report.gate.gate import Gate

    paths = mesh_paths(arguments.files)
    refuse_overwriting(arguments.output, [*paths, *map(notes_path, paths)])
    given = given_limits(arguments)
    known = read_baseline(arguments.baseline) if arguments.baseline else None
    level = Severity[arguments.fail_on.upper()]
    tasks = [
        _Task(path, arguments, given, Gate(level, known is not None, entry(known, path)))
        for path in paths
    ]
    done = answers(_answer, tasks, _lost, processes=crew_size(paths, arguments.jobs))
    for one in done:
        if one.problem and (arguments.format != "text" or arguments.output):
            complain(one.problem)
        if one.notes_problem:
            complain(one.notes_problem)
    deliver(_whole(arguments.format, [one.piece for one in done]), arguments.output)
    return max((one.code for one in done), default=0)


def _answer(task: _Task) -> _Answer:
    """Judge one file. Only its piece is kept: reviews of a whole library would not fit."""
    return _told(_opened(task.path, task.arguments, task.given), task)


def _lost(task: _Task) -> _Answer:
    """Answer for a file whose process ended: out of memory, most likely."""
    from evenweave.notes.outcome import Outcome

    cause = "its process ended before it was done"
    remedy = "there may be too little memory; use fewer --jobs or export it in pieces"
    return _told(Outcome(task.path, problem=FileProblem(task.path, "", cause, remedy)), task)


def _told(outcome: Outcome, task: _Task) -> _Answer:
    from evenweave.report.gate.gate import judged

    one = judged(outcome, task.gate)
    code = UNREAD if outcome.review is None else FOUND if one.is_failing else 0
    return _Answer(
        _piece(one, task.arguments),
        code,
        str(outcome.problem or ""),
        str(outcome.notes_problem or ""),
    )


def _opened(path: Path, arguments: argparse.Namespace, given: FoundLimits | None) -> Outcome:
    """Open one of many files: a bug met in one is shown, and the others are still done."""
    from evenweave.command.line.opening import open_file
    from evenweave.command.line.waivers import with_waivers
    from evenweave.notes.outcome import Outcome

    try:
        outcome = open_file(path, arguments, given)
        return outcome if arguments.ignore_waivers else with_waivers(outcome)
    except EvenweaveError:
        raise
    except Exception:
        traceback.print_exc()
        cause = "it met a mistake in Evenweave itself"
        problem = FileProblem(path, "", cause, "report it together with the lines on stderr")
        return Outcome(path, problem=problem)


def _piece(judged: Judged, arguments: argparse.Namespace) -> Any:
    """Return what is made of each file."""
    from evenweave.report.gate import gated

    match arguments.format:
        case "text":
            return gated.file_text(judged, is_full=arguments.explain)
        case "sarif":
            from evenweave.report.build_server.sarif import file_part

            return file_part(judged)
        case "junit":
            from evenweave.report.build_server.junit import suite

            return suite(judged)
        case _:
            return gated.file_result(judged)


def _whole(kind: str, pieces: list[Any]) -> str:
    """Put the pieces of all files together."""
    from evenweave.report.build_server import junit, sarif
    from evenweave.report.machine import machine, table
    from evenweave.report.text import text

    match kind:
        case "json":
            return machine.result_text(pieces)
        case "csv":
            return table.table_text(pieces)
        case "sarif":
            return sarif.sarif_text(pieces)
        case "junit":
            return junit.junit_text(pieces)
        case _:
            return text.report_text(pieces)
