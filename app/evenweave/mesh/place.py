"""`Place`: where in a file something stands, and the problem found there."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from evenweave.errors import FileProblem

EXPORT_AGAIN = "export it again"


@dataclass(frozen=True)
class Place:
    """A place in a file, in words that grow from the whole to the part.

    >>> roof = Place(Path("house.glb")).at("mesh 'roof'").at("primitive 0")
    >>> str(roof.problem("no positions", "export it again"))
    "house.glb, mesh 'roof', primitive 0: no positions; export it again."
    """

    path: Path
    words: str = ""

    def at(self, words: str) -> Place:
        """Return the place named by the words inside this one."""
        return Place(self.path, f"{self.words}, {words}" if self.words else words)

    def problem(self, cause: str, remedy: str = EXPORT_AGAIN) -> FileProblem:
        """Return the problem at this place, ready to be raised."""
        return FileProblem(self.path, self.words, cause, remedy)
