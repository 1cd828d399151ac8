"""Names for parts and materials: short, printable and distinct."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable


def cleaned(name: str) -> str:
    """Return the name with what cannot be shown or encoded replaced by "?" or a space."""
    encodable = name.encode("utf-8", "replace").decode("utf-8")
    return "".join(c if c.isprintable() else " " for c in encodable).strip()


class Distinct:
    """Gives every name once: the second "wheel" becomes "wheel 2"."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._uses: Counter[str] = Counter()

    def __call__(self, name: str) -> str:
        """Return the name, or the name with the first free number behind it."""
        candidate = name
        while candidate in self._taken:
            self._uses[name] += 1
            candidate = f"{name} {self._uses[name] + 1}"
        self._taken.add(candidate)
        return candidate


def shortest_distinct(paths: Iterable[str]) -> dict[str, str]:
    """Name each path of a hierarchy by as few of its last steps as keep it distinct.

    >>> shortest_distinct(["/set/door/panel", "/set/roof/panel", "/set/roof/ridge"])
    {'/set/door/panel': 'door/panel', '/set/roof/panel': 'roof/panel', '/set/roof/ridge': 'ridge'}
    """
    steps = {path: [step for step in path.split("/") if step] for path in paths}
    kept = dict.fromkeys(steps, 1)
    while True:
        names = {path: "/".join(steps[path][-kept[path] :]) for path in steps}
        sharing: defaultdict[str, list[str]] = defaultdict(list)
        for path, name in names.items():
            sharing[name].append(path)
        longer = [
            path
            for group in sharing.values()
            if len(group) > 1
            for path in group
            if kept[path] < len(steps[path])
        ]
        if not longer:
            return names
        for path in longer:
            kept[path] += 1
