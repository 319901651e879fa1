"""Bands whose width changes along the curve: tapering stems, and stems that run out in a point.

Their edges lie square across the centreline, half the width to either side. Where such a band keeps clear of itself
and its centreline has no corners, both edges are fitted as smooth curves. Elsewhere the strips between neighbouring
normals are united as polygons, and the outline consists of short straight lines within the tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bias_drafting.curve import arc_length, bezier, measure
from bias_drafting.curve.fitting import fit_track
from bias_drafting.curve.rings import circle_arcs, is_sliver, met, signed_area
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from bias_drafting.curve.nodes import Nodes

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["Profile", "checked_widths", "tapered_rings"]

_FIT_SHARE: Final = 0.88
_POLYGON_SHARE: Final = 0.5
# Polygons are united on a grid this share of the tolerance fine.
_GRID: Final = 1e-3
# A point tapers over this many times the width: its sides then meet at 53 degrees, sharp and still turnable.
_TAPER: Final = 2.0
_STEP: Final = 1e-4
# Of the length, an arc length may lie so far off the curve: the rounding of whoever added it up.
_ROUNDING: Final = 1e-9
# Edges whose pace, as a share of the centreline's, is less than this are about to turn back.
_PACE: Final = 1e-3
# Half the width of a band that is a hair and no cloth any more, as a share of the tolerance.
_HAIR: Final = 0.01
# A fitted outline is judged on polygons that stray from it by this share of the tolerance.
_JUDGED: Final = 0.05
# Bounded work: steps of a band drawn as polygons, besides those there are to begin with.
_MOST_STEPS: Final = 200_000


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Half the width along a curve: smooth between given places, and down to nothing at the ends if they taper.

    Attributes
    ----------
    half
        From arc lengths in mm to half the width in mm.
    length
        Of the curve, in mm.
    taper
        Over how many mm at each end the width grows from nothing; 0 for not at all.
    places
        Arc lengths at which one rule for the width gives way to another.
    """

    half: Callable[[Array], Array]
    length: float
    taper: float
    places: Array

    @classmethod
    def of(cls, s: Array, widths: Array, length: float, taper: bool) -> Profile:
        """Return the profile through widths at arc lengths; beyond the first and the last it stays the same.

        Raises
        ------
        CurveError
            An arc length off the curve, by more than rounding.
        """
        from scipy.interpolate import PchipInterpolator

        slack = _ROUNDING * length
        off = s[(s < -slack) | (s > length + slack)]
        if off.size:
            msg = f"widths along a curve of {length:g} mm cannot be given at {off[0]:g} mm"
            raise CurveError(msg)
        if len(s) == 1:
            s, widths = np.array([0.0, length]), np.repeat(widths, 2)
        through = PchipInterpolator(s, widths / 2)

        def half(at: Array) -> Array:
            values: Array = through(np.clip(at, s[0], s[-1]))
            return values

        longest = min(_TAPER * float(widths.max()), length / 2)
        longest = longest if taper else 0.0
        places = np.clip(np.concatenate([s, [longest, length - longest]]), 0, length)
        return cls(half, length, longest, places)

    def at(self, s: Array) -> Array:
        """Return half the width at arc lengths."""
        half = self.half(s)
        if self.taper == 0:
            return half
        near = np.clip(np.minimum(s, self.length - s) / self.taper, 0, 1)
        return half * near * (2 - near)

    def slope(self, s: Array) -> Array:
        """Return how fast half the width grows with arc length."""
        step = _STEP * self.length
        low, high = np.clip(s - step, 0, self.length), np.clip(s + step, 0, self.length)
        growth: Array = (self.at(high) - self.at(low)) / (high - low)
        return growth

    def narrowest(self, hair: float) -> tuple[float, float]:
        """Return where it is narrowest, and half the width there; ends that begin no wider than a hair do not count.

        To nothing it comes only at places, and at ends that taper.
        """
        s = np.unique(np.concatenate([self.places, np.linspace(0, self.length, 2001)]))
        half = self.at(s)
        wide = np.flatnonzero(half > hair)
        if not wide.size:
            return float(s[0]), float(half[0])
        k = wide[0] + int(np.argmin(half[wide[0] : wide[-1] + 1]))
        return float(s[k]), float(half[k])


def checked_widths(pairs: ArrayLike | None) -> tuple[Array, Array]:
    """Return arc lengths and widths of pairs as a caller gives them."""
    try:
        table = np.array(pairs, dtype=np.float64)
    except (TypeError, ValueError) as error:
        msg = f"widths along a curve are pairs (s, width) of numbers in mm; {error}"
        raise CurveError(msg) from error
    if table.ndim != 2 or table.shape[1] != 2 or not len(table) or not np.isfinite(table).all():
        msg = f"widths along a curve are pairs (s, width) of finite numbers in mm; got shape {table.shape}"
        raise CurveError(msg)
    s, widths = table.T
    if (np.diff(s) <= 0).any() or (widths < 0).any() or widths.max() <= 0:
        msg = "widths along a curve need growing arc lengths, and widths of 0 or more that are not all 0"
        raise CurveError(msg)
    return s, widths


def tapered_rings(
    nodes: Nodes, closed: bool, profile: Profile, round_ends: bool, tolerance: float
) -> list[Array]:
    """Return the boundary of a band with a profile: closed cubic chains, the outermost first and clockwise."""
    start, end = profile.at(np.array([0.0, profile.length]))
    if closed and abs(end - start) > _POLYGON_SHARE * tolerance:
        msg = (
            f"on a closed curve the width must come round to itself, not from {2 * start:g} to {2 * end:g} mm"
        )
        raise CurveError(msg)
    rings = _smooth_rings(nodes, closed, profile, round_ends, tolerance)
    if rings is None:
        rings = _polygon_rings(nodes, closed, profile, round_ends, tolerance)
    rings.sort(key=lambda ring: -abs(signed_area(ring)))
    return [ring if (signed_area(ring) > 0) == (k == 0) else ring[::-1, ::-1] for k, ring in enumerate(rings)]


def _edges(
    nodes: Nodes, profile: Profile, side: IntArray, s: Array
) -> tuple[ComplexArray, ComplexArray, Array]:
    """Return the points of the edges at arc lengths, their unit directions, and their pace (0 or less: back)."""
    chain = nodes.chain
    piece, t = chain.locate(s)
    travel = measure.directions(chain.controls[piece], t)
    half, slope = profile.at(s), profile.slope(s)
    xy = bezier.evaluate(chain.controls[piece], t)
    with np.errstate(invalid="ignore"):
        pace = 1 - side * half * measure.curvature(chain.controls[piece], t)
    pace = np.where(np.isfinite(pace), pace, 0.0)
    onward = travel * (pace + 1j * side * slope)
    size = np.abs(onward)
    unit = np.where(size > 0, onward / np.where(size > 0, size, 1), travel)
    return xy[:, 0] + 1j * xy[:, 1] + 1j * travel * (side * half), unit, pace


def _smooth_rings(
    nodes: Nodes, closed: bool, profile: Profile, round_ends: bool, tolerance: float
) -> list[Array] | None:
    """Return the rings fitted as smooth curves, or None where the band meets itself or has corners."""
    chain = nodes.chain
    if np.abs(chain.corners).max() * profile.at(chain.s).max() > 0.1 * tolerance:
        return None
    # Fits that are as near together as that may lie on the wrong sides of each other and look sound.
    if profile.narrowest(_HAIR * tolerance)[1] <= _HAIR * tolerance:
        return None
    fine = np.unique(
        np.concatenate([nodes.s, profile.places, np.linspace(0, chain.length, 4 * len(nodes.s))])
    )
    # Where the centreline bends to less than half the width, that edge turns back. Beside the end of a band nothing
    # else of the outline need cross it there, though what the normals swept lies outside.
    if any(_edges(nodes, profile, np.full(len(fine), side), fine)[2].min() < _PACE for side in (1, -1)):
        return None
    rings = _fitted(nodes, closed, profile, fine, round_ends, tolerance)
    return rings if _is_outline(rings, tolerance) else None


def _is_outline(rings: list[Array], tolerance: float) -> bool:
    """Whether rings bound one part of the plane: none meets itself or another, and the largest holds the rest."""
    import shapely

    loops = sorted((bezier.flatten(ring, _JUDGED * tolerance) for ring in rings), key=_loop_area)
    return bool(shapely.Polygon(loops[-1], loops[:-1]).is_valid)


def _loop_area(loop: Array) -> float:
    import shapely

    return float(shapely.Polygon(loop).area)


def _fitted(
    nodes: Nodes, closed: bool, profile: Profile, knots: Array, round_ends: bool, tolerance: float
) -> list[Array]:
    """Return the rings with both sides fitted to their exact curves, which simply bend from knot to knot."""
    chain = nodes.chain
    # Where a taper ends the edge bends of a sudden: a cubic that spans that place would bulge on beyond it.
    cuts = np.searchsorted(knots, [0.0, profile.taper, chain.length - profile.taper, chain.length])
    cuts = np.unique(cuts)
    each = len(cuts) - 1

    # The two sides are laid end to end.
    def at(owner: IntArray, run: Array) -> tuple[ComplexArray, ComplexArray]:
        left = owner // each
        s = np.clip(run - left * chain.length, 0, chain.length)
        points, unit, _ = _edges(nodes, profile, 1 - 2 * left, s)
        return points, unit

    both = np.concatenate([knots, knots + chain.length])
    first, last = (np.concatenate([k, k + len(knots)]) for k in (cuts[:-1], cuts[1:]))
    fits, owner = fit_track(at, both, first, last, _FIT_SHARE * tolerance)
    right, left = fits[owner < each], fits[owner >= each][::-1, ::-1]
    if closed:
        return [met(right, ring=True), met(left, ring=True)]
    parts = [right, _end(nodes, profile, round_ends, True, tolerance), left]
    parts.append(_end(nodes, profile, round_ends, False, tolerance))
    return [met(np.concatenate(parts), ring=True)]


def _end(nodes: Nodes, profile: Profile, round_ends: bool, last: bool, tolerance: float) -> Array:
    """Return the cubics across an end: right to left at the last, left to right at the first; none at a point."""
    chain = nodes.chain
    at = np.array([chain.length if last else 0.0])
    half = float(profile.at(at)[0])
    if half <= tolerance:
        return np.empty((0, 4, 2))
    points = [_edges(nodes, profile, np.array([side]), at)[0][0] for side in ((1, -1) if last else (-1, 1))]
    ends = np.array([[p.real, p.imag] for p in points])
    if not round_ends:
        return bezier.from_lines(ends)
    centre = ends.mean(axis=0)
    angle = np.array([np.arctan2(*(ends[0] - centre)[::-1])])
    return circle_arcs(centre[None], half, angle, angle - np.pi, _FIT_SHARE * tolerance)[0]


def _polygon_rings(
    nodes: Nodes, closed: bool, profile: Profile, round_ends: bool, tolerance: float
) -> list[Array]:
    """Return the rings of the united strips between normals, as straight lines."""
    import shapely

    stray = _POLYGON_SHARE * tolerance
    shapes = [*_quads(nodes, profile, stray), *_rounds(nodes, closed, profile, round_ends, tolerance)]
    # Where a band lies upon itself a union in floating point can lose parts; on a grid it cannot.
    whole = _in_one_part(shapely.union_all(shapes, grid_size=_GRID * tolerance), profile, tolerance)
    holes = [h for h in whole.interiors if not is_sliver(shapely.Polygon(h).area, h.length, tolerance)]
    return [bezier.from_lines(np.asarray(loop.coords)[:, :2]) for loop in (whole.exterior, *holes)]


def _in_one_part(united: Any, profile: Profile, tolerance: float) -> Any:
    """Return the one part of a band, slivers left out; a band that comes to nothing on its way is refused."""
    import shapely

    parts = [p for p in shapely.get_parts(united) if not is_sliver(p.area, p.length, tolerance)]
    if not parts:
        msg = f"nothing is left of a band that tapers over {profile.taper:g} mm where it has its width"
        raise CurveError(msg)
    if len(parts) == 1:
        return parts[0]
    s, half = profile.narrowest(_HAIR * tolerance)
    msg = (
        f"the band comes apart near s = {s:.6g} mm, where its width comes to {2 * half:.3g} mm; draft the parts on "
        f"either side by themselves"
    )
    raise CurveError(msg)


def _quads(nodes: Nodes, profile: Profile, stray: float) -> list[Any]:
    """Return the strips between neighbouring normals, on either side of the centreline."""
    import shapely

    piece, t, s = _strips(nodes, profile, stray)
    rows = nodes.chain.controls[piece]
    ends = []
    for k in (0, 1):
        xy, travel = bezier.evaluate(rows, t[:, k]), measure.directions(rows, t[:, k])
        ends.append((xy[:, 0] + 1j * xy[:, 1], 1j * travel * profile.at(s[:, k])))
    (p, across_p), (q, across_q) = ends
    shapes: list[Any] = []
    for side in (1, -1):
        quads = np.stack([p, q, q + side * across_q, p + side * across_p], axis=1)
        shapes.extend(shapely.make_valid(shapely.polygons(np.stack([quads.real, quads.imag], axis=-1))))
    return shapes


def _rounds(nodes: Nodes, closed: bool, profile: Profile, round_ends: bool, tolerance: float) -> list[Any]:
    """Return the discs round corners, and round the ends where those are rounded."""
    import shapely

    chain = nodes.chain
    round_at = np.flatnonzero(np.abs(chain.corners[:-1]) > 1e-9)
    centres = [(chain.controls[k, 0], chain.s[k]) for k in round_at]
    if round_ends and not closed:
        centres += [(chain.controls[0, 0], 0.0), (chain.controls[-1, 3], chain.length)]
    shapes = []
    for centre, at in centres:
        half = float(profile.at(np.array([at]))[0])
        if half > tolerance:
            segments = max(int(np.ceil(np.pi / 4 / np.sqrt(2 * _POLYGON_SHARE * tolerance / half))), 4)
            shapes.append(shapely.Point(*centre).buffer(half, quad_segs=segments))
    return shapes


def _strips(nodes: Nodes, profile: Profile, stray: float) -> tuple[IntArray, Array, Array]:
    """Return steps so short that straight lines between their normals stray by at most ``stray``: piece, t, s."""
    step = np.flatnonzero(nodes.piece[1:] == nodes.piece[:-1])
    arc, turn = np.diff(nodes.s)[step], np.abs(np.diff(nodes.heading))[step]
    spread = np.linspace(0, profile.length, 2001)
    half = profile.at(spread)
    # A chord strays by an eighth of the second derivative times the square of its length.
    swell = np.abs(np.diff(half, 2)).max() / (spread[1] ** 2)
    count = np.sqrt(((arc + half.max() * turn) * turn + swell * arc**2) / (8 * stray))
    count = np.maximum(np.ceil(count), 1).astype(np.intp)
    if count.sum() > _MOST_STEPS + len(count):
        msg = f"a tapering band as wide and fine as this takes {count.sum():,} steps; ask for a larger tolerance"
        raise CurveError(msg)
    number = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    share = np.stack([number, number + 1], axis=1) / np.repeat(count, count)[:, None]
    row = np.repeat(step, count)
    piece, begin, span = nodes.piece[row], nodes.t[row], (nodes.t[row + 1] - nodes.t[row])
    t = begin[:, None] + span[:, None] * share
    run = [
        nodes.s[row] + arc_length.partial_lengths(nodes.chain.controls[piece], begin, t[:, k]) for k in (0, 1)
    ]
    return piece, t, np.stack(run, axis=1)
