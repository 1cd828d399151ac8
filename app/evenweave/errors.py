"""One family of expected failures. Each carries its data; its sentence is made in `__str__`.

An expected failure reaches the user as that one sentence. Anything else is a bug and
keeps its traceback.
"""

from __future__ import annotations

from pathlib import Path


class EvenweaveError(Exception):
    """An expected failure that a person can understand and act on."""


class FileProblem(EvenweaveError):
    """A file could not be read or written.

    ``place`` says where in the file ("line 12", "mesh 'roof', accessor 3"; "" for the file
    as a whole), ``cause`` what is wrong, ``remedy`` what to do. All are phrases without
    closing full stop. All arguments are positional so that the exception survives pickling.
    """

    def __init__(self, path: Path | str, place: str, cause: str, remedy: str) -> None:
        super().__init__(str(path), place, cause, remedy)
        self.path = str(path)
        self.place = place
        self.cause = cause
        self.remedy = remedy

    def __str__(self) -> str:
        name = Path(self.path).name or self.path
        where = f"{name}, {self.place}" if self.place else name
        return f"{where}: {self.cause}; {self.remedy}."


class SettingsProblem(FileProblem):
    """A limits file or a saved setting cannot be used."""


class Cancelled(EvenweaveError):
    """The user asked for the work to stop."""

    def __str__(self) -> str:
        return "Cancelled."
