"""Put every check to one layout."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from evenweave.arrays import FloatArray, frozen
from evenweave.check.catalogue import CHECKS, all_checks
from evenweave.check.finding import Finding, Severity
from evenweave.check.own import OWN_CHECK, failure, not_asked
from evenweave.check.rules.place import TILING_HINT
from evenweave.check.subject import Check, Hit, Subject
from evenweave.check.texts import explain


def judge(subject: Subject) -> tuple[Finding, ...]:
    """Return the layout's warnings, gravest first, then in the catalogue's order."""
    found = [finding for check in _asked(subject) for finding in _answers(check, subject)]
    return tuple(sorted(found, key=lambda finding: -finding.severity))


def _answers(check: Check, subject: Subject) -> list[Finding]:
    """Ask one check. A mistake in one that others wrote is told and ends nothing else."""
    if check in CHECKS:
        return [_finding(check, hit, subject) for hit in check.find(subject)]
    try:
        return [_finding(check, hit, subject) for hit in check.find(subject)]
    except Exception as error:
        return [_finding(OWN_CHECK, not_asked(check.id, failure(error)), subject)]


def _asked(subject: Subject) -> Iterator[Check]:
    """Yield the checks that mean something here and are not switched off.

    Of a layout that looks like a tiling texture only that is said, not every fault of place.
    Lightmaps are asked for places, not for what textures and normal maps need.
    """
    for check in all_checks():
        if subject.limits.severity_of(check.id) == "off":
            continue
        if subject.is_lightmap and not check.of_lightmaps:
            continue
        has_own_place = subject.purpose == "unique" and not subject.looks_tiling
        if has_own_place or not check.needs_own_place or check is TILING_HINT:
            yield check


def _finding(check: Check, hit: Hit, subject: Subject) -> Finding:
    word = subject.limits.severity_of(check.id)
    own = check.severity if hit.severity is None else hit.severity
    text = explain(check.id, hit)
    return Finding(
        check=check.id,
        severity=Severity[word.upper()] if word else own,
        islands=hit.islands,
        worst=hit.worst,
        value=hit.value,
        limit=hit.limit,
        unit=check.unit,
        points=_measurable(hit.points),
        segments=_measurable(hit.segments),
        faces=frozen(hit.faces),
        values=frozen(hit.values),
        title=text.title,
        what=text.what,
        why=text.why,
        do=text.do,
        how=text.how,
        variant=hit.variant.removesuffix("many").rstrip("_"),
    )


def _measurable(places: FloatArray) -> FloatArray:
    """Leave out places that are no numbers: what was not found cannot be shown."""
    return frozen(places[np.isfinite(places).all(axis=tuple(range(1, places.ndim)))])
