"""The parallel curves of a centreline sampled as branches: what a union of strips is laid out from."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import arc_length, bends, bezier, measure
from bias_drafting.curve.fitting import offset_points
from bias_drafting.curve.rings import LEFT, RIGHT
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["FIT_SHARE", "Branch", "sampled"]

# Of the tolerance, fits may use this share; polygons and the closing of gaps use the rest.
FIT_SHARE = 0.6
# A joint whose kink shifts the parallel curve by less than this share of the tolerance is treated as smooth.
_KINK_SHARE = 0.1
# Never more samples than this on one curve: bounded work. Beyond, the curve is refused rather than drawn worse
# than promised.
_MOST_SAMPLES = 400_000


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """A smooth stretch of one parallel curve, or of the arc round a corner or an end, as sampled points.

    Attributes
    ----------
    side
        RIGHT or LEFT of travel (an arc round a corner belongs to the outer side), or END.
    distance
        Signed distance from the centreline, right positive; for an arc, its radius.
    place
        ``(m,)`` where each point lies: piece + t along the centreline; for an arc, its angle in radians.
    points
        ``(m, 2)``.
    centre
        ``(m, 2)`` the points of the centreline they belong to.
    is_arc
        Whether this is an arc round a single centre.
    """

    side: int
    distance: float
    place: Array
    points: Array
    centre: Array
    is_arc: bool = False


def sampled(chain: Chain, half: float, stray: float) -> list[Branch]:
    """Return both parallel curves at ``half``, broken at corners, as polygons that stray by at most ``stray``.

    Raises
    ------
    CurveError
        Where that would take an unreasonable number of points.
    """
    place, breaks = _places(chain, half, stray)
    edges = [0, *breaks, len(place)]
    branches = []
    for side, distance in ((RIGHT, half), (LEFT, -half)):
        for first, last in pairwise(edges):
            at = place[first:last]
            piece = np.minimum(at.astype(np.intp), len(chain.controls) - 1)
            if last < len(place):
                # The last sample before a corner belongs to the piece that ends there.
                piece[-1] = int(at[-1]) - 1
            rows, t = chain.controls[piece], at - piece
            points = offset_points(rows, t, np.full(len(at), distance))
            branches.append(Branch(side, distance, at, points, bezier.evaluate(rows, t)))
    return branches


def _places(chain: Chain, half: float, stray: float) -> tuple[Array, list[int]]:
    """Return where to sample (piece + t) and at which of those indices a corner starts a new branch."""
    piece, t = _steps(chain, half, stray)
    place = np.append(piece + t, float(len(chain.controls)))
    kinked = np.flatnonzero(np.abs(chain.corners[1:-1]) * half > _KINK_SHARE * stray) + 1
    # At a corner the place comes twice: as the end of what is before it, and as the start of what is after.
    first = np.searchsorted(place, kinked)
    breaks = first + 1 + np.arange(len(first))
    return np.insert(place, first, kinked), [int(k) for k in breaks]


def _steps(chain: Chain, half: float, stray: float) -> tuple[IntArray, Array]:
    """Return the starts (piece, t) of steps so short that chords stray by at most ``stray`` at ``half`` either way.

    Steps are halved where the curve bends until they are fine enough: a sharp bend may fill a billionth of its
    piece.
    """
    edges = bends.between_inflections(chain)
    piece = np.repeat(np.arange(len(edges)), 3)
    begin, finish = edges[:, :-1].ravel(), edges[:, 1:].ravel()
    done: list[tuple[IntArray, Array]] = []
    count = 0
    while len(piece):
        arc = arc_length.partial_lengths(chain.controls[piece], begin, finish)
        turn = np.abs(measure.turn_within(chain.u[piece], chain.v[piece], begin, finish))
        # A chord over arc length l that turns by a strays by l a / 4 at most. And no step turns by more than about
        # 6 degrees, so that neighbouring normals make honest strips.
        coarse = ((arc + half * turn) * turn > 4 * stray) | (turn > 0.1)
        coarse &= finish - begin > 1e-13
        fine = ~coarse & (finish > begin)
        done.append((piece[fine], begin[fine]))
        count += 2 * int(coarse.sum()) + int(fine.sum())
        if count > _MOST_SAMPLES:
            msg = f"a band as wide and fine as this takes more than {_MOST_SAMPLES} steps; ask for a larger tolerance"
            raise CurveError(msg)
        middle = (begin[coarse] + finish[coarse]) / 2
        piece = np.concatenate([piece[coarse], piece[coarse]])
        begin, finish = np.concatenate([begin[coarse], middle]), np.concatenate([middle, finish[coarse]])
    pieces, starts = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.lexsort((starts, pieces))
    return pieces[order], starts[order]
