"""Where the rails of a band cross: pairs of steps whose enclosures meet, cut ever finer.

A step that turns one way by an angle ``a`` lies within the triangle of its chord and its end tangents, no further
from the chord than ``|chord| tan(a / 2) / 2``. Boxes round those triangles are compared through a tree; what may
cross is cut into four parts, and so on, until the parts are as good as straight. So no crossing is missed that
reaches further than the accuracy asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.rails import Rails

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["rail_crossings"]

_PARTS: Final = 4
_MOST_CUTS: Final = 12
# Bounded work: where so many parts for each step still overlap, or so many crossings are found, besides some for
# the smallest bands, stretches of rail run on top of one another.
_MOST_PAIRS: Final = 40
_MOST_CROSSINGS: Final = 10
_FEW: Final = 1000


def rail_crossings(rails: Rails, accuracy: float) -> tuple[Array, Array]:
    """Return the crossings as positions ``(k,), (k,)`` on the rails: number of the step plus share of it.

    Raises
    ------
    CurveError
        Rails that run along one another, so that their crossings cannot be told.
    """
    most_pairs, most_crossings = (most * len(rails.a) + _FEW for most in (_MOST_PAIRS, _MOST_CROSSINGS))
    first, second = _near_pairs(rails)
    low1, low2 = np.zeros(len(first)), np.zeros(len(first))
    size = 1.0
    for _ in range(_MOST_CUTS):
        _check_bound(rails, len(first), most_pairs)
        if not first.size:
            break
        first, low1, second, low2, height = _cut(rails, first, low1, second, low2, size)
        size /= _PARTS
        if not first.size or height <= accuracy:
            break
    one, other = _met(rails, first, low1, second, low2, size)
    _check_bound(rails, len(one), most_crossings)
    return one, other


def _check_bound(rails: Rails, count: int, most: int) -> None:
    if count > most:
        msg = f"too many stretches of a band of half width {rails.half:g} mm lie on top of one another"
        raise CurveError(msg)


def _boxes(rails: Rails, step: IntArray, low: Array, size: float) -> tuple[Array, Array]:
    """Return boxes ``(n, 4, 4)`` (low x, low y, high x, high y) round quarters of parts of steps, and heights.

    Each part runs from the share ``low`` of its step over the share ``size`` of it.
    """
    share = low[:, None] + size * np.linspace(0, 1, _PARTS + 1)
    points, heading = (z.reshape(share.shape) for z in rails.at(np.repeat(step, _PARTS + 1), share.ravel()))
    return _enclosed(points[:, :-1], points[:, 1:], heading[:, :-1], heading[:, 1:])


def _enclosed(
    p: ComplexArray, q: ComplexArray, leave: ComplexArray, arrive: ComplexArray
) -> tuple[Array, Array]:
    """Return boxes round arcs of one bend by their ends and end directions, and how far from the chord they go."""
    turn = np.abs(np.angle(arrive * np.conj(leave)))
    height = np.abs(q - p) * np.tan(np.minimum(turn, 2.0) / 2) / 2
    low_x, high_x = np.minimum(p.real, q.real) - height, np.maximum(p.real, q.real) + height
    low_y, high_y = np.minimum(p.imag, q.imag) - height, np.maximum(p.imag, q.imag) + height
    return np.stack([low_x, low_y, high_x, high_y], axis=-1), height


def _near_pairs(rails: Rails) -> tuple[IntArray, IntArray]:
    """Return pairs of steps whose boxes overlap, without those that merely follow one another."""
    import shapely

    every = np.arange(len(rails.a))
    p, leave = rails.at(every, np.zeros(len(every)))
    q, arrive = rails.at(every, np.ones(len(every)))
    box = _enclosed(p, q, leave, arrive)[0]
    shapes = shapely.box(*box.T)
    first, second = shapely.STRtree(shapes).query(shapes)
    pair = first < second
    first, second = first[pair], second[pair]
    apart = (rails.follows[first] != second) & (rails.follows[second] != first)
    return first[apart], second[apart]


def _cut(
    rails: Rails, first: IntArray, low1: Array, second: IntArray, low2: Array, size: float
) -> tuple[IntArray, Array, IntArray, Array, float]:
    """Cut both parts of each pair into four and keep the pairs of those whose boxes overlap."""
    box1, height1 = _boxes(rails, first, low1, size)
    box2, height2 = _boxes(rails, second, low2, size)
    a, b = box1[:, :, None], box2[:, None, :]
    meet = (a[..., :2] <= b[..., 2:]).all(axis=-1) & (b[..., :2] <= a[..., 2:]).all(axis=-1)
    pair, i, j = np.nonzero(meet)
    step = size / _PARTS
    height = max(height1[pair, i].max(initial=0), height2[pair, j].max(initial=0))
    return first[pair], low1[pair] + i * step, second[pair], low2[pair] + j * step, float(height)


def _met(
    rails: Rails, first: IntArray, low1: Array, second: IntArray, low2: Array, size: float
) -> tuple[Array, Array]:
    """Return where the chords of parts cross, each crossing once."""
    (p, _), (q, _) = rails.at(first, low1), rails.at(first, low1 + size)
    (r, _), (t, _) = rails.at(second, low2), rails.at(second, low2 + size)
    d, e, gap = q - p, t - r, r - p
    cross = (np.conj(d) * e).imag
    safe = np.where(cross == 0, 1, cross)
    x, y = (np.conj(gap) * e).imag / safe, (np.conj(gap) * d).imag / safe
    # A crossing on the seam of two parts shows in one of them at least.
    on = (cross != 0) & (np.abs(x - 0.5) <= 0.5 + 1e-9) & (np.abs(y - 0.5) <= 0.5 + 1e-9)
    one, other = (
        _inside(step[on], (low + size * np.clip(share, 0, 1))[on])
        for step, low, share in ((first, low1, x), (second, low2, y))
    )
    order = np.lexsort((other, one))
    one, other = one[order], other[order]
    new = (np.diff(one, prepend=-1) > 1e-6 * size) | (np.abs(np.diff(other, prepend=-1)) > 1e-6 * size)
    return one[new], other[new]


def _inside(step: IntArray, share: Array) -> Array:
    """Return positions, numbers of steps and shares of them in one; the very end of a step belongs to it still."""
    position: Array = np.minimum(step + share, np.nextafter(step + 1.0, 0))
    return position
