"""What is no stem: checks that an outline is one long shape with two sides, each with an error that says where."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.spine_corners import mitre_beyond
from bias_drafting.curve.spine_sides import SLIT
from bias_drafting.errors import CurveError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.curve import Curve
    from bias_drafting.curve.measure import Chain
    from bias_drafting.curve.spine_sides import Side
    from bias_drafting.curve.spine_stations import Stations

    Array = NDArray[np.float64]

__all__ = ["body_points", "check_long", "check_no_branch", "check_simple", "check_within"]

# A stem is at least this many times as long as it is wide anywhere; a ring's hole is then as wide as its stem is.
_LONG, _LONG_RING = 2.0, 6.0
# The outline may reach this share of the half width beyond the circles that touch both its sides: an outer corner
# drawn square reaches 0.41 of it.
_BULGE = 0.6
# Opposite a hollow corner it may reach as far as a mitre, and a little more (the circles lie apart). Each point of
# the outline is held against this many circles before it and after it.
_MITRE, _CIRCLES = 1.15, 32
# No boundary lies within a circle by more than this share of its radius: a foot is missed by less.
_WITHIN = 0.02
# Chords of the outline stray by less than this share of the width.
_BESIDE = 0.01


def check_simple(curves: list[Curve]) -> None:
    """Raise where boundaries cross or touch themselves or each other, or enclose nothing."""
    import shapely

    size = max(np.ptp(curves[0].controls.reshape(-1, 2), axis=0))
    tolerance = max(1e-5 * size, 1e-6)
    area = shapely.Polygon(curves[0].flattened(tolerance), [hole.flattened(tolerance) for hole in curves[1:]])
    x, y = curves[0].start
    if shapely.convex_hull(area).area <= 1e-9 * size * size:
        msg = f"the outline at ({x:.2f}, {y:.2f}) encloses no area"
        raise CurveError(msg)
    if not area.is_valid:
        what, _, where = shapely.is_valid_reason(area).partition("[")
        x, y = (float(number) for number in where.rstrip("]").split())
        msg = f"the outline of a stem crosses or touches itself at ({x:.2f}, {y:.2f}): {what.strip().lower()}{SLIT}"
        raise CurveError(msg)


def body_points(
    sides: tuple[Side, Side], body: tuple[float, float, float, float] | None
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Return the points of both sides and their arc lengths, without what belongs to the ends.

    ``body`` says between which arc lengths the first side lies, and the second. A ring has none.
    """
    limits = (-np.inf, np.inf, -np.inf, np.inf) if body is None else body
    first, second = (
        (side.steps[within, 0], side.s[:-1][within])
        for side, low, high in zip(sides, limits[::2], limits[1::2], strict=True)
        for within in [(side.s[:-1] >= low) & (side.s[:-1] <= high)]
    )
    return first, second


def check_within(
    chains: list[Chain],
    body: tuple[tuple[Array, Array], tuple[Array, Array]],
    stations: Stations,
    typical: float,
) -> None:
    """Raise where a circle lies outside the outline, or a side comes inside one that it ought just to touch."""
    import shapely
    from scipy.spatial import cKDTree

    # What is long is stood upright: a point is then sought among the few edges level with it.
    rings, centre = [chain.controls[:, 0] for chain in chains], stations.centre
    if np.ptp(rings[0][:, 0]) > np.ptp(rings[0][:, 1]):
        rings, centre = [ring[:, ::-1] for ring in rings], centre[:, ::-1]
    area = shapely.Polygon(rings[0], rings[1:])
    shapely.prepare(area)
    wrong = ~shapely.contains_xy(area, centre)
    # An end may lie on the outline, and a curved tip beside the chords that stand for it.
    wrong[wrong] = shapely.distance(area, shapely.points(centre[wrong])) > _BESIDE * typical
    points = np.concatenate([points for points, _ in body])
    wrong |= cKDTree(points).query(stations.centre)[0] < (1 - _WITHIN) * stations.radius
    if wrong.any():
        x, y = stations.centre[int(np.argmax(wrong))]
        msg = (
            f"not the outline of a stem: near ({x:.2f}, {y:.2f}) there are no two sides; a stem has two, that keep"
            " clear of any others"
        )
        raise CurveError(msg)


def check_no_branch(
    body: tuple[tuple[Array, Array], tuple[Array, Array]],
    sides: tuple[Side, Side],
    stations: Stations,
    typical: float,
) -> None:
    """Raise where the sides reach far beyond all circles that touch both: a branch."""
    # Where a stem comes to a point its circles are less than a station apart.
    mitre = _MITRE * (1 + mitre_beyond(sides, stations, typical)) - 1
    allowed = np.maximum(np.maximum(_BULGE, mitre) * stations.radius, _BULGE * typical / 20)
    for (points, s), side, foot, way in zip(body, sides, (stations.a, stations.b), (1, -1), strict=True):
        order = np.arange(len(foot))[::way]
        # Each point is held against the circles that touch its side just before and after it.
        within = s if not side.closed else foot[order[0]] + (s - foot[order[0]]) % (side.s[-1] - side.s[0])
        near = np.searchsorted(foot[order], within)[:, None] + np.arange(-_CIRCLES, _CIRCLES)
        which = order[np.clip(near, 0, len(order) - 1)]
        gap = np.hypot(*np.moveaxis(points[:, None] - stations.centre[which], -1, 0)) - stations.radius[which]
        excess = (gap - allowed[which]).min(axis=1)
        worst = int(np.argmax(excess))
        if excess[worst] > 0:
            (x, y), beyond = points[worst], gap[worst].min()
            msg = (
                f"not the outline of a stem: it branches; near ({x:.2f}, {y:.2f}) it reaches {beyond:.2f} mm beyond"
                " the two sides of its longest part"
            )
            raise CurveError(msg)


def check_long(curve: Curve, widths: Array, kinds: tuple[str, ...]) -> None:
    """Raise for a shape too short for its width."""
    rounded = sum(widths[k] / 2 for k, kind in zip((0, -1), kinds, strict=False) if kind == "round")
    length, widest = curve.length + rounded, float(widths.max())
    if length < (_LONG if kinds else _LONG_RING) * widest * (1 - 1e-6):
        x, y = curve.point_at(curve.length / 2)
        msg = (
            f"not the outline of a stem: the shape round ({x:.2f}, {y:.2f}) is {length:.2f} mm long and up to"
            f" {widest:.2f} mm wide; wanted is {_LONG if kinds else _LONG_RING:g} times as long as wide or more"
        )
        raise CurveError(msg)
