"""`evenweave improve`: try fixes on a copy and save it, without a window."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evenweave.check.numbers import counted, printable
from evenweave.command.line.options import add_options
from evenweave.command.line.terminal import deliver

if TYPE_CHECKING:
    from evenweave.pipeline import LayoutReview, Review
    from evenweave.trial.jobs import Tried
    from evenweave.trial.reseam import Act
    from evenweave.trial.safe.options import FixOptions
    from evenweave.trial.save.save import Saved

NOTHING_TO_DO = 1
LONGEST_SECONDS = 3600.0
MORE_OVERLAP = 1.5  # times as much as before, from which more islands lie on others

EXAMPLES = """\
examples:
  evenweave improve lantern.obj -o lantern_better.obj
  evenweave improve lantern.glb -o lantern_packed.glb --level --pack --seconds 20
  evenweave improve lantern.obj -o lantern_cut.obj --sew --cut --pack

Without any step named, everything safe is done that the findings ask for. Steps are done in the
order in which they are listed. Sewing and cutting move seams, which is an artist's decision: they
are done only when named. Any of them may leave islands lying on others unless --pack follows.
Only texture coordinates differ in the copy; the file itself is never changed.

exit code:
  0  a copy was saved
  1  there was nothing to do, and no copy was saved
  2  it could not be done, or the command is wrong
"""


def add(commands: Any) -> None:
    """Add this command's parser."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "improve",
        help="save a copy with islands sewn, cut, unwrapped again, straightened, levelled, packed",
        description="Improve the UV layouts of a mesh, and save a copy (OBJ, glTF, GLB or USD) in "
        "which only texture coordinates differ.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="mesh to improve")
    parser.add_argument(
        "-o", "--output", type=Path, metavar="NEW", required=True, help="the copy, a new file"
    )
    parser.add_argument(
        "--replace", action="store_true", help="replace NEW where it exists; never FILE"
    )
    steps = parser.add_argument_group("what is done")
    for name, text in (
        ("safe", "everything safe that the findings ask for (default)"),
        ("sew", "sew stragglers to the islands they were cut from"),
        ("cut", "cut islands open, as advised, that their seams do not let lie well"),
        ("unwrap", "unwrap islands again where the same seams allow much better"),
        ("straighten", "straighten bowed strips where it costs little stretch"),
        ("level", "give every island the density its importance deserves"),
        ("pack", "place all islands anew, with the wished padding and margin"),
    ):
        steps.add_argument(f"--{name}", action="store_true", help=text)
    steps.add_argument(
        "--seconds",
        type=seconds,
        default=3.0,
        metavar="N",
        help="time to look for a packing of each layout (default: 3)",
    )
    add_options(parser)
    parser.set_defaults(run=run)


def seconds(text: str) -> float:
    """Return a time above 0."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if 0 < value <= LONGEST_SECONDS:
        return value
    raise argparse.ArgumentTypeError(
        f"{text!r} must be a number above 0, at most {LONGEST_SECONDS:g}"
    )


def run(arguments: argparse.Namespace) -> int:
    """Improve, save, tell the numbers before and after, and return the exit code."""
    from evenweave.command.line.opening import opened
    from evenweave.command.line.terminal import ProgressLine
    from evenweave.progress import within
    from evenweave.trial.document import document
    from evenweave.trial.jobs import Tried
    from evenweave.trial.reseam import reseamed
    from evenweave.trial.safe.fixes import fix_safely
    from evenweave.trial.save.save import refuse_target, save_copy
    from evenweave.trial.work.worker import Worker

    before = opened(arguments).review
    refuse_target(before.asset, arguments.output, replace=arguments.replace)
    progress = ProgressLine(arguments.file.name)
    saved = None
    try:
        with Worker() as worker:
            acts = _acts(arguments)
            seams = reseamed(document.begin(before), worker, acts, within(progress, 0.0, 0.4))
            fixed = seams
            if options := _options(arguments):
                own = within(progress, 0.4 if acts else 0.0, 0.9)
                rest = fix_safely(seams.trial, worker, options=options, progress=own)
                said = dict.fromkeys((*seams.said, *rest.said))
                fixed = Tried(rest.trial, tuple(said))
            if worker.late:
                late = f"{counted(worker.late, 'question')} given up: the machine is too busy."
                fixed = Tried(fixed.trial, (*fixed.said, late))
        if fixed.trial.steps:
            saved = save_copy(
                before.asset,
                fixed.trial.asset,
                arguments.output,
                replace=arguments.replace,
                progress=within(progress, 0.9, 1.0),
            )
    finally:
        progress.clear()
    lines = [*_lines(before, fixed), "", *_hint(arguments, before, fixed), *_outcome(saved)]
    deliver("\n".join(lines) + "\n", None)
    return 0 if saved else NOTHING_TO_DO


def _acts(arguments: argparse.Namespace) -> list[Act]:
    """Return what is to be done to seams."""
    from evenweave.trial.reseam import cut_where_needed, sew_fragments

    acts = (arguments.sew, sew_fragments), (arguments.cut, cut_where_needed)
    return [act for is_named, act in acts if is_named]


def _options(arguments: argparse.Namespace) -> Callable[[LayoutReview], FixOptions] | None:
    """Return what else is to be done to each layout, None where only seams are."""
    from evenweave.trial.safe.options import FixOptions, Placing, asked_for

    steps = arguments.unwrap, arguments.straighten, arguments.level, arguments.pack
    if arguments.safe or not any((*steps, arguments.sew, arguments.cut)):
        return lambda judged: asked_for(judged, arguments.seconds)
    if not any(steps):
        return None
    options = FixOptions(
        unwrap=arguments.unwrap,
        straighten=arguments.straighten,
        level=arguments.level,
        pack=Placing.ALWAYS if arguments.pack else Placing.NEVER,
        is_guarded=False,
        seconds=arguments.seconds,
    )
    return lambda judged: options


def _lines(before: Review, fixed: Tried) -> Iterator[str]:
    from evenweave.command.line.waivers import waiving_beside
    from evenweave.notes.store import NoteStore
    from evenweave.notes.waiving import apply_waivers
    from evenweave.trial.document.change import open_changes

    yield printable(str(before.asset.path))
    for one in fixed.said:
        yield f"  {printable(one)}"
    after = fixed.trial.review
    waived = waiving_beside(before.asset.path, before)
    judged = waived, apply_waivers(after, NoteStore(waivers=waived.waivers))
    for number in fixed.trial.changed_layouts:
        old, new = before.layouts[number], after.layouts[number]
        yield ""
        yield f"  {printable(old.layout.name) or 'no material':<22}{'before':>16}{'after':>16}"
        stands = judged[0].layouts[number], judged[1].layouts[number]
        for row in open_changes(old, new, stands):
            told = {1: "  better", -1: "  worse"}.get(row.gain, "")
            yield "    {:<20}{:>16}{:>16}".format(row.label, *row.words()) + told


def _hint(arguments: argparse.Namespace, before: Review, fixed: Tried) -> Iterator[str]:
    """Say that islands lie on others, where nothing was asked for that parts them."""
    areas = [
        sum(one.measures.overlap.area_px for one in done.layouts)
        for done in (before, fixed.trial.review)
    ]
    if fixed.trial.steps and not arguments.pack and areas[1] > MORE_OVERLAP * areas[0]:
        yield "  Islands lie on others that did not before; --pack places them anew."


def _outcome(saved: Saved | None) -> Iterator[str]:
    if saved is None:
        yield "There was nothing to do; no copy was saved."
        return
    for caveat in saved.caveats:
        yield f"  {caveat}"
    also = f" and {counted(len(saved.files) - 1, 'file')} beside it" if len(saved.files) > 1 else ""
    yield f"Saved {printable(str(saved.files[0]))}{also}, read back and compared."
