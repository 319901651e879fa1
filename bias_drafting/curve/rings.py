"""Closed boundaries as chains of cubics, and joining cubics up to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["END", "LEFT", "RIGHT", "STRAIGHT", "Ring", "circle_arcs", "is_sliver", "met", "signed_area"]

# Which part of a band's boundary a cubic is: along one side of the centreline, or of a round or a straight end.
RIGHT, LEFT, END, STRAIGHT = 0, 1, 2, 3

# Holes whose breadth is a smaller share of the tolerance are cracks between polygons laid side by side.
_CRACK = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """One closed boundary: cubics ``(n, 4, 2)``, and for each which side of the centreline it runs along."""

    controls: Array
    side: IntArray


def met(cubics: Array, ring: bool) -> Array:
    """Close the hair-wide gaps that rounding and tiny kinks leave between neighbouring fits.

    Handles move with the ends, so that a fit hardly longer than the gap beside it does not make a loop.
    """
    result = cubics.copy()
    gap = np.roll(cubics[:, 0], -1, axis=0) - cubics[:, 3]
    if not ring:
        gap[-1] = 0
    at_end, at_start = gap / 2, -np.roll(gap, 1, axis=0) / 2
    for k in range(4):
        result[:, k] += (at_start * (3 - k) + at_end * k) / 3
    result[:, 0] = np.where(at_start == 0, result[:, 0], np.roll(result[:, 3], 1, axis=0))
    return result


def signed_area(controls: Array) -> float:
    """Return the area within a closed chain, exactly (Green's theorem); positive if it runs clockwise on the page."""
    p = controls - controls[0, 0]
    # The integral of (x dy - y dx) / 2 over a cubic is a bilinear form in its control points.
    form = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20
    return float(np.einsum("nj,jk,nk->", p[..., 0], form, p[..., 1]))


def is_sliver(area: float, around: float, tolerance: float) -> bool:
    """Whether a hole is rounding, nothing a person could find: by its area, or as a crack ever so long."""
    return area <= tolerance * max(tolerance, _CRACK * around)


def circle_arcs(
    centre: Array, radius: float, begin: Array, finish: Array, tolerance: float
) -> tuple[Array, IntArray]:
    """Return cubics along arcs of a radius round centres ``(n, 2)`` between angles, and which arc each belongs to.

    A cubic of a turn ``a`` with handles of ``4/3 tan(a/4)`` radii strays outward by ``2/27 sin^6(a/4) / cos^2(a/4)``
    of the radius (M. Goldapp, CAGD 8 (1991) 227-238, from memory; measured again in the tests).
    """
    turn = np.abs(finish - begin)
    # At a right angle that is 2.7e-4 of the radius, and it falls with the sixth power of the angle.
    most = np.pi / 2 * min(1.0, (tolerance / (2.73e-4 * radius)) ** (1 / 6))
    count = np.maximum(np.ceil(turn / most - 1e-9), 1).astype(np.intp)
    owner = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    step = ((finish - begin) / count)[owner]
    a = begin[owner] + number * step
    rim = [np.stack([np.cos(x), np.sin(x)], axis=1) for x in (a, a + step)]
    along = [np.stack([-r[:, 1], r[:, 0]], axis=1) * (4 / 3 * np.tan(step / 4))[:, None] for r in rim]
    unit = np.stack([rim[0], rim[0] + along[0], rim[1] - along[1], rim[1]], axis=1)
    return centre[owner][:, None] + radius * unit, owner
