"""Small loops and spikes of a closed boundary, which fits leave where they cross before they meet: cut off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve.arc_length import lengths
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.meetings import meetings_with_itself
from bias_drafting.curve.rings import Ring, met

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]

__all__ = ["without_loops"]

# Loops longer than so many tolerances are no accident of two fits.
_LONGEST: Final = 40.0
# Of the tolerance, lines so near each other meet.
_MEETING: Final = 1e-4


def without_loops(ring: Ring, tolerance: float) -> Ring:
    """Return a ring with its loops and spikes that are shorter than some tolerances cut off where they begin."""
    chain = build_chain(ring.controls, True)
    begin, length = _loops(chain, tolerance)
    return _kept(ring, chain, begin, length) if len(begin) else ring


def _loops(chain: Chain, tolerance: float) -> tuple[Array, Array]:
    """Return where short loops begin along a ring and how long they are; of those that overlap, the longest."""
    found = meetings_with_itself(chain, True, _MEETING * tolerance)
    pairs = [(point.s, point.other_s) for point in found.points]
    # Of a spike one end of the overlap is the tip, the other where it begins.
    pairs += [(over.s0, over.other_s0) for over in found.overlaps]
    pairs += [(over.s1, over.other_s1) for over in found.overlaps]
    one, other = np.array(pairs).reshape(-1, 2).T
    # Of the two ways round from one place to the other the shorter one is the loop.
    forth, back = (other - one) % chain.length, (one - other) % chain.length
    begin, length = np.where(forth <= back, one, other), np.minimum(forth, back)
    short = (length > 0) & (length < _LONGEST * tolerance)
    begin, length = begin[short], length[short]
    # Where two loops overlap, cutting off one takes away a place of the other: it is no loop any more.
    kept: list[int] = []
    for k in np.argsort(-length):
        after, before = ((x % chain.length) for x in (begin[k] - begin[kept], begin[kept] - begin[k]))
        if (after >= length[kept]).all() and (before >= length[k]).all():
            kept.append(int(k))
    return begin[kept], length[kept]


def _kept(ring: Ring, chain: Chain, begin: Array, length: Array) -> Ring:
    """Return what is left of a ring without stretches, from the end of each on to the beginning of the next."""
    order, around = np.argsort(begin), chain.length
    begin, finish = begin[order], (begin + length)[order]
    # A chain is split at cusps, so that it may have more pieces than the ring.
    middles = (chain.s[1:] + chain.s[:-1]) / 2
    side = ring.side[np.searchsorted(np.cumsum(lengths(ring.controls)[:-1]), middles)]
    parts, sides = [], []
    for a, b in zip(finish, np.append(begin[1:], begin[0] + around), strict=True):
        for low, high in ((a, min(b, around)), (max(a, around) - around, b - around)):
            if high > low:
                cubics, pieces = chain.between(low, high)
                parts.append(cubics)
                sides.append(side[pieces])
    return Ring(met(np.concatenate(parts), ring=True), np.concatenate(sides))
