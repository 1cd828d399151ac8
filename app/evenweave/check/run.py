"""Put every check to one layout."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenweave.arrays import FloatArray, frozen
from evenweave.check.catalogue import CHECKS
from evenweave.check.finding import Finding, Severity
from evenweave.check.rules.place import TILING_HINT
from evenweave.check.subject import Check, Hit, Subject
from evenweave.check.texts import explain


def judge(subject: Subject) -> tuple[Finding, ...]:
    """Return the layout's warnings, gravest first, then in the catalogue's order."""
    found = [
        _finding(check, finding, subject)
        for check in _asked(subject)
        for finding in check.find(subject)
    ]
    return tuple(sorted(found, key=lambda finding: -finding.severity))


def _asked(subject: Subject) -> Iterator[Check]:
    """Yield the checks that mean something here and are not switched off.

    Of a layout that looks like a tiling texture only that is said, not every fault of place.
    """
    for check in CHECKS:
        if subject.limits.severity_of(check.id) == "off":
            continue
        has_own_place = subject.purpose == "unique" and not subject.looks_tiling
        if has_own_place or not check.needs_own_place or check is TILING_HINT:
            yield check


def _finding(check: Check, finding: Hit, subject: Subject) -> Finding:
    word = subject.limits.severity_of(check.id)
    own = check.severity if finding.severity is None else finding.severity
    text = explain(check.id, finding)
    return Finding(
        check=check.id,
        severity=Severity[word.upper()] if word else own,
        islands=finding.islands,
        worst=finding.worst,
        value=finding.value,
        limit=finding.limit,
        unit=check.unit,
        points=_measurable(finding.points),
        segments=_measurable(finding.segments),
        faces=frozen(finding.faces),
        values=frozen(finding.values),
        title=text.title,
        what=text.what,
        why=text.why,
        do=text.do,
        how=text.how,
        variant=finding.variant.removesuffix("many").rstrip("_"),
    )


def _measurable(places: FloatArray) -> FloatArray:
    """Leave out places that are no numbers: what was not found cannot be shown."""
    return frozen(places[np.isfinite(places).all(axis=tuple(range(1, places.ndim)))])
