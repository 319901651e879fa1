"""Parallel curves and bands, trimmed, to a stated tolerance.

A band is the cloth between the two parallel curves of a centreline. Where the centreline bends gently and keeps
clear of itself, its boundary is simply one parallel curve, an end, the other parallel curve, an end: that is done
here. Where it does not (a bend tighter than the half width, a corner, a loop, a hairpin), parts of the parallel
curves lie inside the band and must go: :mod:`bias_drafting.curve.trim` sees to that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.branches import FIT_SHARE, LEFT, RIGHT, STRAIGHT, Ring, met, sampled, signed_area
from bias_drafting.curve.curvature import sharpest_of_each
from bias_drafting.curve.offset_fit import fit_offsets
from bias_drafting.curve.trim import united_rings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.branches import Branch
    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]

__all__ = ["band_rings", "parallel_chains"]


def band_rings(chain: Chain, closed: bool, width: float, round_ends: bool, tolerance: float) -> list[Array]:
    """Return the boundary of the band of ``width`` round a chain: closed cubic chains, the outermost first.

    The outermost runs clockwise on the page, holes the other way. Ends of an open chain are cut square, or rounded.
    """
    return [ring.controls for ring in _rings(chain, closed, width / 2, round_ends, tolerance)]


def parallel_chains(
    chain: Chain, closed: bool, distance: float, tolerance: float
) -> list[tuple[Array, bool]]:
    """Return the trimmed parallel curve on one side: cubic chains along the direction of travel, and if closed."""
    side = RIGHT if distance > 0 else LEFT
    # A square end would let points pass that are nearer to the end than the distance; a round one does not.
    found: list[tuple[Array, bool]] = []
    for ring in _rings(chain, closed, abs(distance), True, tolerance):
        wanted = ring.side == side
        if wanted.all():
            found.append((ring.controls, True))
            continue
        edges = np.flatnonzero(wanted & ~np.roll(wanted, 1))
        for first in edges:
            length = int(np.argmin(np.roll(wanted, -first)))
            found.append((np.roll(ring.controls, -first, axis=0)[:length], False))
    # Rings keep the band on their right; so the left parallel curve runs with the curve, and the right against it.
    return [(cubics if side == LEFT else cubics[::-1, ::-1], whole) for cubics, whole in found]


def _rings(chain: Chain, closed: bool, half: float, round_ends: bool, tolerance: float) -> list[Ring]:
    rings = None
    if (closed or not round_ends) and _bends_within(chain, half):
        rings = _plain_rings(chain, closed, half, tolerance)
    if rings is None:
        rings = united_rings(chain, closed, half, round_ends, tolerance)
    # The outermost clockwise on the page, holes the other way.
    outward = [signed_area(ring.controls) > 0 for ring in rings]
    return [
        ring if clockwise == (k == 0) else Ring(ring.controls[::-1, ::-1], ring.side[::-1])
        for k, (ring, clockwise) in enumerate(zip(rings, outward, strict=True))
    ]


def _bends_within(chain: Chain, half: float) -> bool:
    """Whether no point of the chain bends as tightly as ``half``, either way."""
    return bool((np.abs(sharpest_of_each(chain.controls)[0]) * half < 0.999).all())


def _plain_rings(chain: Chain, closed: bool, half: float, tolerance: float) -> list[Ring] | None:
    """Return the rings of a band that needs no trimming, or None where it may."""
    import shapely

    # Coarse polygons tell whether the band meets itself; 2 % of the half width is far finer than any gap that
    # a later cut or seam could keep open.
    branches = sampled(chain, half, max(tolerance, 0.02 * half))
    if len(branches) != 2:
        return None  # there are corners
    right, left = (branch.points for branch in branches)
    if closed:
        rings = sorted(
            (shapely.LinearRing(right), shapely.LinearRing(left)), key=lambda r: shapely.Polygon(r).area
        )
        if not all(r.is_simple for r in rings) or not shapely.Polygon(rings[1]).contains(
            shapely.Polygon(rings[0])
        ):
            return None
    elif not shapely.Polygon(np.vstack([right, left[::-1]])).is_valid:
        return None
    return _joined(chain, closed, branches, tolerance)


def _joined(chain: Chain, closed: bool, branches: list[Branch], tolerance: float) -> list[Ring]:
    """Fit both parallel curves whole and join their ends."""
    n = len(chain.controls)
    both = np.concatenate([chain.controls, chain.controls])
    distance = np.repeat([b.distance for b in branches], n)
    fits, owner = fit_offsets(both, np.zeros(2 * n), np.ones(2 * n), distance, tolerance * FIT_SHARE)
    right, left = met(fits[owner < n], closed), met(fits[owner >= n], closed)[::-1, ::-1]
    if closed:
        rings = [Ring(right, np.full(len(right), RIGHT)), Ring(left, np.full(len(left), LEFT))]
        return sorted(rings, key=lambda ring: -abs(signed_area(ring.controls)))
    far = bezier.from_lines(np.stack([right[-1, 3], left[0, 0]]))
    near = bezier.from_lines(np.stack([left[-1, 3], right[0, 0]]))
    side = np.concatenate([np.full(len(right), RIGHT), [STRAIGHT], np.full(len(left), LEFT), [STRAIGHT]])
    return [Ring(np.concatenate([right, far, left, near]), side)]
