"""The nearest point of a curve: against closed forms, against samples polished by SciPy, and where it is hard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_curves import circle_arc, parabola, random_vine
from scipy.optimize import minimize_scalar

from bias_drafting.curve import bezier, nearest
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nearest import locate_points
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SQUARE = Curve.from_points([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
CUSP = Curve.from_svg_path("M0 0C40 40 0 40 40 0")  # its tip at (20, 30) points down the page
LOOP = Curve.from_svg_path("M0 0C60 40 -20 40 40 0")


def located(curve: Curve, xy: Any) -> tuple[Array, Array]:
    return locate_points(build_chain(curve.controls, curve.closed), xy)


def sampled_and_polished(curve: Curve, p: Array) -> float:
    """The least distance by another way: 401 samples a segment, the best few polished by bounded minimisation."""
    t = np.linspace(0, 1, 401)
    points = np.stack([bezier.evaluate(np.repeat(c[None], len(t), 0), t) for c in curve.controls])
    distance = np.hypot(*np.moveaxis(points - p, -1, 0))
    best = float(distance.min())
    padded = np.pad(distance, ((0, 0), (1, 1)), constant_values=np.inf)
    low = (distance <= padded[:, :-2]) & (distance <= padded[:, 2:]) & (distance < best + 0.3)
    for segment, column in zip(*np.nonzero(low), strict=True):
        c = curve.controls[segment]

        def square(x: float, c: Array = c) -> float:
            return float(((bezier.evaluate(c[None], np.array([x])) - p) ** 2).sum())

        around = t[max(column - 1, 0)], t[min(column + 1, len(t) - 1)]
        best = min(
            best,
            minimize_scalar(square, bounds=around, method="bounded", options={"xatol": 1e-12}).fun ** 0.5,
        )
    return best


# --- closed forms ---------------------------------------------------------------------------------------------


def test_a_line() -> None:
    s, distance = located(
        Curve.from_points([(0, 0), (30, 40)]), [(-3, -4), (15, 20), (11, 2), (33, 44), (7, 1)]
    )
    assert s == pytest.approx([0, 25, 8.2, 50, 5], abs=1e-12)
    assert distance == pytest.approx([5, 0, 7.6, 5, 5], abs=1e-12)


def test_a_circle() -> None:
    angle, radius = np.linspace(0.01, 6.2, 50), np.linspace(3, 150, 50)
    xy = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    s, distance = located(circle_arc(50, 360), xy)
    assert distance == pytest.approx(np.abs(radius - 50), abs=1e-8)
    # The pieces' directions stray by some 1e-8; from near the centre that shows fifteenfold.
    assert s == pytest.approx(50 * angle, abs=3e-5)


@pytest.mark.parametrize("height", [0.4, 0.6, 3.0, 25.0])
def test_a_parabola_from_its_axis(height: float) -> None:
    # From (0, h) the square of the distance to (x, c x^2) is least at x^2 = (h - 1/(2c))/c, or at 0 below 1/(2c).
    c = 1.0
    s, distance = located(parabola(c, -6, 6), [(0, height)])
    if height <= 1 / (2 * c):
        assert distance[0] == pytest.approx(height, abs=1e-12)
    else:
        assert distance[0] == pytest.approx(np.sqrt(height / c - 1 / (4 * c * c)), abs=1e-12)
        x = -np.sqrt((height - 1 / (2 * c)) / c)  # of the two the first along the curve
        assert parabola(c, -6, 6).point_at(s[0]) == pytest.approx([x, c * x * x], abs=1e-9)


# --- against dense samples ------------------------------------------------------------------------------------


@pytest.mark.parametrize("kinks", [0.0, 0.4])
@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_against_samples(kinks: float, offset: float) -> None:
    rng = np.random.default_rng(7)
    exact = 1e-10 if offset == 0 else 1e-9
    for _ in range(4):
        curve = Curve(random_vine(rng, 6, 60, kinks) + offset)
        xy = rng.uniform(-30, 90, (12, 2)) + offset
        s, distance = located(curve, xy)
        assert np.hypot(*(curve.point_at(s) - xy).T) == pytest.approx(distance, abs=exact)
        for p, d in zip(xy, distance, strict=True):
            assert d == pytest.approx(sampled_and_polished(curve, p), abs=1e-9)


def test_near_cusps_and_drawn_in_handles() -> None:
    rng = np.random.default_rng(8)
    almost = [[0, 0], [40 + 1e-7, 40], [-1e-7, 40], [40, 0]]
    for controls in (
        CUSP.controls[0],
        almost,
        [[0, 0], [0, 0], [30, 30], [30, 30]],
        [[0, 0], [50, 9], [50, 9], [3, 1]],
    ):
        curve = Curve(np.array([controls], dtype=float))
        xy = np.concatenate(
            [rng.uniform(-10, 50, (12, 2)), curve.point_at(curve.length / 2) + rng.normal(0, 1e-3, (4, 2))]
        )
        _, distance = located(curve, xy)
        for p, d in zip(xy, distance, strict=True):
            assert d == pytest.approx(sampled_and_polished(curve, p), abs=1e-9)


def test_places_on_the_curve_itself() -> None:
    curve = Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20")
    s = np.linspace(0, curve.length, 200)
    found, distance = located(curve, curve.point_at(s))
    assert found == pytest.approx(s, abs=1e-9)
    assert distance.max() < 1e-12


# --- joints, ends, ties ---------------------------------------------------------------------------------------


def test_ends_corners_and_cusps_are_the_nearest_of_what_lies_beyond_them() -> None:
    s, distance = located(SQUARE, [(13, -4), (-5, -12)])
    assert s.tolist() == [10, 0]
    assert distance.tolist() == [5, 13]
    tip = CUSP.length / 2
    s, distance = located(CUSP, [(20, 37), (20.001, 31)])
    assert s == pytest.approx([tip, tip], abs=1e-9)
    assert distance == pytest.approx([7, np.hypot(0.001, 1)], abs=1e-12)


def test_of_equally_near_points_the_first() -> None:
    assert [x.tolist() for x in located(SQUARE, [(5, 5)])] == [[5], [5]]
    assert [x.tolist() for x in located(SQUARE, [(0, 0), (0, 10)])] == [[0, 30], [0, 0]]
    crossing = np.array([20, 120 / 7])  # where the loop crosses itself
    s, distance = located(LOOP, crossing[None])
    assert s[0] < LOOP.length / 2
    assert distance[0] < 1e-12
    s, distance = located(circle_arc(50, 360), [(0, 0)])
    assert distance[0] == pytest.approx(50, abs=1e-8)


@pytest.mark.parametrize("side", [1, -1])
def test_far_away_a_joint_beside_the_foot_is_not_equally_near(side: int) -> None:
    # The joint is 3e-5 mm off the foot, and 4.5e-15 mm further away: less than coordinates of 100 m can tell.
    line = Curve.from_points([(0, 0), (10, 0), (20, 0)])
    s, _ = located(line, [(10 + side * 3e-5, 1e5)])
    assert s[0] == pytest.approx(10 + side * 3e-5, abs=1e-9)
    ring = Curve.from_points([(10, 0), (20, 0), (20, -9), (0, -9), (0, 0)], closed=True)
    s, _ = located(ring, [(10 - 3e-5, 1e5)])
    assert s[0] == pytest.approx(ring.length - 3e-5, abs=1e-9)


def test_a_minimum_just_where_a_piece_is_halved(monkeypatch: pytest.MonkeyPatch) -> None:
    # From inside an arch the distance has two maxima and, between them at t = 1/2 exactly, a minimum.
    monkeypatch.setattr(nearest, "_PARTS", 1)
    arch = Curve(np.array([[[-10.0, 0], [-12, 12], [12, 12], [10, 0]]]))
    s, distance = located(arch, [(0, 1)])
    assert (s[0], distance[0]) == pytest.approx((arch.length / 2, 8), abs=1e-12)


def test_where_too_many_pieces_are_near_the_work_is_shared_out(monkeypatch: pytest.MonkeyPatch) -> None:
    ring, xy = circle_arc(50, 360, 100), np.random.default_rng(0).normal(0, 1e-3, (80, 2))
    whole, pairs, sizes = located(ring, xy), nearest._near_pairs, []

    def watched(*args: Any) -> Any:
        found = pairs(*args)
        sizes.append(0 if found is None else len(found[0]))
        return found

    monkeypatch.setattr(nearest, "_MOST_PAIRS", 3000)
    monkeypatch.setattr(nearest, "_near_pairs", watched)
    assert all((a == b).all() for a, b in zip(whole, located(ring, xy), strict=True))
    assert len(sizes) > 10
    assert 0 < max(sizes) <= 3000


def test_many_points_and_thirty_thousand_lines() -> None:
    # A walk at random, against the distance to each of its lines.
    rng = np.random.default_rng(3)
    corners = np.cumsum(rng.normal(0, 1, (30_001, 2)), axis=0)
    xy = rng.uniform(corners.min(axis=0), corners.max(axis=0), (500, 2))
    walk = Curve.from_points(corners)
    s, distance = located(walk, xy)
    a, b = corners[:-1], corners[1:]
    for p, d in zip(xy[::10], distance[::10], strict=True):
        along = np.clip(((p - a) * (b - a)).sum(axis=1) / ((b - a) ** 2).sum(axis=1), 0, 1)
        assert d == pytest.approx(np.hypot(*(a + along[:, None] * (b - a) - p).T).min(), abs=1e-10)
    assert np.hypot(*(walk.point_at(s) - xy).T) == pytest.approx(distance, abs=1e-9)


# --- properties and refusals ----------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    pieces=st.integers(1, 5),
    degrees=st.floats(0, 360),
    scale=st.sampled_from([1e-3, 1.0, 1e4]),
)
def test_similarity_and_reversal(seed: int, pieces: int, degrees: float, scale: float) -> None:
    rng = np.random.default_rng(seed)
    curve = Curve(random_vine(rng, pieces, 60, 0.3))
    xy = rng.uniform(-20, 80, (20, 2))
    s, distance = located(curve, xy)
    c, d = scale * np.cos(np.radians(degrees)), scale * np.sin(np.radians(degrees))
    turn = np.array([[c, -d, 3 * scale], [d, c, -8 * scale]])
    _, moved = located(curve.transformed(turn), xy @ turn[:, :2].T + turn[:, 2])
    assert moved == pytest.approx(scale * distance, abs=1e-11 * scale)
    back, same = located(curve.reversed(), xy)
    assert same == pytest.approx(distance, abs=1e-11)
    # Which of two all but equally near points is found may differ; that each is as near as that may not.
    for run, line in ((s, curve), (back, curve.reversed())):
        assert np.hypot(*(line.point_at(run) - xy).T) == pytest.approx(distance, abs=1e-10)


@pytest.mark.parametrize("xy", [[(0, np.nan)], [(np.inf, 0)], [1, 2], [(1, 2, 3)], np.zeros((2, 2, 2))])
def test_what_is_no_point_is_refused(xy: Any) -> None:
    with pytest.raises(CurveError, match=r"must be finite and of shape \(m, 2\)"):
        located(SQUARE, xy)


def test_no_points() -> None:
    assert [len(x) for x in located(SQUARE, np.zeros((0, 2)))] == [0, 0]
