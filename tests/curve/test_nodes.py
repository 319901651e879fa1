"""Nodes: between two of them a curve simply bends one way. Judged in extended precision, straight from the cubics."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import mpmath as mp
import numpy as np
import pytest
from hard_cubics import gentle, nasty

from bias_drafting.curve.bezier import joined_up
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.measure import build_chain
from bias_drafting.curve.nodes import Nodes, build_nodes, locate_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    LongArray = NDArray[np.longdouble]

MOST_TURN = 0.2
# Shares of a step at which it is looked at, both ends left out.
INSIDE = np.linspace(0, 1, 17)[1:-1]


def near_cusps() -> Array:
    """Cusps whose handle is off by a hundredth of a millimetre up to one, either way."""
    off = np.array([-1, -0.1, -0.01, 0.01, 0.1, 1])
    cubics = np.tile(np.array([[0, 0], [30, 30], [0, 30], [30, 0]], dtype=float), (6, 1, 1))
    cubics[:, 1, 0] += off
    return cubics


def short_handles() -> Array:
    """Handles of a tenth of a millimetre down to a millionth of one, which turn at once."""
    cubics = np.tile(np.array([[3, 2], [3, 2], [20, 4], [41, 23]], dtype=float), (6, 1, 1))
    cubics[:, 1, 1] += 10.0 ** -np.arange(1, 7)
    return cubics


def kind(number: int) -> Array:
    """One kind of the worst cubics: 0, 1 handles drawn in; 2 folds on a line; 3 cusps; 6 loops and wild ones."""
    worst: Array = nasty(5, 84)[number::7]
    return worst


CUBICS = {
    "gentle": gentle(3, 40),
    "no first handle": kind(0),
    "no last handle": kind(1),
    "cusps": kind(3),
    "wild": kind(6),
    "near cusps": near_cusps(),
    "short handles": short_handles(),
    "loop": np.array([[[0.0, 0], [60, 40], [-30, 40], [30, 0]]]),
    "inflection": np.array([[[0.0, 0], [30, 40], [30, -40], [60, 0]]]),
}


def nodes_of(controls: Array, closed: bool = False) -> Nodes:
    return build_nodes(build_chain(joined_up(controls, closed), closed))


@cache
def each(name: str) -> list[Nodes]:
    return [nodes_of(cubic[None]) for cubic in CUBICS[name]]


def velocity(controls: Array, t: Array) -> tuple[LongArray, LongArray]:
    """First and second derivative of each cubic at its parameters ``(n, m)``, in extended precision."""
    d0, d1, d2 = (3 * np.diff(controls.astype(np.longdouble), axis=1)[:, None, k] for k in range(3))
    x = t.astype(np.longdouble)[..., None]
    first: LongArray = d0 * (1 - x) ** 2 + 2 * d1 * x * (1 - x) + d2 * x * x
    second: LongArray = 2 * ((d1 - d0) * (1 - x) + (d2 - d1) * x)
    return first, second


def cross(a: LongArray, b: LongArray) -> LongArray:
    product: LongArray = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return product


def bend(controls: Array, t: Array) -> LongArray:
    first, second = velocity(controls, t)
    value: LongArray = cross(first, second) / np.hypot(first[..., 0], first[..., 1]) ** 3
    return value


def steps(nodes: Nodes) -> NDArray[np.intp]:
    """Numbers of the nodes after which the same piece goes on."""
    return np.flatnonzero(np.diff(nodes.piece) == 0)


def within(nodes: Nodes) -> tuple[Array, Array]:
    """Cubics of all steps, and parameters inside each ``(n, m)``."""
    k = steps(nodes)
    return nodes.chain.controls[nodes.piece[k]], nodes.t[k, None] + np.diff(nodes.t)[k, None] * INSIDE


@pytest.mark.parametrize("name", CUBICS)
def test_between_neighbours_curvature_rises_or_falls_and_keeps_its_sign(name: str) -> None:
    for nodes in each(name):
        inside, k = bend(*within(nodes)), steps(nodes)
        size = np.abs(inside).max(axis=1)
        change = np.diff(inside, axis=1)
        assert (np.minimum(change.max(axis=1), -change.min(axis=1)) <= 1e-9 * size).all()
        assert (np.minimum(inside.max(axis=1), -inside.min(axis=1)) <= 1e-9 * size).all()
        # And it lies between the curvatures the two nodes themselves are given.
        low, high = np.sort([nodes.bend[k], nodes.bend[k + 1]], axis=0)
        assert (inside.min(axis=1) >= low - 1e-7 * size).all()
        assert (inside.max(axis=1) <= high + 1e-7 * size).all()


@pytest.mark.parametrize("name", CUBICS)
def test_neighbours_turn_by_little_and_headings_add_up_what_is_turned_between(name: str) -> None:
    for nodes in each(name):
        turn = np.diff(nodes.heading)[steps(nodes)]
        assert np.abs(turn).max() <= MOST_TURN
        first, _ = velocity(*within(nodes))
        angle = np.arctan2(cross(first[:, :-1], first[:, 1:]), (first[:, :-1] * first[:, 1:]).sum(axis=-1))
        # From the first look inside to the last; the rest is the way from the node and to the node.
        seen = angle.sum(axis=1).astype(float)
        assert (np.abs(seen) <= np.abs(turn) + 1e-9).all()
        assert (seen * turn >= -1e-9).all()
        leave, arrive = (
            np.angle(
                np.exp(1j * (nodes.heading[steps(nodes) + k] - np.arctan2(*at[:, ::-1].T.astype(float))))
            )
            for k, at in ((0, first[:, 0]), (1, first[:, -1]))
        )
        assert arrive - leave + seen == pytest.approx(turn, abs=1e-7)


@pytest.mark.parametrize("name", CUBICS)
def test_each_piece_has_a_node_at_both_its_ends_and_no_two_in_one_place(name: str) -> None:
    for nodes in each(name):
        pieces = len(nodes.chain.controls)
        assert (np.diff(nodes.place) >= 0).all()
        assert (np.diff(nodes.t)[steps(nodes)] > 0).all()
        for piece in range(pieces):
            t = nodes.t[nodes.piece == piece]
            assert (t[0], t[-1]) == (0, 1)
        assert (nodes.place[0], nodes.place[-1]) == (0, pieces)
        # A joint appears twice.
        assert np.flatnonzero(np.diff(nodes.place) == 0).size == pieces - 1


def test_folds_on_a_line_are_nodes_and_nothing_between_turns() -> None:
    for cubic in kind(2):
        nodes = nodes_of(cubic[None])
        assert np.abs(np.diff(nodes.heading)[steps(nodes)]).max() < 1e-9
        folds = np.flatnonzero(np.diff(nodes.piece))
        assert np.abs(np.diff(nodes.heading)[folds]) == pytest.approx(np.full(len(folds), np.pi), abs=1e-9)
        # Between two folds the way along the line is the way between their points, to the last of its length.
        chord = np.hypot(*(nodes.chain.controls[:, 3] - nodes.chain.controls[:, 0]).T)
        assert np.diff(nodes.chain.s) == pytest.approx(chord, abs=1e-9)


def exact_length(cubic: Array, until: float, splits: Array) -> float:
    """Arc length from the start, by quadrature at 30 digits between the splits given."""
    with mp.workdps(30):
        p = [mp.mpc(float(x), float(y)) for x, y in cubic]
        d = [3 * (q - r) for q, r in zip(p[1:], p[:-1], strict=True)]

        def speed(t: mp.mpf) -> mp.mpf:
            return abs(d[0] * (1 - t) ** 2 + 2 * d[1] * t * (1 - t) + d[2] * t * t)

        edges = [0.0, *(float(t) for t in splits if 0 < t < until), until]
        return float(mp.quad(speed, edges))


@pytest.mark.parametrize("name", ["gentle", "no first handle", "wild", "near cusps", "loop"])
def test_arc_lengths_at_nodes(name: str) -> None:
    cubic = CUBICS[name][0]
    (nodes,) = each(name)[:1]
    for k in np.linspace(1, len(nodes.t) - 1, 4).astype(int):
        wanted = exact_length(cubic, float(nodes.t[k]), nodes.t[nodes.t < nodes.t[k]][::3])
        assert nodes.s[k] == pytest.approx(wanted, rel=1e-12)


def chain_of_many() -> Array:
    """Ten cubics one after another: cusps, loops and drawn-in handles, with corners between."""
    cubics = nasty(11, 14)[[0, 1, 3, 4, 6, 7, 8, 10, 11, 13]]
    shift = np.cumsum(np.vstack([np.zeros((1, 2)), (cubics[:, 3] - cubics[:, 0])[:-1]]), axis=0)
    moved: Array = cubics + (shift - cubics[:, 0])[:, None]
    return moved


def test_a_chain_runs_on_from_piece_to_piece() -> None:
    nodes = nodes_of(chain_of_many())
    curve = Curve(chain_of_many())
    assert (np.diff(nodes.s) >= 0).all()
    assert nodes.s[0] == 0
    assert nodes.s[-1] == curve.length
    joint = np.flatnonzero(np.diff(nodes.piece))
    assert (np.diff(nodes.s)[joint] == 0).all()
    # The direction jumps at a joint by what the curve's own corners say, taken straight from the handles.
    first, _ = velocity(nodes.chain.controls, np.tile([1e-9, 1 - 1e-9], (len(nodes.chain.controls), 1)))
    ends = first[..., 0].astype(float) + 1j * first[..., 1].astype(float)
    corner = np.angle(ends[1:, 0] / ends[:-1, 1])
    found = np.angle(np.exp(1j * (np.diff(nodes.heading)[joint] - corner)))
    assert found == pytest.approx(np.zeros(len(corner)), abs=1e-3)
    # Point by point, arc length leads to the same place as piece and parameter do.
    inside = (nodes.t > 0) & (nodes.t < 1)
    t = nodes.t[inside][:, None]
    c = nodes.chain.controls[nodes.piece[inside]]
    points = (
        c[:, 0] * (1 - t) ** 3
        + 3 * c[:, 1] * (1 - t) ** 2 * t
        + 3 * c[:, 2] * (1 - t) * t * t
        + c[:, 3] * t**3
    )
    assert np.abs(curve.point_at(nodes.s[inside]) - points).max() < 1e-9


def test_headings_between_nodes() -> None:
    nodes = nodes_of(chain_of_many())
    piece = np.repeat(np.arange(len(nodes.chain.controls)), 50)
    t = np.tile(np.linspace(0.001, 0.999, 50), len(nodes.chain.controls))
    heading = nodes.heading_at(piece, t)
    first, _ = velocity(nodes.chain.controls[piece], t[:, None])
    away = heading - np.arctan2(first[:, 0, 1], first[:, 0, 0]).astype(float)
    assert np.abs(np.exp(1j * away) - 1).max() < 1e-9
    # Without rounds too many: each lies between the headings of the nodes on either side.
    after = np.searchsorted(nodes.place, piece + t)
    low, high = np.sort([nodes.heading[after - 1], nodes.heading[after]], axis=0)
    assert ((heading >= low - 1e-9) & (heading <= high + 1e-9)).all()


def test_places_as_piece_and_parameter() -> None:
    place = np.array([0.0, 0.25, 1.0, 1.5, 2.0, 3.0])
    piece, t = locate_places(place, 3, before=False)
    assert piece.tolist() == [0, 0, 1, 1, 2, 2]
    assert t.tolist() == [0, 0.25, 0, 0.5, 0, 1]
    piece, t = locate_places(place, 3, before=True)
    assert piece.tolist() == [0, 0, 0, 1, 1, 2]
    assert t.tolist() == [0, 0.25, 1, 0.5, 1, 1]
    # A hair beyond either end is that end.
    piece, t = locate_places(np.array([-1e-15, 3 + 1e-15]), 3, before=False)
    assert (piece.tolist(), t.tolist()) == ([0, 2], [0, 1])
