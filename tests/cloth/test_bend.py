from __future__ import annotations

import dataclasses
import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import bias_drafting as bd

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]

COTTON = bd.Cloth()
RHO = 1.20 / 0.92
WIDTHS = (RHO + 1) / (RHO - 1) / 2  # least radius of the default cloth, in widths: 3.785714
STRIPS: list[bd.Making] = [bd.FoldedStrip(), bd.SewnTube(), bd.RolledStrip()]
ALL: list[bd.Making] = [*STRIPS, bd.TurnedTemplate()]
each = pytest.mark.parametrize("making", ALL, ids=lambda making: making.key)
each_strip = pytest.mark.parametrize("making", STRIPS, ids=lambda making: making.key)


# --- curves whose bends are known ---------------------------------------------------------------------------


def arc_controls(radius: float, degrees: float, start: complex, heading: float, step: float) -> Array:
    """Cubics of an arc that turns right by ``degrees`` (left if negative), each of at most ``step`` degrees."""
    count = math.ceil(abs(degrees) / step)
    turn = math.radians(degrees) / count
    side = math.copysign(1, degrees)
    centre = start + radius * side * 1j * np.exp(1j * heading)
    at = heading + turn * np.arange(count + 1)
    points = centre - radius * side * 1j * np.exp(1j * at)
    handle = 4 / 3 * math.tan(abs(turn) / 4) * radius * np.exp(1j * at)
    columns = [points[:-1], points[:-1] + handle[:-1], points[1:] - handle[1:], points[1:]]
    stacked = np.stack(columns, axis=1)
    return np.stack([stacked.real, stacked.imag], axis=-1)


def path(
    *parts: tuple[float, float], closed: bool = False, heading: float = 0.0, step: float = 15.0
) -> bd.Curve:
    """A curve of lines ``(length, 0)``, arcs ``(radius, degrees)`` and corners ``(0, degrees)``, right positive."""
    at, pieces = 0j, []
    for size, degrees in parts:
        if degrees == 0:
            ends = at, at + size * np.exp(1j * heading)
            line = np.array([ends[0] + (ends[1] - ends[0]) * k / 3 for k in range(4)])
            pieces.append(np.stack([line.real, line.imag], axis=-1)[None])
        elif size > 0:
            pieces.append(arc_controls(size, degrees, at, heading, step))
        heading += math.radians(degrees)
        if pieces:
            at = complex(*pieces[-1][-1, 3])
    controls = np.concatenate(pieces)
    if closed:
        controls[-1, 3] = controls[0, 0]
    return bd.Curve(controls, closed=closed)


def ring(radius: float) -> bd.Curve:
    return path((radius, 360), closed=True, step=4)


class Dense:
    """Direction against arc length, sampled densely and straight from the control points: another route."""

    def __init__(self, curve: bd.Curve, nodes: int = 600) -> None:
        abscissae, weights = np.polynomial.legendre.leggauss(8)
        t = np.linspace(0, 1, nodes + 1)
        inner = (t[:-1] + t[1:])[:, None] / 2 + abscissae / (2 * nodes)
        runs, headings, length, last = [], [], 0.0, None
        for controls in curve.controls:
            d = 3 * np.diff(controls, axis=0)

            def speed(at: Array, d: Array = d) -> Array:
                x = at[..., None]
                return np.asarray(d[0] * (1 - x) ** 2 + 2 * d[1] * x * (1 - x) + d[2] * x**2)

            steps = (np.linalg.norm(speed(inner), axis=-1) * weights).sum(axis=1) / (2 * nodes)
            run = length + np.concatenate([[0], np.cumsum(steps)])
            heading = np.unwrap(np.arctan2(*speed(t).T[::-1]))
            if last is not None:
                corner = (heading[0] - last + np.pi) % (2 * np.pi) - np.pi
                heading += last + corner - heading[0]
                run[0] += 1e-9  # a corner is a very short bend
            runs.append(run)
            headings.append(heading)
            length, last = run[-1], heading[-1]
        self.s, self.heading = np.concatenate(runs), np.concatenate(headings)
        self.length, self.closed = length, curve.closed
        if curve.closed:
            corner = (self.heading[0] - self.heading[-1] + np.pi) % (2 * np.pi) - np.pi
            once = self.heading[-1] + corner - self.heading[0]
            self.s = np.concatenate([self.s, self.s + length + 1e-9])
            self.heading = np.concatenate([self.heading, self.heading + once])

    def radius(self, window: float) -> float:
        """The least working radius, over windows that begin or end on any node."""
        s, heading = self.s, self.heading
        from_node = np.interp(s + window, s, heading) - heading
        to_node = heading - np.interp(s - window, s, heading)
        inside = s + window <= s[-1], s - window >= s[0]
        turns = np.concatenate([from_node[inside[0]], to_node[inside[1]]])
        most = float(np.abs(turns).max())
        return window / most if most > 1e-12 else math.inf

    def widest(self, least: Callable[[float], float], narrowest: float = 0.1) -> float:
        """The widest that passes with all narrower ones, by trying them in steps of 3 per cent."""
        low = narrowest
        if self.radius(low) < least(low):
            return 0.0
        while low < self.length * 0.97:
            high = low * 1.03
            if self.radius(high) >= least(high):
                low = high
                continue
            for _ in range(40):
                middle = (low + high) / 2
                low, high = (low, middle) if self.radius(middle) < least(middle) else (middle, high)
            return low
        return math.inf


# --- verdicts at the limits ---------------------------------------------------------------------------------


@each
@pytest.mark.parametrize(("radius", "shape"), [(12.0, "arc"), (333.0, "ring")])
def test_verdicts_beside_each_limit(making: bd.Making, radius: float, shape: str) -> None:
    curve = ring(radius) if shape == "ring" else path((radius, -170), step=4)
    most = making.widest(radius, COTTON)
    easy = making.widest(radius, COTTON, share=0.5)
    assert 0 < easy < most
    for width, verdict in [
        (easy * (1 - 1e-6), bd.Verdict.LIES_FLAT),
        (easy * (1 + 1e-6), bd.Verdict.NEEDS_EASING),
        (most * (1 - 1e-6), bd.Verdict.NEEDS_EASING),
        (most * (1 + 1e-6), bd.Verdict.TOO_TIGHT),
        (most * 1.3, bd.Verdict.TOO_TIGHT),
    ]:
        check = bd.check_stem(curve, width, making)
        assert check.verdict is verdict
        assert check.passes == (verdict is not bd.Verdict.TOO_TIGHT)
        assert bool(check.spots) == (not check.passes)
        assert check.tightest.radius == pytest.approx(radius, rel=1e-7)
        assert check.tightest.window == width
        assert check.widest == pytest.approx(most, rel=1e-6)


@each
def test_exactly_at_the_limit_it_passes(making: bd.Making) -> None:
    # The radius the curve itself gives at this width, so that rounding decides nothing.
    curve = path((60, 0), (40, 170), (60, 0))
    widest = bd.check_stem(curve, 5, making).widest
    at = bd.check_stem(curve, widest, making)
    assert at.passes
    assert at.tightest.radius == pytest.approx(at.least_radius, rel=1e-8)
    assert at.widest == pytest.approx(widest, rel=1e-7)


# --- the numbers against their closed forms -----------------------------------------------------------------


@each_strip
@pytest.mark.parametrize(("stretch", "ease"), [(0.20, 0.08), (0.1, 0.0), (0.0, 0.05), (0.35, 0.2)])
def test_least_radius_of_a_strip(making: bd.Making, stretch: float, ease: float) -> None:
    cloth = bd.Cloth("lawn", stretch=stretch, ease=ease)
    check = bd.check_stem(path((200, 60), step=4), 6, making, cloth)
    for found, part in ((check.least_radius, 1.0), (check.easy_radius, 0.5)):
        rho = (1 + part * stretch) / (1 - part * ease)
        # The inner edge of the tightest bend is to its outer edge as 1 to rho.
        assert (found + 3) / (found - 3) == pytest.approx(rho, rel=1e-12)
    rho = (1 + stretch) / (1 - ease)
    assert check.widest == pytest.approx(2 * 200 * (rho - 1) / (rho + 1), rel=1e-6)


@pytest.mark.parametrize("off_bias", [0, 5, 10, -10, 30, 44])
def test_least_radius_off_the_bias(off_bias: float) -> None:
    # The pin-jointed net: a strip at angle a to the warp has, under shear g, the length sqrt(1 + sin 2a sin g).
    sine = math.cos(2 * math.radians(off_bias))
    stretch = math.sqrt(1 + sine * (1.2**2 - 1)) - 1
    ease = 1 - math.sqrt(1 + sine * (0.92**2 - 1))
    rho = (1 + stretch) / (1 - ease)
    check = bd.check_stem(path((100, 120), step=4), "1/4 in", off_bias=off_bias)
    assert check.off_bias == off_bias
    assert check.least_radius == pytest.approx(3.175 * (rho + 1) / (rho - 1), rel=1e-12)
    assert check.widest == pytest.approx(200 * (rho - 1) / (rho + 1), rel=1e-6)


@pytest.mark.parametrize("making", [bd.TurnedTemplate(), bd.TurnedTemplate(least_concave="5 mm")])
def test_limits_of_a_turned_template(making: bd.TurnedTemplate) -> None:
    curve = path((25, 200))
    check = bd.check_stem(curve, 8, making, bd.Cloth("canvas", stretch=0, ease=0), off_bias=45)
    assert check.least_radius == pytest.approx(4 + making.least_concave, rel=1e-12)
    assert check.easy_radius == pytest.approx(4 + 2 * making.least_concave, rel=1e-12)
    assert check.widest == pytest.approx(2 * (25 - making.least_concave), rel=1e-6)


def test_the_check_says_what_was_asked() -> None:
    cloth = bd.Cloth("lawn", stretch=0.15, ease=0.05)
    curve = path((90, 70))
    check = bd.check_stem(bd.Stem("pea vine", curve), "3/8 in", bd.SewnTube(), cloth, 7)
    assert (check.stem, check.width, check.making, check.cloth) == ("pea vine", 9.525, bd.SewnTube(), cloth)
    assert check.off_bias == 7
    assert check.length == curve.length
    assert bd.check_stem(curve, 9.525, bd.SewnTube(), cloth, 7) == dataclasses.replace(check, stem="")
    with pytest.raises(dataclasses.FrozenInstanceError):
        check.width = 3  # type: ignore[misc]


def test_all_strips_bend_alike_and_templates_further() -> None:
    curve = path((30, 90))
    checks = [bd.check_stem(curve, 9, making) for making in ALL]
    assert [check.verdict for check in checks] == [bd.Verdict.TOO_TIGHT] * 3 + [bd.Verdict.LIES_FLAT]
    assert len({(check.least_radius, check.widest) for check in checks[:3]}) == 1


# --- the widest width, against trying every width -----------------------------------------------------------


def _smooth(points: ArrayLike) -> bd.Curve:
    """Cubics through points, their tangents along the chords round each."""
    p = np.asarray(points, dtype=float)
    t = np.gradient(p, axis=0) / 3
    return bd.Curve(np.stack([p[:-1], p[:-1] + t[:-1], p[1:] - t[1:], p[1:]], axis=1))


CURVES = {
    "S-curve": _smooth([(0, 0), (30, 4), (60, 40), (95, 40)]),
    "one piece": bd.Curve.from_svg_path("M0 0C30 0 30 20 60 20"),
    "ellipse": bd.Curve.from_svg_path("M60 0A60 25 0 0 1 -60 0A60 25 0 0 1 60 0Z"),
    "slim ellipse": bd.Curve.from_svg_path("M60 0A60 12 0 0 1 -60 0A60 12 0 0 1 60 0Z"),
    "border vine": _smooth([(20 * k, 7 * (-1) ** k) for k in range(7)]),
    "gentle vine": _smooth([(40 * k, 4 * (-1) ** k) for k in range(5)]),
    "vine with a tendril's curl": _smooth([(0, 0), (60, 10), (80, 30), (70, 45), (60, 35), (70, 28)]),
    "slight corners": path((30, 0), (0, 8), (30, 0), (0, -9), (4, 0), (0, 9), (60, 90)),
    "two corners near each other": path((50, 0), (0, 9), (3.3, 0), (0, 9), (50, 0)),
    "corner against a bend": path((40, 60), (0, -12), (60, 40)),
    "square corner": path((50, 0), (0, 90), (50, 0)),
    "closed with corners": path((90, 60), (0, 10), (90, 100), (0, 10), (90, 180), closed=False),
    "many short pieces": bd.Curve.from_points([(20 * math.cos(a / 70), 20 * math.sin(a / 70)) for a in range(100)]),
}  # fmt: skip


@cache
def dense_of(name: str) -> Dense:
    return Dense(CURVES[name], nodes=600 if len(CURVES[name]) < 20 else 4000 // len(CURVES[name]))


@pytest.mark.parametrize("making", [bd.FoldedStrip(), bd.TurnedTemplate()], ids=lambda making: making.key)
@pytest.mark.parametrize("name", CURVES)
def test_the_widest_is_the_widest_that_passes_with_all_narrower(name: str, making: bd.Making) -> None:
    curve = CURVES[name]
    dense = dense_of(name)

    def least(width: float) -> float:
        return making.least_radius(width, COTTON)

    expected = dense.widest(least)
    check = bd.check_stem(curve, 7, making)
    if expected == math.inf:  # it passes up to its length
        assert check.widest >= curve.length
        return
    assert check.widest == pytest.approx(expected, rel=2e-4)
    if expected > 0:
        within, beyond = check.widest * (1 - 1e-6), check.widest * 1.001
        assert dense.radius(check.widest) >= least(check.widest) * (1 - 1e-4)
        assert bd.check_stem(curve, within, making).passes
        assert not bd.check_stem(curve, beyond, making).passes
        assert dense.radius(beyond) < least(beyond)


@pytest.mark.parametrize("name", CURVES)
def test_the_working_radius_agrees_with_dense_sampling(name: str) -> None:
    curve = CURVES[name]
    dense = dense_of(name)
    for width in (0.8, 6.35):
        check = bd.check_stem(curve, width)
        assert check.tightest.radius == pytest.approx(dense.radius(width), rel=1e-4)
        tight = dense.radius(width) < WIDTHS * width
        assert check.passes is not tight


@pytest.mark.parametrize("name", CURVES)
def test_the_widest_does_not_depend_on_the_width_asked_about(name: str) -> None:
    found = [bd.check_stem(CURVES[name], width).widest for width in (0.5, 20)]
    assert found == pytest.approx([found[0]] * 2, rel=1e-6)


def test_the_widest_is_the_same_when_it_is_asked_about() -> None:
    # A curve whose ends cancel out: it passes again when it is nearly as wide as it is long.
    curve = CURVES["one piece"]
    widest = bd.check_stem(curve, "1/4 in").widest
    for by in (-1e-6, -1e-9, 0, 1e-9, 1e-8, 1e-6, 1e-4, 0.1):
        check = bd.check_stem(curve, widest * (1 + by))
        assert check.widest == pytest.approx(widest, rel=1e-6)
        assert check.passes is (by < 5e-9)


def test_a_width_between_two_that_pass_may_fail() -> None:
    # Two corners to the right, 3 mm apart, fit under windows of 3 mm and more; from 3.5 mm on one of the corners to
    # the left beside them always comes with them. So 2.9 mm passes, 3.3 mm fails, and 4 mm passes again.
    curve = path((50, 0), (0, -9), (0.25, 0), (0, 9), (3, 0), (0, 9), (0.25, 0), (0, -9), (50, 0))
    assert [bd.check_stem(curve, width).passes for width in (1, 2.9, 3.1, 3.49, 3.51, 4, 9)] == [
        True, True, False, False, True, True, True,
    ]  # fmt: skip
    for width in (2, 3.3, 9):
        assert bd.check_stem(curve, width).widest == pytest.approx(3, rel=1e-6)


def test_slight_corners_bend_a_stem_too() -> None:
    # 400 corners of 0.9 degrees: none is called a corner, all together they are a ring.
    n = 400
    radius = 20.0
    points = [
        (radius * math.cos(2 * math.pi * k / n), radius * math.sin(2 * math.pi * k / n)) for k in range(n)
    ]
    check = bd.check_stem(bd.Curve.from_points(points, closed=True), "1/4 in")
    assert check.verdict is bd.Verdict.TOO_TIGHT
    # A window holds a whole number of corners, at best one more than its share.
    assert check.widest == pytest.approx(radius / WIDTHS, rel=0.06)
    assert "goes round at 3/16 in" in check.advice


def test_no_width_goes_round_a_sharp_corner() -> None:
    # Over a window w a corner of a radians has the working radius w / a: at 15.13 degrees just enough, at any width.
    limit = math.degrees(1 / WIDTHS)
    assert bd.check_stem(path((50, 0), (0, limit + 0.01), (50, 0)), 5).widest == 0
    check = bd.check_stem(path((50, 0), (0, limit - 0.01), (50, 0)), 5)
    assert check.passes
    assert check.widest >= 100


def test_a_stem_that_turns_little_in_all_passes_at_any_width() -> None:
    check = bd.check_stem(path((500, 5)), 5)
    assert check.widest == pytest.approx(500 / WIDTHS, rel=1e-6)
    assert check.widest > check.length


# --- where the tightest bend is -----------------------------------------------------------------------------


@pytest.mark.parametrize(("degrees", "side"), [(80, "right"), (-80, "left")])
def test_the_tightest_bend_is_on_the_arc(degrees: float, side: str) -> None:
    curve = path((40, 0), (15, degrees), (70, 0))
    check = bd.check_stem(curve, "1/4 in")
    arc = 15 * math.radians(80)
    # Wherever the window lies on the arc from end to end.
    assert 40 + 6.35 / 2 - 0.1 <= check.tightest.s <= 40 + arc - 6.35 / 2 + 0.1
    assert check.tightest.side == side
    centre = (40, math.copysign(15, degrees))
    assert math.dist(check.tightest.point, centre) == pytest.approx(15, rel=1e-5)
    assert check.tightest.point == pytest.approx(tuple(curve.point_at(check.tightest.s)), abs=1e-9)


def test_the_tightest_of_several_bends() -> None:
    curve = path((30, 0), (40, 90), (30, 0), (22, -60), (30, 0), (35, 50))
    check = bd.check_stem(curve, 4)
    begin = 30 + 40 * math.pi / 2 + 30
    assert begin < check.tightest.s < begin + 22 * math.pi / 3
    assert check.tightest.side == "left"
    assert check.tightest.radius == pytest.approx(22, rel=1e-5)


@pytest.mark.parametrize(("degrees", "side"), [(50, "right"), (-50, "left")])
def test_a_corner_is_found_where_it_is(degrees: float, side: str) -> None:
    check = bd.check_stem(path((40, 0), (0, degrees), (70, 0)), 6)
    assert check.tightest.s == pytest.approx(40, abs=1e-6)
    assert check.tightest.point == pytest.approx((40, 0), abs=1e-6)
    assert check.tightest.side == side
    assert check.tightest.radius == pytest.approx(6 / math.radians(50), rel=1e-9)


# --- tight spots --------------------------------------------------------------------------------------------


def test_one_spot_round_a_corner() -> None:
    check = bd.check_stem(path((40, 0), (0, 90), (70, 0)), 6)
    (spot,) = check.spots
    # The corner is felt while it is under the window: half a width to both sides.
    assert spot.start == pytest.approx(37, abs=0.06)
    assert spot.end == pytest.approx(43, abs=0.06)
    assert spot.bend == check.tightest
    assert spot.excess == pytest.approx(6 * WIDTHS - 6 / (math.pi / 2), rel=1e-9)


def test_several_spots_in_order_with_their_own_bends() -> None:
    width = 6.0
    curve = path((60, 0), (10, -90), (60, 0), (0, 60), (60, 0), (200, 40), (16, 70), (40, 0))
    check = bd.check_stem(curve, width)
    least = WIDTHS * width
    assert [spot.bend.side for spot in check.spots] == ["left", "right", "right"]
    first, second, third = check.spots
    for spot in check.spots:
        assert spot.start < spot.bend.s < spot.end
        assert spot.bend.window == width
        assert spot.excess == pytest.approx(least - spot.bend.radius, rel=1e-12)
    assert first.bend.radius == pytest.approx(10, rel=1e-5)
    assert second.bend.radius == pytest.approx(6 / math.radians(60), rel=1e-6)
    assert third.bend.radius == pytest.approx(16, rel=1e-5)
    assert check.tightest == second.bend
    # Too tight from where so much of the window lies on the arc that it turns by width / least.
    on_the_arc = 10 * width / least
    begin, end = 60.0, 60 + 10 * math.pi / 2
    assert first.start == pytest.approx(begin - width / 2 + on_the_arc, abs=width / 100)
    assert first.end == pytest.approx(end + width / 2 - on_the_arc, abs=width / 100)


def test_a_spot_over_the_start_of_a_closed_stem() -> None:
    # A square with rounded corners that starts in the middle of one.
    corner = [(60.0, 0.0), (9.0, 90.0)]
    curve = path((9, 45), *corner * 3, (60, 0), (9, 45), closed=True)
    check = bd.check_stem(curve, 6)
    assert len(check.spots) == 4
    over = [spot for spot in check.spots if spot.end < spot.start]
    assert len(over) == 1
    on_the_arc = 9 / WIDTHS
    reach = 9 * math.pi / 4 + 3 - on_the_arc
    assert over[0].end == pytest.approx(reach, abs=0.06)
    assert over[0].start == pytest.approx(curve.length - reach, abs=0.06)
    assert min(over[0].bend.s, curve.length - over[0].bend.s) < 9 * math.pi / 4
    assert [spot.start for spot in check.spots] == sorted(spot.start for spot in check.spots)


def test_a_spot_at_each_end_of_an_open_stem() -> None:
    curve = path((12, 60), (80, 0), (12, 60))
    first, last = bd.check_stem(curve, 6).spots
    assert first.start == 0
    assert last.end == pytest.approx(curve.length)


def test_a_ring_that_is_too_tight_all_round() -> None:
    (spot,) = bd.check_stem(ring(12), 6).spots
    assert spot.start == pytest.approx(0, abs=0.1)
    assert spot.end == pytest.approx(24 * math.pi, abs=0.1)
    assert spot.excess == pytest.approx(6 * WIDTHS - 12, rel=1e-6)


def test_a_stem_that_is_hardly_too_tight_has_a_spot() -> None:
    curve = CURVES["S-curve"]
    check = bd.check_stem(curve, bd.check_stem(curve, 3).widest * (1 + 1e-7))
    assert not check.passes
    (spot,) = check.spots
    assert spot.bend == check.tightest
    assert 0 < spot.excess < 1e-4


@pytest.mark.parametrize("narrower", [1e-8, 1e-6, 1e-4])
def test_a_spot_that_is_hardly_too_tight_is_a_stretch_about_its_bend(narrower: float) -> None:
    rng = np.random.default_rng(2)
    curves = [bd.Curve(controls) for controls in rng.uniform(0, 400, (24, 1, 4, 2))]
    wide = [curve for curve in curves if curve.tightest(6).radius > 5]
    assert len(wide) > 10
    for curve in wide:
        radius = curve.tightest(6).radius
        # A template whose least radius is that of the bend and a little more.
        making = bd.TurnedTemplate(least_concave=radius * (1 + narrower) - 3)
        check = bd.check_stem(curve, 6, making)
        assert check.verdict is bd.Verdict.TOO_TIGHT
        (spot,) = [spot for spot in check.spots if spot.bend == check.tightest]
        assert spot.start <= spot.bend.s <= spot.end
        assert curve.length > spot.end - spot.start > 0
        assert spot.excess == pytest.approx(radius * narrower, rel=1e-3)


def test_cloth_that_does_not_give_has_a_spot_on_a_stem_that_hardly_bends() -> None:
    # A radius of 1e12 mm: no rounding, and not straight.
    stem = bd.Curve(np.array([[(0, 0), (300, 0), (600, 4e-7 / 3), (900, 4e-7)]]))
    check = bd.check_stem(stem, 6, cloth=bd.Cloth("oilcloth", stretch=0, ease=0))
    assert check.verdict is bd.Verdict.TOO_TIGHT
    assert check.tightest.radius == pytest.approx(1e12, rel=0.1)
    assert [spot.bend for spot in check.spots] == [check.tightest]


def test_a_stem_that_passes_has_no_spots() -> None:
    assert bd.check_stem(path((60, 90)), 6).spots == ()


# --- straight stems, short stems, bad input -----------------------------------------------------------------


@each
@pytest.mark.parametrize("off_bias", [0, 45])
def test_straight_stems_lie_flat_at_any_width(making: bd.Making, off_bias: float) -> None:
    line = bd.Curve.from_points([(3, 4), (40, 19), (77, 34)])
    check = bd.check_stem(line, 30, making, off_bias=off_bias)
    assert check.verdict is bd.Verdict.LIES_FLAT
    assert (check.tightest.radius, check.tightest.side, check.widest) == (math.inf, "none", math.inf)
    assert ("straight grain" in check.advice) == making.from_strip


@pytest.mark.parametrize(
    ("cloth", "off_bias"), [(bd.Cloth("oilcloth", stretch=0, ease=0), 0), (COTTON, 45), (COTTON, -45)]
)
def test_cloth_that_does_not_give_goes_round_no_bend(cloth: bd.Cloth, off_bias: float) -> None:
    check = bd.check_stem(path((900, 20)), 6, cloth=cloth, off_bias=off_bias)
    assert check.verdict is bd.Verdict.TOO_TIGHT
    assert (check.least_radius, check.widest) == (math.inf, 0)
    for unit in ("in", "mm"):
        text = check.advice_in(unit)
        assert "this cloth does not bend at all" in text
        assert "narrower" not in text
        assert ("cut on the true bias" in text) == (off_bias != 0)
        assert "draw the bend wider" not in text


@pytest.mark.parametrize("length", [5, 5.9, 6])
def test_a_stem_must_be_longer_than_it_is_wide(length: float) -> None:
    line = bd.Curve.from_points([(0, 0), (length, 0)])
    with pytest.raises(bd.ClothError, match=f"^stub is {length} mm long and no longer than .* width of 6 mm"):
        bd.check_stem(bd.Stem("stub", line), 6)
    with pytest.raises(bd.ClothError, match=f"^the stem is {length} mm long"):
        bd.check_stem(line, "6 mm")
    with pytest.raises(bd.ClothError, match="must be longer than it is wide"):
        bd.check_stem(line, line.length)
    assert bd.check_stem(line, length * 0.99).passes


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, "0 in", "1/4", "", None, True])
def test_widths_that_cannot_be(bad: Any) -> None:
    with pytest.raises(bd.LengthError, match="the finished width"):
        bd.check_stem(path((60, 90)), bad)


@pytest.mark.parametrize("bad", [45.1, -46, math.nan, "10", None])
def test_angles_that_cannot_be(bad: Any) -> None:
    with pytest.raises(bd.ClothError, match="off_bias must be from 0"):
        bd.check_stem(path((60, 90)), 6, off_bias=bad)


@pytest.mark.parametrize("bad", ["cm", "", "inches", None])
def test_units_of_advice_that_are_not_there(bad: Any) -> None:
    with pytest.raises(bd.LengthError, match="advice is in 'in' or 'mm'"):
        bd.check_stem(path((60, 90)), 6).advice_in(bad)


# --- advice -------------------------------------------------------------------------------------------------


def advised_width(text: str) -> float | None:
    found = re.search(r"goes round at (.+? (?:in|mm)) or narrower", text)
    return None if found is None else bd.to_mm(found[1])


def told(text: str, pattern: str) -> float:
    found = re.search(pattern, text)
    assert found is not None, text
    return bd.to_mm(found[1])


ADVISED = [path((40, 0), (radius, turn), (50, 0)) for radius in (2, 11, 23.5) for turn in (30, -120)] + [
    CURVES["border vine"],
    CURVES["square corner"],
    CURVES["vine with a tendril's curl"],
    ring(15),
]


@pytest.mark.parametrize("making", [bd.FoldedStrip(), bd.TurnedTemplate()], ids=lambda making: making.key)
@pytest.mark.parametrize(("unit", "off_bias"), [("in", 0), ("mm", 35)])
def test_advice_on_tight_stems_is_true(making: bd.Making, unit: str, off_bias: float) -> None:
    step = 25.4 / 8 if unit == "in" else 1.0
    ruler = 25.4 / 16 if unit == "in" else 0.5
    seen = set()
    for curve in ADVISED:
        for width in (3.0, 25.0):
            check = bd.check_stem(curve, width, making, off_bias=off_bias)
            if check.passes:
                continue
            text = check.advice_in(unit)
            if making.from_strip and check.goes_mitred:
                assert text.startswith("Fold a mitre at its corner of 90 degrees")
                continue
            narrower = advised_width(text)
            if narrower is None:
                assert check.widest < ruler * (1 + 1e-9)
            else:
                assert check.widest - ruler < narrower <= check.widest * (1 + 1e-8)
                for share in (1, 0.6):
                    assert bd.check_stem(curve, narrower * share, making, off_bias=off_bias).passes
            template = "it can be made over a turned template" in text
            assert template == (making.from_strip and bd.check_stem(curve, width, bd.TurnedTemplate()).passes)
            on_bias = "goes round if it is cut on the true bias" in text
            assert on_bias == (off_bias != 0 and bd.check_stem(curve, width, making).passes)
            radius = told(text, r"has a radius of (.+? (?:in|mm));")
            assert -1e-8 <= check.tightest.radius - radius < step
            needs = told(text, r"needs (.+? (?:in|mm))\.")
            assert -1e-8 <= needs - check.least_radius < step
            where = told(text, r"The bend (.+? (?:in|mm)) from its start")
            assert abs(where - check.tightest.s) <= step / 2 * (1 + 1e-9)
            assert "draw the bend wider." in text
            seen |= {("narrower", narrower is not None), ("template", template), ("bias", on_bias)}
    assert ("narrower", True) in seen
    assert ("narrower", False) in seen
    assert (("template", True) in seen) == making.from_strip
    assert (("bias", True) in seen) == (off_bias != 0 and making.from_strip)


def test_advice_is_in_inches_unless_asked() -> None:
    check = bd.check_stem(path((40, 0), (12, 90), (40, 0)), "1/4 in")
    assert check.advice == check.advice_in("in")
    assert " mm" not in check.advice
    assert " in" not in re.sub(r"\bin the\b", "", check.advice_in("mm")).replace(" inner", "")


def test_advice_on_stems_to_ease() -> None:
    curve = path((40, 0), (30.4, 120), (40, 0))
    strip = bd.check_stem(curve, 6).advice_in("mm")
    assert re.fullmatch(
        r"The bend \d+ mm from its start has a radius of 30 mm: "
        r"steam and ease its inner edge as you lay it, and it will go flat\.",
        strip,
    )
    # Over paper nothing is stretched or eased.
    template = bd.check_stem(path((40, 0), (8, 120), (40, 0)), 6, bd.TurnedTemplate())
    assert template.verdict is bd.Verdict.NEEDS_EASING
    assert "steam" not in template.advice
    assert "clip its inner edge" in template.advice


def test_advice_on_stems_that_lie_flat() -> None:
    assert bd.check_stem(path((90, 60)), 6).advice == "Lies flat as it is."


# --- properties ---------------------------------------------------------------------------------------------


@st.composite
def stems(draw: st.DrawFn) -> bd.Curve:
    """Chains of lines, arcs and slight corners, some of them tight at the widths tried."""
    pieces = st.one_of(
        st.tuples(st.floats(5, 60), st.just(0.0)),
        st.tuples(st.floats(4, 120), st.floats(-150, 150).filter(lambda turn: abs(turn) > 5)),
        st.tuples(st.just(0.0), st.floats(-14, 14).filter(lambda turn: abs(turn) > 2)),
    )
    parts = draw(st.lists(pieces, min_size=1, max_size=4))
    return path((20, 0), *parts, (15, 0), heading=draw(st.floats(0, 6)))


few = settings(max_examples=8, deadline=None)


@few
@given(curve=stems(), share=st.floats(0.05, 0.999))
def test_below_the_widest_every_width_passes(curve: bd.Curve, share: float) -> None:
    widest = bd.check_stem(curve, 2).widest
    assume(widest < curve.length * 0.99)
    if widest > 0.2:
        assert bd.check_stem(curve, widest * share).passes
    assert not bd.check_stem(curve, max(widest, 0.2) * 1.001).passes


@few
@given(curve=stems(), width=st.floats(1, 12), factor=st.floats(0.1, 10))
def test_a_scaled_stem_is_judged_alike(curve: bd.Curve, width: float, factor: float) -> None:
    larger = curve.transformed([[factor, 0, 5], [0, factor, -7]])
    for making, scaled in (
        (bd.FoldedStrip(), bd.FoldedStrip()),
        (bd.TurnedTemplate(least_concave=3), bd.TurnedTemplate(least_concave=3 * factor)),
    ):
        one, two = bd.check_stem(curve, width, making), bd.check_stem(larger, width * factor, scaled)
        limits = one.least_radius, one.easy_radius
        assume(all(abs(one.tightest.radius / limit - 1) > 1e-6 for limit in limits))
        assert two.verdict is one.verdict
        assert two.tightest.radius == pytest.approx(one.tightest.radius * factor, rel=1e-6)
        assert len(two.spots) == len(one.spots)
        if 1 < one.widest < curve.length and two.widest > 1:
            assert two.widest == pytest.approx(one.widest * factor, rel=1e-5)


@few
@given(curve=stems(), width=st.floats(1, 12))
def test_the_other_way_round_and_in_a_mirror(curve: bd.Curve, width: float) -> None:
    check = bd.check_stem(curve, width)
    assume(
        all(
            abs(check.tightest.radius / limit - 1) > 1e-6 for limit in (check.least_radius, check.easy_radius)
        )
    )
    back = bd.check_stem(curve.reversed(), width)
    mirror = bd.check_stem(curve.transformed([[-1, 0, 0], [0, 1, 0]]), width)
    swapped = {"left": "right", "right": "left", "none": "none"}
    for other in (back, mirror):
        assert other.verdict is check.verdict
        assert other.tightest.radius == pytest.approx(check.tightest.radius, rel=1e-6)
        assert other.widest == pytest.approx(check.widest, rel=1e-5)
        assert len(other.spots) == len(check.spots)
    assert sorted(spot.excess for spot in back.spots) == pytest.approx(
        sorted(spot.excess for spot in check.spots), abs=1e-4 * width
    )
    # Of two bends that are equally tight either may be told.
    felt = curve.bend_at(curve.length - back.tightest.s, width)
    assert felt.radius == pytest.approx(check.tightest.radius, rel=1e-5)
    assert felt.side == swapped[back.tightest.side]
    felt = curve.bend_at(mirror.tightest.s, width)
    assert felt.radius == pytest.approx(check.tightest.radius, rel=1e-5)
    assert felt.side == swapped[mirror.tightest.side]


@few
@given(curve=stems(), width=st.floats(0.5, 12))
def test_verdict_spots_and_numbers_agree(curve: bd.Curve, width: float) -> None:
    check = bd.check_stem(curve, width)
    tight = check.tightest.radius < check.least_radius * (1 - 1e-9)
    assert check.passes is not tight
    if tight:
        assert check.widest < width
        assert any(spot.bend == check.tightest for spot in check.spots)
        for spot in check.spots:
            assert spot.excess == check.least_radius - spot.bend.radius
            assert spot.excess > -0.01 * check.least_radius
            assert spot.bend.radius >= check.tightest.radius
    for text in (check.advice_in("in"), check.advice_in("mm")):
        assert text.endswith(".")
