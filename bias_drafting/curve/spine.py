"""The centreline and the width profile of a stem drawn as an outline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import measure
from bias_drafting.curve.arc_length import lengths, partial_lengths
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.outline import Outline
from bias_drafting.curve.rings import signed_area
from bias_drafting.curve.spine_checks import (
    body_points,
    check_long,
    check_no_branch,
    check_simple,
    check_within,
)
from bias_drafting.curve.spine_corners import clear_of_corners, cornered, with_kinks
from bias_drafting.curve.spine_ends import End, arc_length_of, found_ends, sides_between
from bias_drafting.curve.spine_fit import fitted
from bias_drafting.curve.spine_sides import (
    Facing,
    Side,
    facing_round,
    facing_row,
    in_short_steps,
    triangulated,
)
from bias_drafting.curve.spine_stations import (
    Stations,
    begun_at,
    centred_between,
    first_stations,
    joined,
    round_end,
    square_end,
)
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    BoolArray = NDArray[np.bool_]

__all__ = ["Spine", "find_spine"]

# The boundary is cut into steps of at most this share of the typical width.
_STEP = 1 / 6
# The centreline is fitted to within 0.005 mm, or this share of the width where a stem is narrower than 2.5 mm.
_TOLERANCE, _TOLERANCE_SHARE = 0.005, 1 / 500


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Spine:
    """The middle of a stem drawn as an outline, and how wide the stem is along it.

    Attributes
    ----------
    centreline
        The curve along the middle: open from end to end, or closed for a ring.
    s
        ``(n,)`` arc lengths along the centreline in mm, rising from 0 to its length.
    widths
        ``(n,)`` the full width at each, in mm as it lies on the quilt.
    ends
        The kind of the end at the start and of the one at the finish: ``"square"``, ``"round"`` or ``"pointed"``;
        empty for a ring.
    """

    centreline: Curve
    s: Array
    widths: Array
    ends: tuple[str, ...] = ()

    @property
    def width(self) -> float:
        """The median width along the centreline, in mm: half the stem is at least as wide."""
        return float(np.median(self.width_at(np.linspace(0, self.centreline.length, 1001))))

    def width_at(self, s: ArrayLike) -> Array:
        """Return the full width in mm at arc lengths ``s`` of the centreline, in the shape of ``s``; a ring wraps.

        Raises
        ------
        CurveError
            An arc length that is not finite or, on an open centreline, off it.
        """
        at, length = np.asarray(s, dtype=np.float64), self.centreline.length
        off = ~np.isfinite(at)
        if not self.centreline.closed:
            off |= (at < -1e-9 * length) | (at > (1 + 1e-9) * length)
        if off.any():
            msg = (
                f"arc length {at[off].flat[0]:g} mm is off the centreline, which runs from 0 to {length:g} mm"
            )
            raise CurveError(msg)
        within = np.where((at < 0) | (at > length), at % length, at) if self.centreline.closed else at
        return np.interp(within, self.s, self.widths)

    def __repr__(self) -> str:
        ends = f"ends {' and '.join(self.ends)}" if self.ends else "a ring"
        return f"Spine({self.centreline.length:.2f} mm, {self.width:.2f} mm wide, {ends})"


def find_spine(outline: Curve | Outline) -> Spine:
    """Return the centreline and the widths of a stem drawn as a long closed shape.

    The centreline is the line of the centres of all circles that touch both sides, and the width at each is the
    circle's diameter. Where the inner side of a bend is a sharp corner, the centreline lies half the width from the
    outer side instead: the line whose band the shape is, with a corner of its own where the outer side goes round
    one point or is mitred.

    It runs from the end farther left to the one farther right, and from the upper to the lower where both are level;
    round a ring clockwise as seen on the page, from about its leftmost point.

    - A *square* end has two corners: it runs to the middle of the cut, or where the middle of both sides meets it if
      it slants across a taper. It may bulge or be notched a little, and slant up to 50 degrees; beyond that it is a
      point.
    - A *pointed* end has one: it runs to the point, where the width is 0.
    - Any other end is *round*: it runs to the centre of the last circle that touches both sides rather than the end
      (both feet within 45 degrees of straight ahead). On a half circle that is its centre, so that
      ``centreline.band(width, ends="round")`` gives a shape of even width back.

    Parameters
    ----------
    outline
        A closed curve, or an :class:`~bias_drafting.curve.outline.Outline`, with one hole for a ring. It may begin
        anywhere and run either way.

    Returns
    -------
    Spine
        The centreline is fitted to exact centres, sixteen to a width or so: aimed at 0.005 mm. Widths are theirs.

    Raises
    ------
    CurveError
        What is not stem-like: an open curve, an outline that crosses or touches itself, a shape less than about
        twice as long as it is wide anywhere, one that branches, more than one hole. The message says where.

    Notes
    -----
    Limits. Corners nearer together than about the width, turning opposite ways, are cut by up to 0.15 of the width:
    neither side shows the piece between them. An inner corner that is rounded off, however little, is a bend, and
    the centres cut across it, by 0.1 of the width at a right angle. A bump that stands out by less than 0.3 of the
    width is taken as a place where the stem is wider. An outline flattened to straight pieces is followed as drawn,
    so the centreline is then wrong by as much as the pieces are.

    The line of such centres is the medial axis; see H. Blum, "A transformation for extracting new descriptors of
    shape", in *Models for the Perception of Speech and Visual Form*, MIT Press 1967.

    Examples
    --------
    >>> from bias_drafting.curve.curve import Curve
    >>> from bias_drafting.curve.spine import find_spine
    >>> hop = Curve.from_svg_path("M0 0A50 50 0 0 1 100 0")
    >>> find_spine(hop.band(6))
    Spine(157.08 mm, 6.00 mm wide, ends square and square)
    """
    chains = _boundaries(outline)
    area = sum(signed_area(chain.controls) for chain in chains)
    typical = 2 * area / sum(chain.length for chain in chains)
    chains = [in_short_steps(chain, _STEP * typical) for chain in chains]
    chains, triangles, inside = triangulated(chains)
    if len(chains) == 1:
        row, tip = facing_row(chains[0].controls[:, 0], triangles, inside)
        chain = measure.build_chain(np.roll(chains[0].controls, -tip, axis=0), True)
        return _of_stem(chain, row, typical)
    return _of_ring(chains, facing_round(len(chains[0].controls), triangles, inside), typical)


def _boundaries(outline: Curve | Outline) -> list[Chain]:
    """Return the boundaries with the shape on their right, after making sure that it is one shape."""
    curves = [outline.exterior, *outline.holes] if isinstance(outline, Outline) else [outline]
    if len(curves) > 2:
        msg = f"a stem has no hole, or one if it is a ring; this outline has {len(curves) - 1}"
        raise CurveError(msg)
    for curve in curves:
        if not curve.closed:
            gap = np.hypot(*np.subtract(curve.end, curve.start))
            msg = f"the outline of a stem is a closed curve; this one is open, with {gap:.2f} mm between its ends"
            raise CurveError(msg)
    check_simple(curves)
    ways = (1, -1)
    return [
        (curve if signed_area(curve.controls) * way > 0 else curve.reversed())._chain
        for curve, way in zip(curves, ways, strict=False)
    ]


def _of_stem(chain: Chain, row: Facing, typical: float) -> Spine:
    start, finish = found_ends(chain, row)
    sides = sides_between(chain, start, finish)
    points, n = chain.controls[:, 0], len(chain.controls)
    body = (row.a >= start.a) & (row.a <= finish.a) & (row.b >= finish.b) & (row.b <= start.b + n)
    a, b = row.a[body], row.b[body]
    facing = points[a % n], points[b % n], arc_length_of(chain, a), arc_length_of(chain, b)
    ends = tuple(_end_station(sides, chain, end, facing, way) for end, way in ((start, -1), (finish, 1)))
    stations = first_stations(sides, facing, ends, typical)
    stations = _checked([chain], _body(chain, (start, finish), ends), sides, stations, typical)
    kinds: tuple[str, ...] = (start.kind, finish.kind)
    (x0, y0), (x1, y1) = stations.centre[0], stations.centre[-1]
    slack = 1e-6 * chain.length
    if x1 < x0 - slack or (abs(x1 - x0) <= slack and y1 < y0):
        stations, kinds = stations[slice(None, None, -1)], kinds[::-1]
    return _fitted(stations, kinds, typical)


def _body(
    chain: Chain, ends: tuple[End, End], stations: tuple[Stations, ...]
) -> tuple[float, float, float, float]:
    """Return between which arc lengths each side lies clear of the ends, by feet or corners: of ``a``, then ``b``."""
    (a0, a1), (b0, b1) = arc_length_of(chain, np.array([[end.a for end in ends], [end.b for end in ends]]))
    first, last = stations
    return (
        max(float(first.a[0]), a0),
        min(float(last.a[0]), a1),
        max(float(last.b[0]), b1),
        min(float(first.b[0]), b0 + chain.length),
    )


def _end_station(
    sides: tuple[Side, Side], chain: Chain, end: End, facing: tuple[Array, ...], way: int
) -> Stations:
    """Return the station at one end: the point, the middle of a cut, or the centre of a round end."""
    first, second = (side.s[0 if (way < 0) == (k == 0) else -1] for k, side in enumerate(sides))
    one = np.ones(1)
    if end.kind != "round":
        s_a, s_b = arc_length_of(chain, np.array([end.a])), arc_length_of(chain, np.array([end.b]))
        s_b = s_b + (chain.length if way < 0 else 0)
        here = Stations(end.point[None], 0 * one, s_a, s_b, np.zeros(1, dtype=bool))
        if end.kind == "pointed":
            return here
        n = len(chain.controls)
        return square_end(sides, end, here, way, chain.controls[end.a % n, 0] - chain.controls[end.b % n, 0])
    point_a, point_b, s_a, s_b = facing
    clear = (np.abs(s_a - first) + np.abs(s_b - second)) >= 2 * end.reach * (1 - 1e-9)
    last = np.flatnonzero(clear)[0 if way < 0 else -1]
    rough = Stations((point_a + point_b)[[last]] / 2, one, s_a[[last]], s_b[[last]], np.zeros(1, dtype=bool))
    body = centred_between(sides, rough, 2 * end.across * one)
    return round_end(sides, end, body, way)


def _of_ring(chains: list[Chain], row: Facing, typical: float) -> Spine:
    outer, hole = chains
    sides = _whole_side(outer), _whole_side(hole)
    m, n = len(outer.controls), len(hole.controls)
    facing = (
        outer.controls[row.a % m, 0],
        hole.controls[row.b % n, 0],
        arc_length_of(outer, row.a),
        arc_length_of(hole, row.b),
    )
    stations = clear_of_corners(sides, first_stations(sides, facing, (), typical), typical)
    stations = _checked(chains, None, sides, stations, typical)
    stations = begun_at(sides, stations, _leftmost(stations, typical))
    return _fitted(joined([stations, stations[slice(0, 1)]]), (), typical)


def _checked(
    chains: list[Chain],
    body: tuple[float, float, float, float] | None,
    sides: tuple[Side, Side],
    stations: Stations,
    typical: float,
) -> Stations:
    """Return the stations with corners seen to, after making sure that this is a stem."""
    outline = body_points(sides, body)
    check_no_branch(outline, sides, stations, typical)
    stations = cornered(sides, with_kinks(sides, stations, typical), typical)
    check_within(chains, outline, stations, typical)
    return stations


def _leftmost(stations: Stations, typical: float) -> int:
    """Return the station farthest left, the uppermost of several; a corner if there is one at hand."""
    x, y = stations.centre.T
    corner = stations.corner & (x <= x.min() + typical / 64)
    level = corner if corner.any() else x <= x.min() + 1e-6 * typical
    return int(np.argmin(np.where(level, y, np.inf)))


def _whole_side(chain: Chain) -> Side:
    return Side(chain.controls, chain.s, chain.corners, True)


def _fitted(stations: Stations, kinds: tuple[str, ...], typical: float) -> Spine:
    """Return the spine through stations in order; those hardly apart are dropped."""
    stations = stations[_apart(stations, typical / 64)]
    width = 2 * float(np.median(stations.radius))
    tolerance = min(_TOLERANCE, _TOLERANCE_SHARE * width)
    closed = not kinds
    cubics, place = fitted(stations.centre, stations.corner, closed, tolerance)
    curve = Curve(cubics, closed)
    piece = np.minimum(place.astype(np.intp), len(cubics) - 1)
    s = np.append(0, np.cumsum(lengths(cubics)))[piece]
    s = s + partial_lengths(cubics[piece], np.zeros(len(piece)), place - piece)
    s[0], s[-1] = 0.0, curve.length
    widths = 2 * stations.radius
    check_long(curve, widths, kinds)
    s.flags.writeable = widths.flags.writeable = False
    return Spine(curve, s, widths, kinds)


def _apart(stations: Stations, least: float) -> BoolArray:
    """Whether to keep each station: ends, corners, and of the others one in every ``least`` mm, clear of those."""
    fixed = stations.corner.copy()
    fixed[[0, -1]] = True
    run = np.append(0, np.cumsum(np.hypot(*np.diff(stations.centre, axis=0).T)))
    first_of_bin = np.append(True, np.diff(np.floor(run / least)) > 0)
    at = run[fixed]
    after = np.searchsorted(at, run).clip(1, len(at) - 1)
    clear = np.minimum(np.abs(run - at[after - 1]), np.abs(run - at[after])) > least / 2
    keep: BoolArray = fixed | (first_of_bin & clear)
    return keep
