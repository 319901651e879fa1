"""Few cubics, all within the tolerance: parallel curves measured again, far denser than they were fitted."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import CubicSpline

from bias_drafting.curve.curve import Curve
from bias_drafting.curve.rings import circle_arcs


def vine(seed: int, segments: int = 30, length: float = 694.0, least: float = 3.9) -> Curve:
    """Return the first smooth vine through scattered points, from ``seed`` on, as long and as tight as asked."""
    for k in range(seed, seed + 5000):
        random = np.random.default_rng(k)
        x = np.cumsum(np.append(0, random.uniform(12, 24, segments)))
        y = np.cumsum(random.normal(0, 7, segments + 1))
        points = np.stack([x, y - np.linspace(y[0], y[-1], segments + 1)], axis=1)
        u = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T) ** 0.5))
        slope, step = CubicSpline(u, points)(u, 1), np.diff(u)[:, None] / 3
        handles = points[:-1] + slope[:-1] * step, points[1:] - slope[1:] * step
        curve = Curve(np.stack([points[:-1], *handles, points[1:]], axis=1))
        curve = Curve(curve.controls * (length / curve.length))
        if abs(curve.tightest().radius - least) < 0.1:
            return curve
    pytest.fail("no such vine")


VINES = [vine(100 * k) for k in range(2)]


def exact(curve: Curve, distance: float) -> np.ndarray:
    """Return points of the exact parallel curve, those of them that are no nearer to any part of the curve."""
    s = np.linspace(0, curve.length, 40_001)
    (tx, ty), points = curve.tangent_at(s).T, curve.point_at(s)
    offset = points + distance * np.stack([-ty, tx], axis=1)
    line = shapely.LineString(curve.flattened(1e-4))
    shapely.prepare(line)
    far: np.ndarray = offset[~shapely.dwithin(line, shapely.points(offset), abs(distance) - 2e-4)]
    return far


@pytest.mark.parametrize("distance", [3, -3, 9.35, -9.35])
@pytest.mark.parametrize("curve", VINES)
def test_a_vine_is_paralleled_to_a_hundredth_of_a_millimetre_both_ways(curve: Curve, distance: float) -> None:
    found, wanted = curve.parallel(distance, 0.01), exact(curve, distance)
    dense = np.concatenate([c.point_at(np.linspace(0, c.length, 12_000)) for c in found])
    # No point of the output further from the curve or nearer to it than the distance.
    assert np.abs(curve.locate(dense)[1] - abs(distance)).max() <= 0.01
    # No point of the exact parallel curve further from the output.
    near = np.min([c.locate(wanted)[1] for c in found], axis=0)
    assert near.max() <= 0.01
    # Few nodes: at most 1.4 a segment, and a twentieth of those of a polygon as fine.
    nodes = sum(map(len, found))
    assert nodes <= 1.4 * len(curve)
    line = shapely.LineString(curve.flattened(0.01))
    ring = shapely.get_num_coordinates(line.buffer(abs(distance), quad_segs=32))
    assert 2 * 20 * nodes <= 1.1 * ring


@pytest.mark.parametrize("tolerance", [0.1, 0.01, 1e-3, 1e-5])
def test_finer_is_closer_and_takes_more(tolerance: float) -> None:
    curve = VINES[0].section(0, 200)
    (found,) = curve.parallel(3, tolerance)
    (finer,) = curve.parallel(3, tolerance / 10)
    dense = found.point_at(np.linspace(0, found.length, 5000))
    assert np.abs(curve.locate(dense)[1] - 3).max() <= tolerance
    assert len(finer) > len(found)


def test_a_straight_stretch_takes_one_cubic() -> None:
    line = Curve.from_points([(0, 0), (20, 0), (50, 0), (90, 0)])
    assert [len(c) for c in line.parallel(4)] == [1]


@pytest.mark.parametrize("turn", [0.01, 0.5, 1.5, 3.1, 6.2])
@pytest.mark.parametrize("tolerance", [0.1, 0.01, 1e-6])
def test_arcs_keep_to_their_circle(turn: float, tolerance: float) -> None:
    begin = np.array([0.3, 2.0])
    cubics, owner = circle_arcs(np.array([[5.0, 7.0], [-3.0, 1.0]]), 9.0, begin, begin - turn, tolerance)
    for k, centre in enumerate([(5.0, 7.0), (-3.0, 1.0)]):
        arc = Curve(cubics[owner == k])
        away = np.hypot(*(arc.point_at(np.linspace(0, arc.length, 999)) - centre).T)
        assert np.abs(away - 9).max() <= tolerance
        assert arc.length == pytest.approx(9 * turn, rel=tolerance / 9 + 1e-9)
