"""The sharpest curvature of each segment: against all roots of the exact polynomial at 60 digits."""

from __future__ import annotations

from typing import Any

import mpmath as mp
import numpy as np
import pytest
from hard_cubics import gentle, nasty

from bias_drafting.curve.curvature import sharpest_of_each


def product(p: list[Any], q: list[Any]) -> list[Any]:
    out = [mp.mpf(0)] * (len(p) + len(q) - 1)
    for i, x in enumerate(p):
        for j, y in enumerate(q):
            out[i + j] += x * y
    return out


def slope(p: list[Any]) -> list[Any]:
    return [k * p[k] for k in range(1, len(p))]


def at(p: list[Any], t: mp.mpf) -> mp.mpf:
    return mp.re(sum(c * t**k for k, c in enumerate(p)))


def exact_least_radius(segment: np.ndarray) -> float:
    """Return the least radius among both ends and all real roots of 2 N' D - 3 N D' in (0, 1)."""
    with mp.workdps(60):
        p = [mp.mpc(float(x), float(y)) for x, y in segment]
        d = [3 * (p[k + 1] - p[k]) for k in range(3)]
        a, b, c = d[0] - 2 * d[1] + d[2], 2 * (d[1] - d[0]), d[0]
        x, y = [c.real, b.real, a.real], [c.imag, b.imag, a.imag]
        cross = [u - v for u, v in zip(product(x, slope(y)), product(y, slope(x)), strict=True)]
        square = [u + v for u, v in zip(product(x, x), product(y, y), strict=True)]
        first, second = product(slope(cross), square), product(cross, slope(square))
        size = max(len(first), len(second))
        first, second = (q + [mp.mpf(0)] * (size - len(q)) for q in (first, second))
        polynomial = [2 * u - 3 * v for u, v in zip(first, second, strict=True)]
        while abs(polynomial[-1]) < mp.mpf(10) ** -50 * max(abs(q) for q in polynomial):
            polynomial.pop()
        roots = mp.polyroots(polynomial, maxsteps=500, extraprec=500, asc=True)
        places = [r.real for r in roots if abs(r.imag) < mp.mpf(10) ** -15 and 0 < r.real < 1]
        least = mp.inf
        for t in [mp.mpf(0), mp.mpf(1), *places]:
            speed, bend = abs(at(square, t)), abs(at(cross, t))
            if speed == 0:
                return 0.0
            least = min(least, speed ** mp.mpf(1.5) / bend if bend else mp.inf)
        return float(least)


def radii(cubics: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore"):
        return 1 / np.abs(sharpest_of_each(cubics)[0])


def test_gentle_segments() -> None:
    cubics = gentle(1, 40)
    assert radii(cubics) == pytest.approx([exact_least_radius(s) for s in cubics], rel=1e-12)


@pytest.mark.parametrize("kind", [0, 1, 3, 4, 5, 6])
def test_nasty_segments_to_a_millionth_of_a_micrometre(kind: int) -> None:
    cubics = nasty(2, 112)[kind::7]
    assert radii(cubics) == pytest.approx([exact_least_radius(s) for s in cubics], rel=1e-12, abs=1e-9)


def test_cusps_a_hair_off_the_real_line() -> None:
    # The bend fills as little as a billionth of its segment: samples, or roots of a rounded polynomial, miss it.
    base = np.array([[0.0, 0], [40, 40], [0, 40], [40, 0]])
    cubics = np.tile(base, (40, 1, 1))
    cubics[:, 1, 0] += 10.0 ** np.linspace(-9, 0.5, 40)
    assert radii(cubics) == pytest.approx([exact_least_radius(s) for s in cubics], rel=1e-6, abs=1e-9)


def test_the_place_is_where_the_bend_is() -> None:
    cubics = gentle(3, 200)
    bend, t = sharpest_of_each(cubics)
    sampled = np.linspace(0, 1, 20001)
    for k in (5, 50, 150):
        d = 3 * np.diff(cubics[k], axis=0)
        u = 1 - sampled
        vx, vy = (
            d[0] * (u * u)[:, None] + 2 * d[1] * (u * sampled)[:, None] + d[2] * (sampled**2)[:, None]
        ).T
        ax, ay = 2 * ((d[1] - d[0]) * u[:, None] + (d[2] - d[1]) * sampled[:, None]).T
        curvature = (vx * ay - vy * ax) / np.hypot(vx, vy) ** 3
        best = np.argmax(np.abs(curvature))
        assert t[k] == pytest.approx(sampled[best], abs=1e-4)
        assert bend[k] == pytest.approx(curvature[best], rel=1e-6)


def test_symmetric_arches_bend_most_in_their_very_middle() -> None:
    # The root lies on the first cut itself.
    arch = np.array([[[0.0, 0], [5, 32], [27, 32], [32, 0]]])
    bend, t = sharpest_of_each(arch)
    assert t[0] == pytest.approx(0.5, abs=1e-10)
    assert 1 / abs(bend[0]) == pytest.approx(exact_least_radius(arch[0]), rel=1e-13)


def test_straight_segments_do_not_bend_and_folded_ones_turn_on_the_spot() -> None:
    lines = np.array([[[1, 2], [4, 6], [7, 10], [10, 14]], [[0, 0], [30, 0], [-20, 0], [10, 0]]], dtype=float)
    assert sharpest_of_each(lines)[0].tolist() == [0, np.inf]
    handles_in = np.array([[[1, 2], [1, 2], [7, 10], [7, 10.0]]])
    assert sharpest_of_each(handles_in)[0].tolist() == [0]


def test_size_and_place_do_not_matter() -> None:
    cubics = nasty(4, 700)[6::7]
    assert radii(cubics * 1e6) == pytest.approx(1e6 * radii(cubics), rel=1e-12)
    assert radii(cubics + 1e4) == pytest.approx(radii(cubics), rel=1e-7, abs=1e-9)
