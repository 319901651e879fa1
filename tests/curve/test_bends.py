"""Turning, the tightest bend at a point, and the working radius a strip of a given width feels.

Brute force is the judge of windows: headings sampled densely from the derivative, laid out over arc length summed by
Simpson's rule, and every window tried that begins or ends on a sample.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import mpmath
import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from reference_curves import circle_arc, ellipse, random_vine, sine

import bias_drafting as bd
from bias_drafting.curve.bezier import subsegments
from bias_drafting.curve.curve import Curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

SQUARE_CORNER = Curve.from_points([(0, 0), (50, 0), (50, 50)])


# --- windows by hand ------------------------------------------------------------------------------------------


def test_a_square_corner_under_a_window() -> None:
    # The corner turns by a right angle within the window: 6 / (pi/2) = 3.82 mm, wherever in the window it lies.
    bend = SQUARE_CORNER.tightest(window=6)
    assert bend.radius == pytest.approx(6 / (np.pi / 2), rel=1e-12)
    assert round(bend.radius, 2) == 3.82
    assert bend.side == "right"
    assert bend.window == 6
    assert bend.s == pytest.approx(50, abs=1e-9)
    assert bend.point == pytest.approx((50, 0), abs=1e-9)


def test_a_square_corner_at_a_point() -> None:
    bend = SQUARE_CORNER.tightest()
    assert (bend.radius, bend.s, bend.side, bend.window) == (0.0, 50.0, "right", 0.0)
    assert SQUARE_CORNER.reversed().tightest().side == "left"


def test_the_window_at_each_place() -> None:
    found = SQUARE_CORNER.working_radius_at([0, 10, 46.9, 47.1, 50, 52.9, 53.1, 100], window=6)
    corner = 6 / (np.pi / 2)
    assert found == pytest.approx([np.inf, np.inf, np.inf, corner, corner, corner, np.inf, np.inf])
    # The corner on the very edge of the window counts.
    assert SQUARE_CORNER.working_radius_at([47, 53], window=6) == pytest.approx([corner, corner])


def test_windows_stay_inside_an_open_curve() -> None:
    # 1 mm from the end the window is the last 6 mm, which hold the corner only if it is that near.
    near_the_end = Curve.from_points([(0, 0), (50, 0), (50, 5)])
    assert near_the_end.working_radius_at([54, 55], window=6) == pytest.approx([6 / (np.pi / 2)] * 2)
    assert near_the_end.working_radius_at([54, 55], window=4) == pytest.approx([np.inf] * 2)


@pytest.mark.parametrize("window", [1e-3, 0.1, 6.35, 100.0, 300.0])
def test_a_circle_has_the_same_working_radius_everywhere(window: float) -> None:
    circle = Curve.from_svg_path("M50 0A50 50 0 0 1 -50 0A50 50 0 0 1 50 0Z")
    assert circle.tightest(window).radius == pytest.approx(50, rel=1e-6)
    assert circle.working_radius_at(np.linspace(0, circle.length, 17), window) == pytest.approx(50, rel=1e-5)
    assert circle.tightest(window).side == "right"


@pytest.mark.parametrize("window", [40.0, 100.0, 1000.0])
def test_a_curve_shorter_than_the_window_is_taken_whole(window: float) -> None:
    # It is averaged over its own length: turn and length both whole.
    arc = circle_arc(20, 90)
    bend = arc.tightest(window)
    assert bend.radius == pytest.approx(20, rel=1e-9)
    assert bend.s == pytest.approx(arc.length / 2)
    assert arc.working_radius_at([0, arc.length], window) == pytest.approx([20, 20])
    # An S that comes back to its first direction turns by nothing on the whole.
    wave = sine(1, 8, 0, 8, pieces=100)
    assert wave.tightest(window).radius > 1e6


def test_a_closed_curve_wraps_over_its_start() -> None:
    # The same square begun at a corner and half way along a side: the bend is the same, and is found in both.
    corners = [(0, 0), (40, 0), (40, 40), (0, 40)]
    begun_at_a_corner = Curve.from_points(corners, closed=True)
    begun_on_a_side = Curve.from_points([(20, 0), *corners[1:], corners[0]], closed=True)
    for square in (begun_at_a_corner, begun_on_a_side):
        assert square.tightest(10).radius == pytest.approx(10 / (np.pi / 2), rel=1e-12)
    assert begun_at_a_corner.working_radius_at([0, 160, 3, 157], window=10) == pytest.approx(
        [10 / (np.pi / 2)] * 4
    )
    assert begun_on_a_side.working_radius_at([0, 160], window=10) == pytest.approx([np.inf] * 2)
    # A window of 50 always holds one corner, and holds two where it can.
    assert begun_on_a_side.tightest(50).radius == pytest.approx(50 / np.pi, rel=1e-12)
    # Once round and no corner in the drawing: an ellipse begun where it bends most.
    round_the_start = ellipse(40, 20).tightest(15)
    assert round_the_start.radius == pytest.approx(ellipse_by_mpmath(40, 20, 15), rel=1e-8)


def ellipse_by_mpmath(a: float, b: float, window: float) -> float:
    """The working radius at the end of the long axis, by the incomplete elliptic integral and the exact tangents."""
    mp = mpmath.MPContext()
    mp.dps = 25

    def arc(u: Any) -> Any:
        return mp.quad(lambda x: mp.hypot(a * mp.sin(x), b * mp.cos(x)), [0, u])

    u = mp.findroot(lambda x: arc(x) - mp.mpf(window) / 2, window / (2 * b))
    # The tangent (-a sin u, b cos u) leaves the long axis' end upright and has turned by this much at u.
    return float(window / (2 * mp.atan2(a * mp.sin(u), b * mp.cos(u))))


@pytest.mark.parametrize(("a", "b"), [(40.0, 20.0), (50.0, 10.0), (30.0, 29.0)])
@pytest.mark.parametrize("window", [0.5, 6.35, 25.4])
def test_an_ellipse_under_a_window(a: float, b: float, window: float) -> None:
    bend = ellipse(a, b, 1000).tightest(window)
    assert bend.radius == pytest.approx(ellipse_by_mpmath(a, b, window), rel=3e-7)
    assert bend.radius > b * b / a
    assert abs(bend.point[0]) == pytest.approx(a, rel=1e-3)


@pytest.mark.parametrize("window", [0, 1.0, 30.0, 1e6])
def test_a_straight_line_does_not_bend(window: float) -> None:
    for line in (
        Curve.from_points([(1, 2), (31, 42)]),
        Curve.from_points([(0, 0), (10, 10), (20, 20), (70, 70)]),
        Curve.from_svg_path("M0 0C0 0 50 7 50 7"),
        Curve.from_svg_path("M1 1C2 2 30 30 31 31"),
    ):
        bend = line.tightest(window)
        assert (bend.radius, bend.side) == (np.inf, "none")
        assert line.turning == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_standing_still_on_a_straight_line_is_no_bend(seed: int) -> None:
    # The speed is 100 (t - r)^2: 0 at r, doubly, and nothing turns; rounding must not make two folds of it. Away
    # from the origin coordinates are rounded more coarsely.
    rng = np.random.default_rng(seed)
    for _ in range(12):
        r, angle = rng.uniform(0.1, 0.9), rng.uniform(0, 2 * np.pi)
        steps = 100 / 3 * np.array([0, r * r, -r * (1 - r), (1 - r) ** 2])
        line = np.cumsum(steps)[:, None] * (np.cos(angle), np.sin(angle))
        curve = Curve((line + rng.choice([0, 1, 100]) * rng.normal(size=2))[None])
        assert curve.turning == pytest.approx(0, abs=1e-5)
        assert curve.length == pytest.approx(100 / 3 * (r**3 + (1 - r) ** 3), rel=1e-12)
        assert curve.tightest(0.5).radius > 1e6


def test_a_window_that_covers_a_spur() -> None:
    # A bend far narrower than any even spacing of samples: it fills a few millionths of its segment.
    for sharp in (0.01, 1e-4, 1e-6):
        curve = Curve(np.array([[[0, 0], [60, 60 + sharp], [0, 60], [60, 0.0]]]))
        assert curve.tightest(1.0).radius == pytest.approx(1.0 / np.pi, rel=0.2)
        assert curve.tightest(1.0).radius <= brute_force(curve.controls, False, 1.0) * (1 + 1e-6)


# --- turning --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "degrees"),
    [
        ("M0 0H50V50", 90),
        ("M0 0H50V50H0Z", 360),
        ("M0 0L10 10L20 0L30 10", 180),
        ("M0 0H50H10", 180),
        ("M0 0A5 5 0 0 1 10 0", 180),
        ("M0 0A5 5 0 0 1 10 0A5 5 0 0 0 20 0", 360),
        ("M0 0C10 10 0 10 10 0", 270),
        ("M0 0.01C3 2.99 0.01 2.99 2.99 0.01", 270.191624),
        ("M0 0C30 0 -20 0 10 0", 360),
        ("M0 0C10 0 0 10 10 10", 180),
        ("M0 0C0 0 20 0 20 20", 90),
        ("M0 0C40 20 -30 20 10 0", 306.869898),
        ("M0 0C60 60 120 -60 120 0S60 60 0 0", None),
    ],
)
def test_turning_in_degrees(path: str, degrees: float | None) -> None:
    curve = Curve.from_svg_path(path)
    if degrees is not None:
        assert curve.turning == pytest.approx(degrees, abs=2e-6)
    # Added up over a fine polyline the corners of the polyline must give the same.
    line = np.diff(curve.flattened(1e-6), axis=0)
    heading = line[:, 0] + 1j * line[:, 1]
    turns = np.abs(np.angle(heading[1:] * np.conj(heading[:-1]))).sum()
    if curve.closed:
        turns += abs(np.angle(heading[0] * np.conj(heading[-1])))
    assert curve.turning == pytest.approx(np.degrees(turns), abs=0.3)


def test_an_s_curve_turns_both_ways() -> None:
    # atan(A k) each way from the middle, four times over a period: nothing cancels.
    k = 2 * np.pi / 8
    assert sine(1, 8, 0, 8).turning == pytest.approx(np.degrees(4 * np.arctan(k)), rel=1e-9)


def exact_turning(segment: Array) -> float:
    """Total turning in degrees of one cubic, by mpmath at 50 digits: each stretch between inflections by itself."""
    mp = mpmath.MPContext()
    mp.dps = 50
    p = [mp.mpc(*map(float, point)) for point in segment]
    d0, d1, d2 = (p[k + 1] - p[k] for k in range(3))
    a, b, c = d0 - 2 * d1 + d2, 2 * (d1 - d0), d0

    def solved(x: Any, y: Any, z: Any) -> list[Any]:
        if x == 0:
            return [-z / y] if y != 0 else []
        root = mp.sqrt(y * y - 4 * x * z)
        return [(-y + root) / (2 * x), (-y - root) / (2 * x)]

    ab, ac, cb = ((mp.conj(u) * v).imag for u, v in ((a, b), (a, c), (c, b)))
    inside = sorted(mp.re(t) for t in solved(-ab, -2 * ac, cb) if mp.im(t) == 0 and 0 < mp.re(t) < 1)
    roots = solved(a, b, c)
    total, cuts = mp.mpf(0), [mp.mpf(0), *inside, mp.mpf(1)]
    for t0, t1 in pairwise(cuts):
        total += abs(sum(mp.arg((t1 - r) / (t0 - r)) for r in roots))
    return float(mp.degrees(total))


def test_turning_of_random_cubics() -> None:
    rng = np.random.default_rng(3)
    for segment in rng.uniform(-50, 50, (60, 4, 2)):
        assert Curve(segment[None]).turning == pytest.approx(exact_turning(segment), rel=1e-9)


@pytest.mark.parametrize("power", range(2, 16))
def test_turning_of_cubics_that_are_nearly_degenerate(power: int) -> None:
    # Handles nearly drawn in, cusps and folds nearly met, at every scale of nearly: where rounding lives.
    rng = np.random.default_rng(power)
    shapes = [
        [(0, 0), (3, 3), (0, 3), (3, 0)],
        [(0, 0), (0, 0), (1, 2), (3, 0)],
        [(0, 0), (3, 1), (2, 2), (2, 2)],
        [(0, 0), (3, 0), (-2, 0), (1, 0)],
    ]
    for shape in shapes:
        base = np.array(shape, dtype=float)
        segment = base + rng.integers(-1, 2, (4, 2)) * 10.0**-power
        answers = [exact_turning(segment)]
        if power > 10:  # as good an answer is the shape it is nearly
            answers.append(Curve(base[None]).turning)
        assert min(abs(Curve(segment[None]).turning - answer) for answer in answers) < 0.01, segment.tolist()


# --- the least radius at a point ------------------------------------------------------------------------------


def test_the_least_radius_is_not_missed_between_samples() -> None:
    rng = np.random.default_rng(11)
    for segment in rng.uniform(-50, 50, (40, 4, 2)):
        curve, t = Curve(segment[None]), np.linspace(0, 1, 200_001)[:, None]
        d = np.diff(segment, axis=0)
        first = d[0] * (1 - t) ** 2 + 2 * d[1] * t * (1 - t) + d[2] * t**2
        second = 2 * ((d[1] - d[0]) * (1 - t) + (d[2] - d[1]) * t)
        bend = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 3 * np.hypot(*first.T) ** -3 * 1.0
        sampled = 1 / np.abs(bend).max()
        found = curve.tightest()
        assert found.radius <= sampled * (1 + 1e-9)
        assert found.radius == pytest.approx(sampled, rel=1e-3)
        assert found.side == ("right" if bend[np.abs(bend).argmax()] > 0 else "left")
        assert abs(curve.curvature_at(found.s)) == pytest.approx(1 / found.radius, rel=1e-5)
        assert curve.point_at(found.s) == pytest.approx(found.point, abs=1e-9)


def test_a_drawn_in_handle_has_radius_0_at_a_point_and_a_fine_working_radius() -> None:
    stem = Curve.from_svg_path("M0 0C0 0 50 0 50 40")
    assert (stem.tightest().radius, stem.tightest().s) == (0.0, 0.0)
    assert stem.tightest(6.35).radius > 5


def test_a_joint_rounded_by_a_file_is_no_corner() -> None:
    # Two decimals on handles of 3 mm: the joint turns by a fifth of a degree. A turn by two degrees is a corner.
    smooth = Curve.from_svg_path("M0 0C10 0 17 0 20 0C23 0.01 30 0 40 10")
    assert smooth.tightest().radius > 1
    kinked = Curve.from_svg_path("M0 0C10 0 17 0 20 0C23 0.11 30 0 40 10")
    assert kinked.tightest().radius == 0


# --- brute force ----------------------------------------------------------------------------------------------


def headings(controls: Array, closed: bool, steps: int = 4000) -> tuple[Array, Array]:
    """Arc length and running heading at samples of a chain, joints twice; once more round if closed."""
    t = np.linspace(0, 1, steps + 1)
    middle, run, lengths, turns = (t[1:] + t[:-1]) / 2, 0.0, [], []
    last = None
    for segment in controls:
        d = np.diff(segment[:, 0] + 1j * segment[:, 1]) * 3
        velocity, between = (d[0] * (1 - x) ** 2 + 2 * d[1] * x * (1 - x) + d[2] * x**2 for x in (t, middle))
        speed = np.abs(velocity)
        steps_long = (speed[1:] + 4 * np.abs(between) + speed[:-1]) / 6 / steps
        s = run + np.concatenate([[0], np.cumsum(steps_long)])
        heading = np.unwrap(np.angle(velocity))
        if last is not None:
            heading += last + np.angle(np.exp(1j * (heading[0] - last))) - heading[0]
        run, last = s[-1], heading[-1]
        lengths.append(s)
        turns.append(heading)
    s, heading = np.concatenate(lengths), np.concatenate(turns)
    if closed:
        once = heading[-1] + np.angle(np.exp(1j * (heading[0] - heading[-1]))) - heading[0]
        s, heading = np.concatenate([s, s + run]), np.concatenate([heading, heading + once])
    return s, heading


def brute_force(controls: Array, closed: bool, window: float) -> float:
    """The least working radius over windows that begin or end on a sample, on either side of joints."""
    s, heading = headings(controls, closed)
    length = s[-1] / 2 if closed else s[-1]
    latest = length if closed else length - window
    starts = np.concatenate([s, s - window, [0, latest]])
    starts = starts[(starts >= 0) & (starts <= latest)]

    def at(x: Array, side: bool) -> Array:
        k = np.clip(np.searchsorted(s, x, side="right" if side else "left"), 1, len(s) - 1)
        span = s[k] - s[k - 1]
        share = np.clip((x - s[k - 1]) / np.where(span > 0, span, 1), 0, 1)
        return np.asarray(heading[k - 1] + share * (heading[k] - heading[k - 1]))

    both = (False, True)
    turns = [np.abs(at(starts + window, end) - at(starts, start)).max() for start in both for end in both]
    return float(window / max(turns))


@pytest.mark.parametrize("seed", range(40))
def test_no_window_turns_more_than_the_one_reported(seed: int) -> None:
    rng = np.random.default_rng(seed)
    controls = random_vine(rng, int(rng.integers(1, 6)), kinks=0.5 * (seed % 2))
    closed = seed % 4 == 3
    if closed:
        controls[-1, 3] = controls[0, 0]
        controls[-1, 2] = 2 * controls[0, 0] - controls[0, 1]
    curve = Curve(controls, closed)
    window = float(np.exp(rng.uniform(np.log(0.3), np.log(0.95 * curve.length))))
    bend, sampled = curve.tightest(window), brute_force(controls, closed, window)
    assert bend.radius <= sampled * (1 + 2e-6)
    assert bend.radius >= sampled * (1 - 1e-4)
    # And it is truly felt at the place reported.
    assert curve.working_radius_at(bend.s, window) == pytest.approx(bend.radius, rel=1e-9)
    assert curve.point_at(bend.s) == pytest.approx(bend.point, abs=1e-9)


def test_the_brute_force_itself_on_a_circle_and_a_corner() -> None:
    assert brute_force(circle_arc(20, 90, pieces=20).controls, False, 5.0) == pytest.approx(20, rel=1e-4)
    assert brute_force(SQUARE_CORNER.controls, False, 6.0) == pytest.approx(12 / np.pi, rel=1e-12)


def chain_of(parts: list[Any]) -> Array:
    """Cubics as complex numbers, each begun where the one before it ends and in its direction, as ``(n, 4, 2)``."""
    at, way, moved = 0j, 1 + 0j, []
    for part in parts:
        z = at + (part - part[0]) * way / np.exp(1j * np.angle(part[1] - part[0]))
        at, way = z[3], np.exp(1j * np.angle(z[3] - z[2]))
        moved.append(z)
    return np.stack([np.real(moved), np.imag(moved)], axis=-1)


@pytest.mark.parametrize("seed", [2, 9, 16, 42])
def test_of_bends_that_are_nearly_alike_the_tightest_is_told(seed: int) -> None:
    # Six bends to the left and to the right by turns, alike but for hundred-millionths of their size; every other one
    # is cut in two, so that each is looked at from other places. Each measured alone is the judge.
    rng, arm = np.random.default_rng(seed), np.array([0, 15, 30, 45]) + 0j
    bend = np.array([0, 30, rng.uniform(40, 60) + 1j * rng.uniform(0, 20), 60 + 1j * rng.uniform(20, 50)])
    parts, alone = [], []
    for k in range(6):
        size = 1 + rng.uniform(-1e-8, 1e-8)
        one = (bend if k % 2 else bend.conj()) * size
        cut = rng.uniform(0.2, 0.8)
        line = np.stack([one.real, one.imag], axis=1)[None]
        halves = subsegments(np.repeat(line, 2, axis=0), np.array([0, cut]), np.array([cut, 1])) @ (1, 1j)
        parts += [*halves, arm] if k % 2 else [one, arm]
        alone.append(Curve(chain_of([arm, one, arm])).tightest(6).radius)
    assert Curve(chain_of(parts)).tightest(6).radius == pytest.approx(min(alone), rel=1e-9)


# --- the least radius of many windows -------------------------------------------------------------------------

GENTLE_VINE = "M0 0C40 -60 60 60 100 0S160 40 200 0"
# The window that turns most ends beside an inflection.
INFLECTED = "M0.9435 15.3922C55.3626 16.0485 29.5629 0.2987 66.4038 12.3569"


@pytest.mark.parametrize("path", [GENTLE_VINE, INFLECTED, "M0 0C20 30 60 30 60 0", "M0 0H30L60 20"])
@pytest.mark.parametrize("window", [2.0, 6.35, 25.0])
def test_least_radii_against_brute_force(path: str, window: float) -> None:
    curve = Curve.from_svg_path(path)
    sampled = brute_force(curve.controls, False, window)
    assert curve.least_working_radii([window]) == pytest.approx([sampled], rel=2e-5)


@pytest.mark.parametrize("seed", range(8))
def test_least_radii_agree_with_the_tightest_bend(seed: int) -> None:
    rng, windows = np.random.default_rng(seed), np.array([0.5, 2.0, 6.35, 25.0, 60.0, 500.0])
    for controls in (rng.uniform(0, 80, (1, 4, 2)), random_vine(rng, 3), random_vine(rng, 4, kinks=0.5)):
        curve = Curve(controls)
        exact = windows / [curve.tightest(window).radius for window in windows]
        assert windows / curve.least_working_radii(windows) == pytest.approx(exact, abs=5e-6)


def test_least_radii_of_lines_and_arcs() -> None:
    assert SQUARE_CORNER.least_working_radii([6, 20]) == pytest.approx([12 / np.pi, 40 / np.pi], rel=1e-12)
    assert Curve.from_points([(0, 0), (70, 10)]).least_working_radii(6).tolist() == [np.inf]
    # Longer than the curve: the whole of it.
    assert circle_arc(20, 90).least_working_radii([15, 100]) == pytest.approx([20, 20], rel=1e-6)


@pytest.mark.parametrize("short", [1e-9, 1e-12])
def test_windows_hardly_shorter_than_the_curve(short: float) -> None:
    arc = circle_arc(20, 90)
    window = arc.length * (1 - short)
    assert arc.tightest(window).radius == pytest.approx(20, rel=1e-6)
    assert arc.least_working_radii([window]) == pytest.approx([20], rel=1e-6)
    assert arc.stretches_tighter_than(21, window) == ((0.0, arc.length),)
    assert arc.stretches_tighter_than(19, window) == ()


def test_joints_where_handles_are_drawn_in() -> None:
    # The curvature is infinite on either side of the joint, where it has no length to act on. With handles a hair
    # long the line is the same and brute force can follow it.
    drawn_in = [[[30, 20], [10, 0], [20, 30], [20, 30]], [[20, 30], [10, 10], [0, 20], [0, 20]]]
    curve, hair = Curve(np.array(drawn_in, dtype=float)), np.array(drawn_in, dtype=float)
    hair[:, 2] += 1e-7 * (hair[:, 1] - hair[:, 3])
    sampled = brute_force(hair, False, 3.0)
    assert curve.tightest(3).radius == pytest.approx(sampled, rel=1e-5)
    assert curve.least_working_radii([3]) == pytest.approx([sampled], rel=1e-5)
    assert len(curve.stretches_tighter_than(sampled * 1.01, 3)) == 1


# --- stretches that are too tight -----------------------------------------------------------------------------


def is_within(
    s: Array, stretches: tuple[tuple[float, float], ...], length: float, by: float
) -> NDArray[np.bool_]:
    """Whether each arc length lies in a stretch, by so much from both its ends that are not the curve's own."""
    inside = np.zeros(len(s), dtype=bool)
    for start, end in stretches:
        low = start + by if start > 0 else -1.0
        high = end - by if end < length else length + 1
        inside |= (s > low) & (s < high) if start <= end else (s > low) | (s < high)
    return inside


def closed_outline(seed: int) -> Curve:
    """A smooth closed outline of a few bends."""
    rng = np.random.default_rng(seed)
    angle = np.arange(5) * 2 * np.pi / 5
    z = np.exp(1j * angle) * rng.uniform(30, 60, 5)
    way = 1j * np.exp(1j * (angle + rng.uniform(-0.4, 0.4, 5))) * rng.uniform(8, 30, 5)
    z, way = np.append(z, z[0]), np.append(way, way[0])
    cubics = np.stack([z[:-1], z[:-1] + way[:-1], z[1:] - way[1:], z[1:]], axis=1)
    return Curve(np.stack([cubics.real, cubics.imag], axis=-1), closed=True)


def begun_at(curve: Curve, s: float) -> Curve:
    parts = [curve.section(s, curve.length).controls, curve.section(0, s).controls]
    return Curve(np.concatenate(parts), closed=True)


def test_stretches_round_an_arc_and_a_corner_by_hand() -> None:
    # Under a window of 6 mm an arc of radius 20 mm is felt as 30 mm where 4 mm of it lie in the window.
    arc = Curve.from_svg_path("M0 0H60A20 20 0 0 1 80 20V80")
    ((start, end),) = arc.stretches_tighter_than(30, 6)
    assert (start, end) == pytest.approx((61, 60 + 10 * np.pi - 1), abs=0.005)
    assert arc.working_radius_at([start, end], 6) == pytest.approx([30, 30], rel=1e-6)
    ((start, end),) = SQUARE_CORNER.stretches_tighter_than(24, 6)
    assert (start, end) == pytest.approx((47, 53), abs=1e-6)
    assert SQUARE_CORNER.stretches_tighter_than(3.8, 6) == ()
    assert SQUARE_CORNER.stretches_tighter_than(1e9, 300) == ((0.0, 100.0),)


def test_a_stretch_near_an_end_runs_out_to_it() -> None:
    # Within half a window of an end the window stays where it is, and so does what it feels.
    hooked = Curve.from_svg_path("M0 0A12 12 0 0 1 12 12V80A12 12 0 0 0 24 92")
    (first, last) = hooked.stretches_tighter_than(20, 6)
    assert first == pytest.approx((0, 6 * np.pi + 3 - 3.6), abs=0.01)
    assert last == pytest.approx((hooked.length - first[1], hooked.length), abs=0.01)
    assert (first[0], last[1]) == (0.0, hooked.length)


@pytest.mark.parametrize("seed", range(10))
def test_stretches_against_the_working_radius_everywhere(seed: int) -> None:
    rng = np.random.default_rng(seed)
    curve = closed_outline(seed) if seed % 2 else Curve(random_vine(rng, 4, kinks=0.5 * (seed % 4 == 0)))
    for window, share in ((6.35, 1.02), (3.0, 1.5), (25.0, 1.2), (6.35, 4.0)):
        radius = curve.tightest(window).radius * share
        stretches = curve.stretches_tighter_than(radius, window)
        s = np.linspace(0, curve.length, 3001)
        felt = curve.working_radius_at(s, window)
        # Ends are right to far less than a hundredth of the window.
        by = 1e-3 * window
        assert (felt[is_within(s, stretches, curve.length, by)] < radius * (1 + 1e-5)).all()
        assert (felt[~is_within(s, stretches, curve.length, -by)] > radius * (1 - 1e-5)).all()


@pytest.mark.parametrize("above", [1e-9, 1e-7, 1e-5, 1e-4, 1e-3])
def test_what_is_hardly_too_tight_has_its_stretch(above: float) -> None:
    rng = np.random.default_rng(1)
    for k in range(20):
        curve = closed_outline(k) if k % 4 == 0 else Curve(rng.uniform(0, 80, (1, 4, 2)))
        bend = curve.tightest(6)
        stretches = curve.stretches_tighter_than(bend.radius * (1 + above), 6)
        assert is_within(np.array([bend.s]), stretches, curve.length, -1e-9).all()
        assert curve.stretches_tighter_than(bend.radius * (1 - above), 6) == ()


def test_no_bend_and_no_gap_is_missed_between_places_looked_at() -> None:
    # A bend that is hardly too tight beside one that is much too tight; and two bends with a place between them that
    # is hardly wide enough.
    vine = Curve.from_svg_path("M0 0C50 0 30 60 90 60C150 60 130 -20 190 -30")
    for window in (4.0, 6.35, 11.0):
        s = np.linspace(0, vine.length, 40001)
        felt = vine.working_radius_at(s, window)
        inner = felt[1:-1]
        dips = felt[1:-1][(inner < felt[:-2]) & (inner < felt[2:])]
        crests = felt[1:-1][(inner > felt[:-2]) & (inner > felt[2:]) & np.isfinite(inner) & (inner < 100)]
        assert len(dips) >= 3
        assert len(crests) >= 1
        for limit in [*(dips * (1 + 1e-6)), *(crests * (1 - 1e-6))]:
            below = felt < limit
            runs = int(below[0]) + int((below[1:] & ~below[:-1]).sum())
            assert len(vine.stretches_tighter_than(limit, window)) == runs


@pytest.mark.parametrize("share", [1.0001, 1.1, 2.0])
def test_stretches_do_not_depend_on_where_a_closed_curve_begins(share: float) -> None:
    outline = closed_outline(4)
    radius, length = outline.tightest(6).radius * share, outline.length
    wanted = sorted((a % length, (b - a) % length) for a, b in outline.stretches_tighter_than(radius, 6))
    over_the_start, edges = 0, []
    for a, b in outline.stretches_tighter_than(radius, 6):
        edges += [a - 0.3, a, a + 0.3, (a + b) / 2, b - 0.3, b, b + 0.3]
    for s0 in [*edges, *np.linspace(1, length - 1, 7)]:
        found = begun_at(outline, float(s0)).stretches_tighter_than(radius, 6)
        over_the_start += sum(b < a for a, b in found)
        back = sorted(((a + s0) % length, (b - a) % length) for a, b in found)
        assert len(back) == len(wanted)
        assert np.array(back) == pytest.approx(np.array(wanted), abs=1e-3)
    assert over_the_start >= 1


def test_a_stretch_beside_the_start_is_followed_over_it() -> None:
    # The start lies just within the stretch, nearer to its edge than the places looked at are to each other.
    egg = Curve(
        np.array([[(0, 0), (0, -60), (100, -60), (100, 0)], [(100, 0), (100, 20), (0, 20), (0, 0)]]), True
    )
    radius = 2 * egg.tightest(6).radius
    begun = begun_at(egg, 149.980267)
    (over, other) = begun.stretches_tighter_than(radius, 6)
    assert over[1] < over[0] < begun.length
    for start, end in (over, other):
        before_and_after = np.array([start - 0.06, start + 0.06, end - 0.06, end + 0.06]) % begun.length
        felt = begun.working_radius_at(before_and_after, 6)
        assert (felt < radius).tolist() == [False, True, True, False]


def test_a_ring_is_one_stretch_or_none() -> None:
    ring = Curve.from_svg_path("M20 0A20 20 0 0 1 -20 0A20 20 0 0 1 20 0Z")
    assert ring.stretches_tighter_than(21, 6) == ((0.0, ring.length),)
    assert ring.stretches_tighter_than(19, 6) == ()


@pytest.mark.parametrize(
    ("radius", "window"), [(0, 6), (-3, 6), (float("nan"), 6), (20, 0), (20, float("inf"))]
)
def test_stretches_need_a_radius_and_a_window(radius: float, window: float) -> None:
    with pytest.raises(bd.CurveError):
        SQUARE_CORNER.stretches_tighter_than(radius, window)


# --- properties -----------------------------------------------------------------------------------------------

coordinates = st.integers(-1000, 1000).map(lambda k: k / 10)
points = st.tuples(coordinates, coordinates)
vines = st.lists(st.tuples(points, points, points), min_size=1, max_size=4)


def chained(pieces: list[tuple[tuple[float, float], ...]]) -> Curve:
    start, controls = (0.0, 0.0), []
    for piece in pieces:
        controls.append([start, *piece])
        start = piece[-1]
    try:
        return Curve(np.array(controls))
    except bd.CurveError:
        assume(False)
        raise


def steady(curve: Curve) -> bool:
    """Whether rounding cannot decide which way a corner or a cusp turns, or whether a handle is drawn in."""
    reach = np.hypot(*np.diff(curve.controls, axis=1).transpose(2, 0, 1))
    handles = np.diff(curve.controls, axis=1) @ (1, 1j)
    corners = np.abs(np.angle(handles[1:, 0] * np.conj(handles[:-1, 2])))
    return bool((reach > 1).all() and (corners < 3).all() and 1 / max(curve.tightest().radius, 1e-300) < 100)


@settings(max_examples=35)
@given(vines, st.floats(0.5, 60))
@example([((0.0, 20.0), (30.0, 40.0), (50.0, 40.0))], 6.35)
def test_going_the_other_way_changes_the_side_alone(
    pieces: list[tuple[tuple[float, float], ...]], window: float
) -> None:
    curve = chained(pieces)
    assume(steady(curve))
    there, back = curve.tightest(window), curve.reversed().tightest(window)
    assert back.radius == pytest.approx(there.radius, rel=1e-5)
    assert curve.reversed().turning == pytest.approx(curve.turning, rel=1e-9, abs=1e-6)
    assert curve.reversed().length == pytest.approx(curve.length, rel=1e-12)
    s = np.linspace(0.1, 0.9, 5) * curve.length
    assert curve.reversed().curvature_at(curve.length - s) == pytest.approx(
        -curve.curvature_at(s), rel=1e-4, abs=1e-6
    )


@settings(max_examples=35)
@given(vines, st.floats(0.5, 60), st.floats(-180, 180), st.floats(0.1, 20), st.booleans())
def test_turned_scaled_and_mirrored(
    pieces: list[tuple[tuple[float, float], ...]], window: float, degrees: float, scale: float, mirror: bool
) -> None:
    curve = chained(pieces)
    assume(steady(curve))
    c, s = scale * np.cos(np.radians(degrees)), scale * np.sin(np.radians(degrees))
    m = -1 if mirror else 1
    image = curve.transformed([[m * c, -s, 13], [m * s, c, -7]])
    assert image.length == pytest.approx(scale * curve.length, rel=1e-11)
    assert image.turning == pytest.approx(curve.turning, rel=1e-8, abs=1e-6)
    assert image.tightest(scale * window).radius == pytest.approx(
        scale * curve.tightest(window).radius, rel=1e-5
    )
    assert image.tightest().radius == pytest.approx(scale * curve.tightest().radius, rel=1e-6)
    at = 0.37 * curve.length
    assert image.curvature_at(scale * at) == pytest.approx(
        m * curve.curvature_at(at) / scale, rel=1e-5, abs=1e-8
    )


@settings(max_examples=35)
@given(vines, st.floats(0.05, 0.95), st.floats(0.5, 60))
def test_no_place_bends_more_than_the_tightest(
    pieces: list[tuple[tuple[float, float], ...]], share: float, window: float
) -> None:
    curve = chained(pieces)
    assume(steady(curve))
    felt = curve.working_radius_at(np.append(np.linspace(0, 1, 40), share) * curve.length, window)
    assert felt.min() >= curve.tightest(window).radius * (1 - 1e-6)


# --- refusals -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("window", [-1, -1e-9, float("nan"), float("inf")])
def test_windows_that_are_none(window: float) -> None:
    with pytest.raises(bd.CurveError, match="window of a bend"):
        SQUARE_CORNER.tightest(window)
    with pytest.raises(bd.CurveError, match="window of a working radius"):
        SQUARE_CORNER.working_radius_at(3, window)


def test_a_working_radius_needs_a_window() -> None:
    with pytest.raises(bd.CurveError, match="more than 0"):
        SQUARE_CORNER.working_radius_at(3, 0)
