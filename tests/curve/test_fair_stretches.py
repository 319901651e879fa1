"""Stretches to be faired: bends that are hardly too tight, and curves that are too tight at no single point."""

from __future__ import annotations

import numpy as np
import pytest

import bias_drafting as bd


@pytest.mark.parametrize("above", [1e-5, 1e-4])
def test_bends_that_are_hardly_too_tight_over_a_window_are_faired(above: float) -> None:
    rng = np.random.default_rng(1)
    tendril = np.array([[55, 3], [75, 54], [33, 79], [30, 45]], dtype=float)
    for controls in (tendril, *rng.uniform(0, 80, (3, 4, 2))):
        curve = bd.Curve(controls[None])
        bend = curve.tightest(6)
        faired = bd.fair_curve(curve, bend.radius * (1 + above), window=6)
        assert faired.curve.tightest(6).radius >= bend.radius * (1 + above) * (1 - 1e-6)
        assert any(b.start <= bend.s <= b.end for b in faired.bends)
        assert 0 < faired.largest_shift < 0.5


def slight_joints(count: int, step: float) -> list[tuple[float, float]]:
    """Points of a line that turns by 0.9 degrees at each: joints too slight to be corners."""
    way = np.radians(0.9) * np.arange(count)
    steps = step * np.stack([np.cos(way), np.sin(way)], axis=1)
    return [(0.0, 0.0), *((float(x), float(y)) for x, y in np.cumsum(steps, axis=0))]


def test_a_curve_too_tight_as_a_whole_but_at_no_point_is_refused_with_the_widest_radius() -> None:
    # Taken whole, 110 mm turn by ten times 0.9 degrees.
    row = bd.Curve.from_points(slight_joints(11, 10))
    widest = 110 / np.radians(9)
    assert row.tightest(200).radius == pytest.approx(widest, rel=1e-12)
    with pytest.raises(bd.UnfeasibleError, match=f"the widest possible is about {widest:.4g} mm"):
        bd.fair_curve(row, 800, window=200)
    assert bd.fair_curve(row, 700, window=200).curve is row


def test_a_ring_too_tight_as_a_whole_but_at_no_point_is_refused() -> None:
    ring = bd.Curve.from_points(slight_joints(400, 0.3)[:-1], closed=True)
    radius = ring.length / (2 * np.pi)
    with pytest.raises(bd.UnfeasibleError, match=f"the widest possible is about {radius:.4g} mm"):
        bd.fair_curve(ring, radius * 1.2, window=ring.length * 1.1)
