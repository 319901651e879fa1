"""Rails of a band: every point judged from the centreline's cubics, every stop by a bisection of our own."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import pytest

from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nodes import build_nodes
from bias_drafting.curve.rails import ALONG, ARC, Rails, build_rails

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]

SLACK = 5e-4
MOST_TURN = 0.2

CURVES = {
    "straight": Curve.from_points([(0, 0), (70, 20)]),
    "one cubic": Curve.from_svg_path("M0 0C60 0 80 40 80 100"),
    "wave": Curve.from_svg_path("M0 100C40 0 80 0 120 60S200 100 240 20"),
    "narrow hairpin": Curve.from_svg_path("M0 0C80 1 80 9 0 12"),
    "bend of radius 2": Curve.from_svg_path("M0 0H30A2 2 0 0 1 32 2V40"),
    "zigzag": Curve.from_points([(0, 0), (30, 25), (60, 0), (90, 25), (120, 0)]),
    "corner between curves": Curve.from_svg_path("M0 0C20 0 40 10 40 30C40 20 60 0 90 10"),
    "curl": Curve.from_svg_path("M0 0C60 0 60 40 30 40S10 14 28 14 40 30 31 29"),
    "cusp": Curve.from_svg_path("M0 0C60 60 0 60 60 0"),
    "nearly a cusp": Curve.from_svg_path("M0 0C60 60.01 0 60 60 0"),
    "drawn-in handles": Curve.from_svg_path("M0 0C0 0 50 0 50 40C50 40 60 70 100 70"),
    "there and back": Curve.from_points([(0, 0), (40, 0), (10, 0)]),
    "square": Curve.from_points([(0, 0), (40, 0), (40, 40), (0, 40)], closed=True),
    "the other way": Curve.from_points([(0, 0), (0, 40), (40, 40), (40, 0)], closed=True),
    "drop": Curve.from_svg_path("M0 0C50 20 50 80 0 80S-50 20 0 0Z"),
    "eight": Curve.from_svg_path("M0 0C60 60 120 -60 60 -60S-60 60 0 60 60 0 0 0Z"),
}
HALVES = (1.0, 3.175, 9.0)
every_curve = pytest.mark.parametrize("name", CURVES)


@cache
def rails_of(name: str, half: float) -> Rails:
    curve = CURVES[name]
    return build_rails(build_nodes(build_chain(curve.controls, curve.closed)), curve.closed, half, SLACK)


def all_rails(name: str) -> list[Rails]:
    return [rails_of(name, half) for half in HALVES]


def places(
    rails: Rails, step: NDArray[np.intp], share: Array
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Where along the centreline steps ALONG are: the point there, and the first and second derivative."""
    c = rails.nodes.chain.controls[rails.piece[step]]
    p: ComplexArray = c[..., 0] + 1j * c[..., 1]
    t = rails.a[step] + share * (rails.b - rails.a)[step]
    d, w = 3 * (p[:, 1:] - p[:, :-1]), 1 - t
    point: ComplexArray = p[:, 0] * w**3 + 3 * p[:, 1] * w * w * t + 3 * p[:, 2] * w * t * t + p[:, 3] * t**3
    first: ComplexArray = d[:, 0] * w * w + 2 * d[:, 1] * w * t + d[:, 2] * t * t
    second: ComplexArray = 2 * ((d[:, 1] - d[:, 0]) * w + (d[:, 2] - d[:, 1]) * t)
    return point, first, second


def inside(steps: NDArray[np.intp]) -> tuple[NDArray[np.intp], Array]:
    """Every step nine times, at shares from end to end, both ends left out."""
    share = np.linspace(0, 1, 11)[1:-1]
    return np.repeat(steps, len(share)), np.tile(share, len(steps))


def accuracy_of_stops(name: str) -> float:
    """How near, in half widths, a rail stops to where it stands still; beside a cusp curvature rises too steeply."""
    return 1e-2 if name == "nearly a cusp" else 4e-6


def turn(one: ComplexArray, other: ComplexArray) -> Array:
    return np.angle(other * np.conj(one))


@every_curve
def test_rails_run_square_to_their_feet_at_half_the_width(name: str) -> None:
    for rails in all_rails(name):
        assert set(rails.kind) <= {ALONG, ARC}
        step, share = inside(np.flatnonzero(rails.kind == ALONG))
        foot, first, second = places(rails, step, share)
        points, heading = rails.at(step, share)
        assert set(rails.side[step]) <= {-1, 1}
        # Right of travel is a quarter turn from x to y, with y down: times i.
        wanted = foot + 1j * rails.half * rails.side[step] * first / np.abs(first)
        assert np.abs(points - wanted).max() < 1e-6
        # The right side runs along the centreline, the left side against it.
        assert np.abs(heading - rails.side[step] * first / np.abs(first)).max() < 1e-7
        # Each is put down only where it runs forward: where it bends less than one in half the width.
        bend = (np.conj(first) * second).imag / np.abs(first) ** 3
        assert (1 - rails.half * rails.side[step] * bend).min() > -1e-6


@every_curve
def test_what_is_left_out_would_run_backward(name: str) -> None:
    for rails in all_rails(name):
        chain = rails.nodes.chain
        for side in (1, -1):
            on = (rails.kind == ALONG) & (rails.side == side)
            low, high = np.sort([rails.a[on], rails.b[on]], axis=0)
            # On a fine comb along every piece: what no step covers.
            t = np.tile((np.arange(4000) + 0.5) / 4000, len(chain.controls))
            piece = np.repeat(np.arange(len(chain.controls)), 4000)
            order = np.argsort(rails.piece[on] + low)
            starts, stops = (rails.piece[on] + low)[order], (rails.piece[on] + high)[order]
            k = np.searchsorted(starts, piece + t) - 1
            covered = (k >= 0) & (piece + t <= stops[k]) if len(stops) else np.zeros(len(t), dtype=bool)
            rest = np.flatnonzero(~covered)
            c = chain.controls[piece[rest]]
            d, w, s = 3 * np.diff(c[..., 0] + 1j * c[..., 1], axis=1), 1 - t[rest], t[rest]
            first = d[:, 0] * w * w + 2 * d[:, 1] * w * s + d[:, 2] * s * s
            second = 2 * ((d[:, 1] - d[:, 0]) * w + (d[:, 2] - d[:, 1]) * s)
            bend = (np.conj(first) * second).imag / np.abs(first) ** 3
            # What runs forward of it is hardly any length: stops are found to so much.
            pace = np.maximum(1 - rails.half * side * bend, 0)
            assert (pace * np.abs(first)).sum() / 4000 < 2 * accuracy_of_stops(name) * rails.half
            # No place twice.
            assert (starts[1:] >= stops[:-1]).all()


@every_curve
def test_steps_turn_one_way_and_by_no_more_than_they_say(name: str) -> None:
    for rails in all_rails(name):
        every = np.arange(len(rails.a))
        _, heading = rails.at(*inside(every))
        turns = turn(*(heading.reshape(len(every), -1)[:, k] for k in (slice(None, -1), slice(1, None))))
        assert (np.minimum(turns.max(axis=1), -turns.min(axis=1)) < 1e-9).all()
        (_, leave), (_, arrive) = (rails.at(every, np.full(len(every), x)) for x in (1e-9, 1 - 1e-9))
        seen = np.abs(turn(leave, arrive))
        assert (seen <= rails.turn + 1e-6).all()
        assert rails.turn.max() <= MOST_TURN
        # A step over the whole way between two nodes turns by what it says; and so does an arc.
        whole = (rails.kind == ARC) | np.isin(rails.piece + np.maximum(rails.a, rails.b), rails.nodes.place)
        whole &= (rails.kind == ARC) | np.isin(rails.piece + np.minimum(rails.a, rails.b), rails.nodes.place)
        short = rails.nodes.chain.controls[rails.piece]
        drawn_in = (short[:, 0] == short[:, 1]).all(axis=1) | (short[:, 2] == short[:, 3]).all(axis=1)
        whole &= ~drawn_in | (rails.kind == ARC)
        assert seen[whole] == pytest.approx(rails.turn[whole], abs=1e-5)


@every_curve
def test_points_move_the_way_steps_head(name: str) -> None:
    # Both by differences of points alone: neither the directions nor the paces of anything are asked.
    for rails in all_rails(name):
        step, share = inside(np.arange(len(rails.a)))
        (before, _), (after, _), (_, heading) = (rails.at(step, share + x) for x in (-1e-4, 1e-4, 0.0))
        moved = after - before
        size = np.abs(moved)
        sure = size > 1e-7
        assert sure.mean() > 0.8
        assert ((moved * np.conj(heading)).real[sure] > 0.999 * size[sure]).all()


@every_curve
def test_a_rail_stops_where_it_would_turn_back(name: str) -> None:
    for rails in all_rails(name):
        along = np.flatnonzero(rails.kind == ALONG)
        for which in (rails.a, rails.b):
            stop = along[~np.isin((rails.piece + which)[along], rails.nodes.place)]
            for k in stop:
                wanted = stand_still(rails, int(k), float(which[k]))
                (found, _), (exact, _) = (
                    rails.at(np.array([k]), np.array([(t - rails.a[k]) / (rails.b - rails.a)[k]]))
                    for t in (which[k], wanted)
                )
                assert abs(found - exact)[0] < accuracy_of_stops(name) * rails.half


def stand_still(rails: Rails, step: int, near: float) -> float:
    """Bisect, between the nodes on either side, for where the pace of the parallel curve is nothing."""
    nodes, piece = rails.nodes, rails.piece[step]
    t = nodes.t[nodes.piece == piece]
    k = int(np.searchsorted(t, near))
    low, high = float(t[k - 1]), float(t[k])
    p = nodes.chain.controls[piece, :, 0] + 1j * nodes.chain.controls[piece, :, 1]
    d = 3 * np.diff(p)

    def ahead(t: float) -> bool:
        first = d[0] * (1 - t) ** 2 + 2 * d[1] * t * (1 - t) + d[2] * t * t
        second = 2 * ((d[1] - d[0]) * (1 - t) + (d[2] - d[1]) * t)
        return bool(abs(first) ** 3 > rails.half * rails.side[step] * (np.conj(first) * second).imag)

    # Just inside: at the very end of a handle drawn in there is no direction to ask for.
    until = ahead(high - 1e-9 * (high - low))
    assert ahead(low + 1e-9 * (high - low)) != until
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (low, middle) if ahead(middle) == until else (middle, high)
    return (low + high) / 2


@every_curve
def test_corners_have_arcs_on_their_outer_side_only(name: str) -> None:
    curve = CURVES[name]
    for rails in all_rails(name):
        p = rails.nodes.chain.controls[..., 0] + 1j * rails.nodes.chain.controls[..., 1]
        joints = np.arange(len(p) if curve.closed else len(p) - 1)
        after = (joints + 1) % len(p)
        # The direction at an end: toward the nearest control point that lies elsewhere.
        leave = np.array([next(q - row[0] for q in row[1:] if abs(q - row[0]) > 1e-7) for row in p])
        arrive = np.array([next(row[3] - q for q in row[2::-1] if abs(q - row[3]) > 1e-7) for row in p])
        corner = turn(arrive[joints], leave[after])
        arcs = np.flatnonzero((rails.kind == ARC) & (rails.side != 0))
        turned = 0.0
        for joint, angle in zip(after, corner, strict=True):
            here = arcs[np.abs(rails.origin[arcs] - p[joint, 0]) < 1e-9]
            if abs(angle) * rails.half <= SLACK:
                assert not here.size
                continue
            # A corner to the right has its outer side on the left.
            if abs(angle) < np.pi - 1e-9:
                assert (rails.side[here] == -np.sign(angle)).all()
            assert len({*rails.side[here]}) == 1
            assert np.abs((rails.b - rails.a)[here]).sum() == pytest.approx(abs(angle), abs=1e-7)
            turned += abs(angle)
        assert np.abs((rails.b - rails.a)[arcs]).sum() == pytest.approx(turned, abs=1e-6)


@every_curve
def test_arcs_begin_and_end_where_the_parallel_curves_do(name: str) -> None:
    for rails in all_rails(name):
        # What an arc follows on, and what follows on it, meets it in place and in direction.
        for k in np.flatnonzero((rails.kind == ARC) & (rails.follows >= 0)):
            meets(rails, k, rails.follows[k])
        for k in np.flatnonzero((rails.kind == ALONG) & (rails.follows >= 0)):
            if rails.kind[rails.follows[k]] == ARC:
                meets(rails, k, rails.follows[k])


def meets(rails: Rails, step: np.intp, after: np.intp) -> None:
    for k, value in ((step, rails.b[step]), (after, rails.a[after])):
        if rails.kind[k] == ALONG and rails.piece[k] + value not in rails.nodes.place:
            return  # a parallel curve that turns back within the slack of the arc
    (end, arrive), (start, leave) = (
        rails.at(np.array([step]), np.ones(1)),
        rails.at(np.array([after]), np.zeros(1)),
    )
    assert abs(end - start)[0] < 1e-9
    assert abs(turn(arrive, leave))[0] < 1e-6


@pytest.mark.parametrize("name", [name for name, curve in CURVES.items() if not curve.closed])
def test_ends_are_half_circles_beyond_the_curve(name: str) -> None:
    curve = CURVES[name]
    start, end = (complex(*point) for point in (curve.start, curve.end))
    out = [-complex(*curve.tangent_at(0)), complex(*curve.tangent_at(curve.length))]
    for rails in all_rails(name):
        ends = np.flatnonzero(rails.side == 0)
        assert (rails.kind[ends] == ARC).all()
        for centre, beyond in zip((start, end), out, strict=True):
            here = ends[np.abs(rails.origin[ends] - centre) < 1e-9]
            assert (rails.b - rails.a)[here].sum() == pytest.approx(-np.pi, rel=1e-12)
            points, _ = rails.at(*inside(here))
            assert np.abs(np.abs(points - centre) - rails.half).max() < 1e-9
            assert ((points - centre) / beyond).real.min() > 0
            # One after another, from the right to the left of the way out.
            assert (rails.follows[here[:-1]] == here[1:]).all()
            across = (rails.at(here[[0]], np.zeros(1))[0] - centre) / (beyond * rails.half)
            assert across == pytest.approx(1j, abs=1e-9)


@every_curve
def test_what_follows_begins_where_the_step_before_it_ends(name: str) -> None:
    for rails in all_rails(name):
        every = np.arange(len(rails.a))
        on = rails.follows >= 0
        gap = rails.at(every[on], np.ones(on.sum()))[0] - rails.at(rails.follows[on], np.zeros(on.sum()))[0]
        assert np.abs(gap).max() <= SLACK
        # Nothing follows on two, and where a rail breaks off there is a gap indeed before the next step round.
        assert len(set(rails.follows[on])) == on.sum()
        loose = np.setdiff1d(every, rails.follows[on])
        assert len(loose) == (~on).sum()
        ends, starts = rails.at(every[~on], np.ones((~on).sum()))[0], rails.at(loose, np.zeros(len(loose)))[0]
        distance = np.abs(ends[:, None] - starts[None])
        # In the order of the steps: each end belongs to the first loose start after it, once round.
        for k, step in enumerate(every[~on]):
            assert distance[k, np.searchsorted(loose, step, side="right") % len(loose)] > SLACK


@pytest.mark.parametrize(
    ("name", "half", "breaks"),
    [
        ("straight", 3.175, 0),
        ("bend of radius 2", 1.0, 0),  # less than the radius: both sides run right through
        ("bend of radius 2", 3.175, 1),  # more: the inner side is broken off at both ends of the bend
        ("zigzag", 3.175, 3),  # one at the inner side of each corner
        ("cusp", 1.0, 1),
        ("square", 3.175, 4),
        ("the other way", 3.175, 4),
        ("drop", 1.0, 1),
        ("there and back", 3.175, 1),  # half a turn has one outer side
    ],
)
def test_how_often_rails_break_off(name: str, half: float, breaks: int) -> None:
    assert (rails_of(name, half).follows < 0).sum() == breaks


def test_a_kink_within_the_slack_has_no_arc_and_breaks_nothing_off() -> None:
    # The gap in the parallel curve is half the width times the turn, here either side of the slack.
    for turned, arcs in ((0.9 * SLACK / 5, 0), (1.1 * SLACK / 5, 1)):
        bent = Curve.from_points([(0, 0), (40, 0), (40 + 40 * np.cos(turned), 40 * np.sin(turned))])
        rails = build_rails(build_nodes(build_chain(bent.controls, False)), False, 5.0, SLACK)
        assert ((rails.kind == ARC) & (rails.side != 0)).sum() == arcs
        assert (rails.follows < 0).sum() == arcs


@pytest.mark.parametrize(("sweep", "outer"), [(1, -1), (0, 1)])
def test_the_inner_side_of_a_ring_tighter_than_the_band_is_not_there(sweep: int, outer: int) -> None:
    # Clockwise, with its middle on the right, and the other way.
    circle = Curve.from_svg_path(f"M5 0A5 5 0 0 {sweep} -5 0A5 5 0 0 {sweep} 5 0Z")
    rails = build_rails(build_nodes(build_chain(circle.controls, True)), True, 6.0, SLACK)
    assert set(rails.side) == {outer}
    assert (rails.follows == (np.arange(len(rails.a)) + 1) % len(rails.a)).all()
    points, _ = rails.at(*inside(np.arange(len(rails.a))))
    assert np.abs(np.abs(points) - 11).max() < 2e-3


def test_each_side_of_a_ring_is_a_ring_of_its_own() -> None:
    for name in ("drop", "eight"):
        rails = rails_of(name, 1.0)
        on = rails.follows >= 0
        assert (rails.side[on] == rails.side[rails.follows[on]]).all()
        assert {*rails.side} == {1, -1}
