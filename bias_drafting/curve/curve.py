"""The curve itself: a frozen chain of cubic Beziers, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Self

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

__all__ = ["Bend", "Curve"]


@dataclass(frozen=True, slots=True)
class Bend:
    """Where a curve bends most, and how tightly.

    Attributes
    ----------
    radius
        Radius in mm, averaged over ``window``; infinite where nothing bends, 0 at a corner seen without a window.
    s
        Arc length from the start, in mm, at the middle of the window.
    point
        The point on the curve there, in mm.
    side
        ``"left"`` or ``"right"``: the side of the inner edge, as seen on the page along the direction of travel;
        ``"none"`` on a straight line.
    window
        The length in mm over which the bend was averaged; 0 for the point value.
    """

    radius: float
    s: float
    point: tuple[float, float]
    side: str
    window: float


def _checked(controls: ArrayLike, closed: bool) -> Array:
    """Return the control points as a clean chain: finite, joined up, without pieces of no length."""
    p = np.array(controls, dtype=np.float64)
    if p.ndim != 3 or p.shape[1:] != (4, 2) or len(p) == 0:
        msg = f"a curve needs control points of shape (n, 4, 2) with n at least 1, not {p.shape}"
        raise CurveError(msg)
    if not np.isfinite(p).all():
        where = int(np.argwhere(~np.isfinite(p).all(axis=(1, 2)))[0, 0])
        msg = f"segment {where} of the curve has a coordinate that is not a finite number"
        raise CurveError(msg)
    slack = 1e-9 * float(np.abs(p).max())
    gaps = np.abs(p[:-1, 3] - p[1:, 0]).max(axis=1, initial=0)
    if (gaps > slack).any():
        where = int(np.argmax(gaps > slack))
        msg = f"segments {where} and {where + 1} of the curve do not meet: there are {gaps[where]:g} mm between them"
        raise CurveError(msg)
    # Coordinates carry about 1e-16 of their own size, so a piece shorter than this has no direction of its own.
    long_enough = np.ptp(p, axis=1).max(axis=1) > 1e-12 * float(np.abs(p).max())
    if not long_enough.any():
        msg = f"a curve needs some length; all its points are at ({p[0, 0, 0]:g}, {p[0, 0, 1]:g})"
        raise CurveError(msg)
    first, last = p[0, 0].copy(), p[-1, 3].copy()
    if closed and np.abs(last - first).max() > slack:
        msg = f"a closed curve ends where it starts; this one stops {np.hypot(*(last - first)):g} mm away"
        raise CurveError(msg)
    p = p[long_enough]
    p[1:, 0] = p[:-1, 3]
    p[0, 0] = first
    p[-1, 3] = first if closed else last
    p.flags.writeable = False
    return p
