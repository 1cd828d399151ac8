"""The command line. Loads the window only when asked, and says expected failures in a sentence."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from evenweave import __version__
from evenweave.command import (
    advise,
    check,
    compare,
    improve,
    limits,
    notes,
    outlines,
    picture,
    prepare,
    samples,
)
from evenweave.command.line.terminal import complain
from evenweave.errors import EvenweaveError

COMMANDS = {"check": check, "advise": advise, "improve": improve, "compare": compare,
            "picture": picture, "outlines": outlines, "notes": notes, "limits": limits,
            "samples": samples, "prepare": prepare}  # fmt: skip
MEASURING = COMMANDS.keys() - {"limits", "notes", "samples"}
TROUBLE, INTERRUPTED, READER_GONE = 2, 130, 141

EXAMPLES = """\
examples:
  evenweave                          open the window
  evenweave lantern.obj              open the window on a mesh (OBJ, glTF, GLB, USD, PLY, COLLADA)
  evenweave check lantern.obj        say what is wrong with its layouts
  evenweave advise lantern.obj       say what could be done about them
  evenweave compare old.obj new.obj  say what changed from one pass to the next
  evenweave check --help             the options of a command
"""


def program() -> NoReturn:
    """Run the program and end the process with its exit code."""
    code = main()
    if sys.argv[1:2] and sys.argv[1] in COMMANDS:
        # A command is done here; taking compiled code and large arrays apart would only take time.
        sys.stderr.flush()
        os._exit(code)
    sys.exit(code)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    try:
        code = _run(arguments)
        sys.stdout.flush()
        return code
    except EvenweaveError as problem:
        complain(str(problem))
        return TROUBLE
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Nobody reads any more; keep the interpreter from saying so at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return READER_GONE


def _run(arguments: list[str]) -> int:
    if not arguments or not (arguments[0] in COMMANDS or arguments[0].startswith("-")):
        return _window(arguments)
    parsed = _parser().parse_args(arguments)
    run_command: Callable[[argparse.Namespace], int] | None = getattr(parsed, "run", None)
    if run_command is None:
        return _window([])
    if arguments[0] in MEASURING:
        from evenweave import lean_memory, lean_numba

        lean_memory.give_back()
        lean_numba.load()
    return run_command(parsed)


def _window(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="evenweave")
    parser.add_argument("file", nargs="?", type=Path, metavar="FILE")
    path = parser.parse_args(arguments).file
    if path is not None and _is_no_file(path):
        close = get_close_matches(str(path), COMMANDS, n=1)
        hint = f"did you mean {close[0]}?" if close else "evenweave --help lists the commands."
        complain(f"{path} is neither a command nor a file; {hint}")
        return TROUBLE
    from evenweave.window.shell.application import run

    return run(path)


def _is_no_file(path: Path) -> bool:
    """Tell whether a word is none that a window could open or say something about."""
    return len(path.parts) == 1 and not path.suffix and not path.exists()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="evenweave",
        usage="evenweave [FILE]\n       evenweave COMMAND ...",
        description="Look at UV layouts: stretch, texel density, overlap and padding, island by "
        "island, with an explanation of every warning.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"evenweave {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", prog="evenweave")
    for command in COMMANDS.values():
        command.add(commands)
    return parser
