"""Ellipses and elliptical arcs as cubic Beziers, 64 to the full turn.

With handles of (4/3) tan(d/4) for each piece of angle d, the radial error of a circle shrinks with the sixth
power of d and the error of its curvature with the fourth (M. Goldapp, Computer Aided Geometric Design 8,
1991, 227-238, from memory; the tests measure both). At 64 pieces a turn the radius is at most 1.7e-11 of
itself too long, so an arc is right to 1e-6 mm far beyond any quilt. The curvature is right to 4e-7 of itself,
and this decides the number: half as many pieces would leave the least radius of a drawn circle wrong in its
sixth figure.

Convert before any transform: the affine image of the cubics is exact, whatever it does to the ellipse.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]

__all__ = ["PIECES_A_TURN", "ellipse", "ellipse_arc"]

PIECES_A_TURN = 64
# A few roundings of the ends decide whether a chord is the whole diameter.
_ROUNDING = 4 * 2.0**-52


def ellipse(cx: float, cy: float, rx: float, ry: float) -> Array:
    """Return an axis-parallel ellipse as a closed chain of cubics ``(64, 4, 2)``.

    It starts at the right, ``(cx + rx, cy)``, and runs clockwise on the page (y runs down), as SVG 2, section
    10.3, asks of ``circle`` and ``ellipse``. The radii are positive. Accuracy: see the module.

    Examples
    --------
    >>> ellipse(0, 0, 5, 3)[16, 0].round(12)
    array([0., 3.])
    """
    angle = np.linspace(0, 2 * math.pi, PIECES_A_TURN + 1)
    points = np.exp(1j * angle)
    unit = _cubics(points, 1j * points, 2 * math.pi / PIECES_A_TURN)
    controls = np.stack([cx + rx * unit.real, cy + ry * unit.imag], axis=-1)
    controls[-1, 3] = controls[0, 0]
    return controls


def ellipse_arc(
    start: tuple[float, float],
    rx: float,
    ry: float,
    rotation_degrees: float,
    large_arc: bool,
    sweep: bool,
    end: tuple[float, float],
) -> Array:
    """Return the elliptical arc of SVG path data as cubics ``(k, 4, 2)``.

    Parameters
    ----------
    start, end
        Where the arc starts and ends; the cubics start and end there exactly.
    rx, ry
        Radii. Their signs are ignored; if either is 0 the arc is a straight line; if they are too small to
        reach from start to end, both grow by the same factor until they just do (SVG 2, implementation notes
        on elliptical arcs, "Correction of out-of-range radii").
    rotation_degrees
        Angle from the x axis to the ellipse's first axis, clockwise on the page.
    large_arc, sweep
        Which of the four arcs: the longer way round; clockwise on the page.

    Returns
    -------
    numpy.ndarray
        Empty where start and end coincide: the standard drops such an arc. Not finite where the numbers
        overflow.

    Notes
    -----
    The standard's centre (its equations 5.1 to 5.6) loses figures where the arc is nearly straight, so
    everything is measured from the chord instead. On the unit circle a chord of half length q belongs to an
    arc of angle A = 2 asin(q), or to the rest of the turn; the point at angle d along it lies ``2 sin(d/2)``
    from the start, in the direction of the chord turned by ``(d - A)/2``.

    A chord that is the diameter but for the rounding of its ends' coordinates is taken as the diameter: half
    turns are how circles are written, and asin is so steep there that one rounding would move the middle of
    the arc by 1e-8 of its radius.

    Examples
    --------
    >>> ellipse_arc((0, 0), 1, 1, 0, False, True, (4, 0))[15, 3].round(12)  # the radius grows from 1 to 2
    array([ 2., -2.])
    """
    if start == end:
        return np.empty((0, 4, 2))
    with np.errstate(over="ignore", invalid="ignore"):
        ends = np.array([start, end], dtype=np.float64)
        rx, ry = abs(rx), abs(ry)
        if rx == 0 or ry == 0:
            return bezier.from_lines(ends)
        turn = np.exp(1j * math.radians(math.fmod(rotation_degrees, 360)))
        half_chord = complex(*(ends[1] - ends[0])) / 2 / turn
        chord = complex(half_chord.real / rx, half_chord.imag / ry)
        q = math.hypot(chord.real, chord.imag)
        if q == 0:  # radii beyond 1e300 of the chord: no turn that a float could hold
            return bezier.from_lines(ends)
        noise = _ROUNDING * (1 + float(np.abs(ends).max()) * (1 / rx + 1 / ry))
        grow = max(q, 1.0)
        half_angle = math.pi / 2 if q > 1 - noise else math.asin(q)
        unit = _unit_arc(chord / q, 2 * (math.pi - half_angle if large_arc else half_angle), sweep)
        turned = (unit.real * (rx * grow) + 1j * unit.imag * (ry * grow)) * turn
        controls: Array = ends[0] + np.stack([turned.real, turned.imag], axis=-1)
    controls[0, 0], controls[-1, 3] = ends
    return controls


def _unit_arc(chord: complex, angle: float, sweep: bool) -> ComplexArray:
    """Return an arc of the unit circle of this angle, from 0, over a chord of this (unit) direction."""
    # Just over a whole number of pieces is rounding, not another piece.
    pieces = max(1, math.ceil(angle / (2 * math.pi) * PIECES_A_TURN - 1e-9))
    way = 1j if sweep else -1j
    along = np.linspace(0, angle, pieces + 1)
    points = 2 * np.sin(along / 2) * chord * np.exp(way * (along - angle) / 2)
    return _cubics(points, chord * np.exp(way * (along - angle / 2)), angle / pieces)


def _cubics(points: ComplexArray, tangents: ComplexArray, step: float) -> ComplexArray:
    """Return the cubics ``(k, 4)`` of unit-circle arcs of angle ``step`` between neighbouring points."""
    handles = 4 / 3 * math.tan(step / 4) * tangents
    before, after = points[:-1], points[1:]
    cubics: ComplexArray = np.stack([before, before + handles[:-1], after - handles[1:], after], axis=1)
    return cubics
