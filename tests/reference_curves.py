"""Curves whose measures are known in closed form, made into chains of cubics for the tests.

A curve that is no cubic is followed by many cubics with its exact points and velocities (cubic Hermite pieces).
The position is then wrong by something that shrinks with the fourth power of the step, and so is the length; the
curvature with the second. Page coordinates throughout: x right, y down.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fresnel

from bias_drafting.curve.curve import Curve

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def hermite_chain(
    point: Callable[[Array], Array], velocity: Callable[[Array], Array], u: Array, closed: bool = False
) -> Curve:
    """A chain through ``point(u)`` with ``velocity(u)``, one cubic from each parameter to the next."""
    p, v = point(u), velocity(u)
    if closed:
        p[-1], v[-1] = p[0], v[0]
    h = np.diff(u)[:, None] / 3
    return Curve(np.stack([p[:-1], p[:-1] + h * v[:-1], p[1:] - h * v[1:], p[1:]], axis=1), closed)


def _pairs(x: Array, y: Array) -> Array:
    return np.stack([x, y], axis=-1)


def ellipse(a: float, b: float, pieces: int = 3000) -> Curve:
    """An ellipse with half axes a (along x) and b, clockwise on the page, from its right end."""
    return hermite_chain(
        lambda u: _pairs(a * np.cos(u), b * np.sin(u)),
        lambda u: _pairs(-a * np.sin(u), b * np.cos(u)),
        np.linspace(0, 2 * np.pi, pieces + 1),
        closed=True,
    )


def circle_arc(radius: float, degrees: float, pieces: int = 400) -> Curve:
    """An arc from the right end of a circle, clockwise on the page for positive angles."""
    return hermite_chain(
        lambda u: radius * _pairs(np.cos(u), np.sin(u)),
        lambda u: radius * _pairs(-np.sin(u), np.cos(u)),
        np.linspace(0, np.radians(degrees), pieces + 1),
    )


def sine(amplitude: float, wavelength: float, start: float, end: float, pieces: int = 2000) -> Curve:
    """``y = amplitude sin(2 pi x / wavelength)`` from x = start to x = end."""
    k = 2 * np.pi / wavelength
    return hermite_chain(
        lambda x: _pairs(x, amplitude * np.sin(k * x)),
        lambda x: _pairs(np.ones_like(x), amplitude * k * np.cos(k * x)),
        np.linspace(start, end, pieces + 1),
    )


def parabola(c: float, x0: float, x1: float) -> Curve:
    """``y = c x^2`` from x0 to x1, exactly: one quadratic raised to a cubic."""
    p0, p2 = np.array([x0, c * x0 * x0]), np.array([x1, c * x1 * x1])
    p1 = np.array([(x0 + x1) / 2, c * x0 * x1])
    return Curve(np.array([[p0, (p0 + 2 * p1) / 3, (p2 + 2 * p1) / 3, p2]]))


def catenary(a: float, start: float, end: float, pieces: int = 1000) -> Curve:
    """``y = a cosh(x / a)``."""
    return hermite_chain(
        lambda x: _pairs(x, a * np.cosh(x / a)),
        lambda x: _pairs(np.ones_like(x), np.sinh(x / a)),
        np.linspace(start, end, pieces + 1),
    )


def polar(
    radius: Callable[[Array], Array],
    slope: Callable[[Array], Array],
    start: float,
    end: float,
    pieces: int = 3000,
    closed: bool = False,
) -> Curve:
    """``r = radius(angle)``, with its derivative, between two angles in radians."""
    return hermite_chain(
        lambda u: radius(u)[:, None] * _pairs(np.cos(u), np.sin(u)),
        lambda u: (
            slope(u)[:, None] * _pairs(np.cos(u), np.sin(u))
            + radius(u)[:, None] * _pairs(-np.sin(u), np.cos(u))
        ),
        np.linspace(start, end, pieces + 1),
        closed,
    )


def archimedean(b: float, start: float, end: float, pieces: int = 3000) -> Curve:
    """``r = b angle``."""
    return polar(lambda u: b * u, lambda u: np.full_like(u, b), start, end, pieces)


def clothoid(
    radius: float, length: float, start: float = 0.0, end: float | None = None, pieces: int = 800
) -> Curve:
    """From straight at arc length 0 to ``radius`` at ``length``, to the right; the stretch from start to end."""
    scale = np.sqrt(np.pi * radius * length)

    def point(s: Array) -> Array:
        y, x = fresnel(s / scale)
        return _pairs(scale * x, scale * y)

    def velocity(s: Array) -> Array:
        angle = s * s / (2 * radius * length)
        return _pairs(np.cos(angle), np.sin(angle))

    return hermite_chain(point, velocity, np.linspace(start, length if end is None else end, pieces + 1))


def random_vine(rng: np.random.Generator, pieces: int, size: float = 60.0, kinks: float = 0.0) -> Array:
    """Control points of a chain wandering over a square: smooth, or with corners at the given share of joints."""
    p = rng.uniform(0, size, (pieces + 1, 2))
    arrive = rng.uniform(0, 2 * np.pi, pieces + 1)
    leave = np.where(rng.random(pieces + 1) < kinks, rng.uniform(0, 2 * np.pi, pieces + 1), arrive)
    reach = np.hypot(*np.diff(p, axis=0).T)[:, None] * rng.uniform(0.2, 0.8, (pieces, 2))
    out, back = _pairs(np.cos(leave), np.sin(leave)), _pairs(np.cos(arrive), np.sin(arrive))
    return np.stack(
        [p[:-1], p[:-1] + reach[:, :1] * out[:-1], p[1:] - reach[:, 1:] * back[1:], p[1:]], axis=1
    )
