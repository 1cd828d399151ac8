"""The verdict on an island: numbers in, one or two words of the trade out."""

from __future__ import annotations

from enum import StrEnum

from evenweave.trial.flatten.attainable import Attainable
from evenweave.trial.flatten.energy import Energy

LEAST_GAIN = 0.01  # energy
FOLDED_SHARE = 0.25  # of the surface flipped, from which an island has no one handedness
GAIN_SHARE = 0.3  # of the present excess
SEAM_EXCESS = 0.02  # energy above 1 from which another seam is asked for
SEAM_SHARE = 0.4  # of the excess, that the best cut must remove
HOPELESS_EXCESS = 0.5  # of energy, above which unwrapping again leads nowhere


class Verdict(StrEnum):
    """What is to be done to an island."""

    GOOD = "as good as these seams allow"
    UNWRAP = "unwrap again"
    SEAM = "needs another seam"
    MIRRORED = "mirrored"


def wants_cut(attainable: Attainable) -> bool:
    """Tell whether it is worth to look for another seam."""
    best = attainable.energy_best
    return (
        best is None
        or best.flips > 0
        or best.value - 1 > SEAM_EXCESS
        or attainable.overlap_best > 0
    )


def verdicts(attainable: Attainable, after_cut: Energy | None) -> tuple[Verdict, ...]:
    """Judge an island; gravest first, never empty.

    after_cut : energy with the best further seam, None if there is none or none was sought.
    `unwrap again` if flips or a self-overlap can go, or the gain in energy is more than 0.01
    and 30 % of the excess. `needs another seam` if the excess with these seams is above 0.02
    and the best cut removes 40 % of it, or where unwrapping again leads nowhere: the excess
    is above 0.5, or it lies on itself now and then, or parts of it stay flipped. `mirrored` is
    said besides.
    """
    said = []
    best = attainable.energy_best
    is_hopeless = best is None or best.flips > 0 or best.value - 1 > HOPELESS_EXCESS
    is_hopeless = is_hopeless or (attainable.overlap_now > 0 and attainable.overlap_best > 0)
    if is_hopeless or (wants_cut(attainable) and _helps(attainable, after_cut)):
        said.append(Verdict.SEAM)
    if _gains(attainable) and not is_hopeless:
        said.append(Verdict.UNWRAP)
    if attainable.energy_now.is_mirrored and attainable.energy_now.flipped_share < FOLDED_SHARE:
        said.append(Verdict.MIRRORED)
    return tuple(said) or (Verdict.GOOD,)


def _gains(attainable: Attainable) -> bool:
    if attainable.energy_best is None:
        return False
    if attainable.overlap_now > 0 and attainable.overlap_best == 0:
        return True
    return attainable.gain > max(LEAST_GAIN, GAIN_SHARE * (attainable.energy_now.value - 1))


def _helps(attainable: Attainable, after: Energy | None) -> bool:
    best = attainable.energy_best
    if after is None or after.flips:
        return False
    if best is None or best.flips or attainable.overlap_best > 0:
        return True
    return best.value - after.value >= SEAM_SHARE * (best.value - 1)
