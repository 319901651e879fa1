"""The entities of DXF that draw lines, as cubic Beziers in drawing units, y up, seen from above.

DXF keeps some entities in coordinates of their own, told by an extrusion: those of a drawing laid flat have it
straight up, or straight down after mirroring, and then their x runs left ("arbitrary axis algorithm" of the DXF
reference). Angles run counterclockwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.ellipses import PIECES_A_TURN
from bias_drafting.drawing.dxf_splines import BSpline, spline_cubics, through_fit_points
from bias_drafting.errors import CurveError, DrawingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from ezdxf.entities.dxfentity import DXFEntity
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["TRACED", "Traced", "UnreadError", "facing", "finite", "trace"]

# An entity rises by more than this share of its size: it is not flat.
_FLAT = 1e-6
_FLAT_WHY = "it does not lie flat in the plane of the drawing"
# Flags of polylines and of their vertices.
_CLOSED, _SMOOTHED, _SPATIAL, _MESH = 1, 2 | 4, 8, 16 | 64
_FRAME_VERTEX = 16


class UnreadError(Exception):
    """Why an entity is left out, to be said in a note."""


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """What an entity draws.

    Attributes
    ----------
    tag
        ``line``, ``arc``, ``circle``, ``ellipse``, ``polyline`` or ``spline``.
    controls
        A chain of cubics ``(n, 4, 2)``.
    closed
        Whether the entity is closed.
    width
        The width of its line in drawing units, if it has one all along.
    remarks
        What was assumed, and why, for each thing assumed.
    """

    tag: str
    controls: Array
    closed: bool = False
    width: float | None = None
    remarks: list[tuple[str, str]] = field(default_factory=list)


def trace(entity: DXFEntity) -> Traced:
    """Return what an entity draws, of the kinds in ``TRACED``.

    Raises
    ------
    UnreadError
        It cannot be drawn; its message says why: "its radius is 0".
    DrawingError
        A number that is not finite.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore", under="ignore"):
        try:
            traced = _TRACERS[entity.dxftype()](entity)
        except CurveError as error:
            raise UnreadError(str(error)) from error
    if not np.isfinite(traced.controls).all():
        msg = "it leads to places that are not finite numbers"
        raise DrawingError(msg)
    if len(traced.controls) == 0 or (traced.controls == traced.controls[0, 0]).all():
        msg = "it has no length"
        raise UnreadError(msg)
    return traced


def facing(entity: DXFEntity) -> float:
    """Return which way an entity's own x runs: 1 to the right, -1 to the left, for one that was mirrored.

    Raises
    ------
    UnreadError
        It is drawn in some other plane.
    DrawingError
        Its extrusion is not finite.
    """
    x, y, z = finite("its extrusion", entity.dxf.get("extrusion", (0, 0, 1)))
    if max(abs(x), abs(y)) > 1e-9 * abs(z):
        raise UnreadError(_FLAT_WHY)
    return math.copysign(1.0, z)


def finite(what: str, numbers: Any) -> Array:
    """Return numbers of a file as an array.

    Raises
    ------
    DrawingError
        One of them is not finite; ``what`` they are begins its message.
    """
    values = np.array(list(numbers), dtype=np.float64)
    if not np.isfinite(values).all():
        msg = f"{what} has a number that is not finite"
        raise DrawingError(msg)
    return values


def _places(what: str, points: Iterable[Any]) -> Array:
    """Return points ``(n, 3)`` of a file in the plane ``(n, 2)``, if they lie flat."""
    values = finite(what, [tuple(point) for point in points]).reshape(-1, 3)
    if len(values) and np.ptp(values[:, 2]) > _FLAT * np.ptp(values[:, :2], axis=0).max():
        raise UnreadError(_FLAT_WHY)
    return values[:, :2]


def _wanted(entity: DXFEntity, *names: str) -> list[Any]:
    """Return attributes that an entity cannot do without."""
    found = [entity.dxf.get(name) for name in names]
    for name, value in zip(names, found, strict=True):
        if value is None:
            msg = f"it has no {name.replace('_', ' ')}"
            raise UnreadError(msg)
    return found


def _line(entity: DXFEntity) -> Traced:
    ends = _places("its start or end", _wanted(entity, "start", "end"))
    return Traced("line", bezier.from_lines(ends))


# Arcs


def _circle(entity: DXFEntity) -> Traced:
    return Traced("circle", _round(entity, 0.0, 2 * math.pi), closed=True)


def _arc(entity: DXFEntity) -> Traced:
    start, end = finite("its angles", _wanted(entity, "start_angle", "end_angle"))
    return Traced("arc", _round(entity, math.radians(math.fmod(start, 360)), _turn(start, end, 360)))


def _round(entity: DXFEntity, start: float, turn: float) -> Array:
    """Return the cubics of a circle, or of its arc."""
    centre, radius = _wanted(entity, "center", "radius")
    x, y, _ = finite("its centre", centre)
    (r,) = finite("its radius", [radius])
    if r <= 0:
        msg = f"its radius is {r:g}"
        raise UnreadError(msg)
    side = facing(entity)
    return _elliptic((side * x, y), np.array([[side * r, 0], [0, r]]), start, turn)


def _ellipse(entity: DXFEntity) -> Traced:
    centre, axis = _wanted(entity, "center", "major_axis")
    (x, y), major = _places("its centre", [centre])[0], _places("its axis", [(0, 0, 0), axis])[1]
    ratio, start, end = finite(
        "its shape", [entity.dxf.get("ratio", 1), entity.dxf.start_param, entity.dxf.end_param]
    )
    # The minor axis lies a quarter turn on, seen against the extrusion.
    minor = facing(entity) * ratio * np.array([-major[1], major[0]])
    if not major.any() or not minor.any():
        msg = "one of its axes has no length"
        raise UnreadError(msg)
    turn = _turn(start, end, 2 * math.pi)
    full = abs(turn - 2 * math.pi) < 1e-9  # written with as many figures as it may be
    controls = _elliptic((x, y), np.stack([major, minor]), start, 2 * math.pi if full else turn)
    return Traced("ellipse", controls, closed=full)


def _turn(start: float, end: float, whole: float) -> float:
    """Return the angle in radians from ``start`` on to ``end``, the whole turn being ``whole``."""
    if start == end:
        msg = "its start and end angles are the same"
        raise UnreadError(msg)
    turn = math.fmod(end - start, whole)
    return (turn if turn > 0 else turn + whole) * (2 * math.pi / whole)


def _elliptic(centre: tuple[float, float], axes: Array, start: float, turn: float) -> Array:
    """Return the arc ``centre + cos(a) axes[0] + sin(a) axes[1]``, from angle ``start`` on by ``turn``."""
    pieces = max(1, math.ceil(turn / (2 * math.pi) * PIECES_A_TURN - 1e-9))
    angles = start + np.linspace(0, turn, pieces + 1)
    points, across = (
        np.stack(unit, axis=1)
        for unit in ((np.cos(angles), np.sin(angles)), (-np.sin(angles), np.cos(angles)))
    )
    if turn == 2 * math.pi:
        points[-1], across[-1] = points[0], across[0]
    handles = 4 / 3 * math.tan(turn / pieces / 4) * across
    before, after = points[:-1], points[1:]
    unit = np.stack([before, before + handles[:-1], after - handles[1:], after], axis=1)
    controls: Array = unit @ axes + np.array(centre)
    return controls


# Polylines


def _lwpolyline(entity: Any) -> Traced:
    rows = finite("its points", entity.get_points("xybse")).reshape(-1, 5)
    widths = rows[:, 3:]
    (constant,) = finite("its width", [entity.dxf.get("const_width", 0)])
    if not widths.any():
        widths = np.full_like(widths, constant)
    return _polyline_of(entity, rows[:, :3], widths, bool(entity.dxf.flags & _CLOSED))


def _polyline(entity: Any) -> Traced:
    flags = entity.dxf.flags
    if flags & _MESH:
        raise UnreadError(_FLAT_WHY)
    vertices = [v.dxf for v in entity.vertices if not v.dxf.flags & _FRAME_VERTEX]
    if any(v.get("location") is None for v in vertices):
        msg = "one of its corners has no place"
        raise UnreadError(msg)
    if flags & _SPATIAL:
        points = _places("its points", [v.location for v in vertices])
        corners = np.column_stack([points, np.zeros(len(points))])
        return _polyline_of(entity, corners, np.zeros((len(points), 2)), bool(flags & _CLOSED), spatial=True)
    usual = (entity.dxf.get("default_start_width", 0), entity.dxf.get("default_end_width", 0))
    rows = finite(
        "its points",
        [
            (
                *(v.location.x, v.location.y, v.get("bulge", 0)),
                *(v.get("start_width", usual[0]), v.get("end_width", usual[1])),
            )
            for v in vertices
        ],
    ).reshape(-1, 5)
    traced = _polyline_of(entity, rows[:, :3], rows[:, 3:], bool(flags & _CLOSED))
    if flags & _SMOOTHED:
        why = "it was smoothed by the program that drew it, and the file holds it so"
        traced.remarks.append(("read by the pieces it is stored as", why))
    return traced


def _polyline_of(
    entity: DXFEntity, corners: Array, widths: Array, closed: bool, spatial: bool = False
) -> Traced:
    """Trace corners ``(n, 3)``, with the bulge of the piece that follows each, and that piece's two widths."""
    if closed:
        corners = np.concatenate([corners, corners[:1]])
    else:
        widths = widths[:-1]
    controls = _bulging(corners)
    if not spatial:
        controls = controls * [facing(entity), 1]
    if not widths.size or (widths == 0).all():
        return Traced("polyline", controls, closed)
    if (widths == widths[0, 0]).all() and widths[0, 0] > 0:
        return Traced("polyline", controls, closed, float(widths[0, 0]))
    remark = ("read without a width", f"its width changes, from {widths.min():g} to {widths.max():g} units")
    return Traced("polyline", controls, closed, remarks=[remark])


def _bulging(corners: Array) -> Array:
    """Return the pieces between corners ``(n, 3)``, each straight or, where its bulge is not 0, an arc.

    A bulge is the tangent of a quarter of the arc's angle, positive where the arc runs counterclockwise. All is
    measured from the chord: the point at angle d along an arc of angle A lies ``sin(d/2)/sin(A/2)`` chords from the
    start, in the direction of the chord turned by ``(d - A)/2``.
    """
    before, after, bulges = corners[:-1, :2], corners[1:, :2], corners[:-1, 2]
    bulges = np.where((before == after).all(axis=1), 0, bulges)
    turn = 4 * np.arctan(bulges)
    pieces = np.maximum(np.ceil(np.abs(turn) / (2 * np.pi) * PIECES_A_TURN - 1e-9), 1).astype(np.intp)
    first = np.cumsum(pieces) - pieces
    controls = np.empty((int(pieces.sum()), 4, 2))
    straight = bulges == 0
    controls[first[straight]] = _straight(before[straight], after[straight])
    row = np.repeat(np.arange(len(pieces)), pieces)
    row, number = row[~straight[row]], (np.arange(len(controls)) - first[row])[~straight[row]]
    start, chord = before[row], (after - before)[row] @ [1, 1j]
    whole, step = turn[row], (turn / pieces)[row]
    sine = (2 * bulges / (1 + bulges * bulges))[row]  # of half the angle

    def point(angle: Array) -> NDArray[np.complex128]:
        at: NDArray[np.complex128] = chord * (np.sin(angle / 2) / sine) * np.exp(0.5j * (angle - whole))
        return at

    def handle(angle: Array) -> NDArray[np.complex128]:
        at: NDArray[np.complex128] = (
            4 / 3 * np.tan(step / 4) * chord / (2 * sine) * np.exp(1j * (angle - whole / 2))
        )
        return at

    begin, end = number * step, (number + 1) * step
    cubics = np.stack(
        [point(begin), point(begin) + handle(begin), point(end) - handle(end), point(end)], axis=1
    )
    controls[~np.isin(np.arange(len(controls)), first[straight])] = (
        np.stack([cubics.real, cubics.imag], axis=-1) + start[:, None]
    )
    controls[first, 0], controls[first + pieces - 1, 3] = before, after
    controls[1:, 0] = controls[:-1, 3]
    return controls


def _straight(before: Array, after: Array) -> Array:
    third = (after - before) / 3
    return np.stack([before, before + third, after - third, after], axis=1)


# Splines


def _spline(entity: Any) -> Traced:
    points = _places("its control points", entity.control_points)
    closed = bool(entity.dxf.flags & _CLOSED)
    if not len(points):
        return _spline_through(entity, closed)
    weights = finite("its weights", entity.weights)
    spline = BSpline(
        int(entity.dxf.degree),
        points,
        finite("its knots", entity.knots),
        weights if len(weights) else None,
    )
    controls, exact = spline_cubics(spline)
    traced = Traced("spline", controls)
    if not exact:
        kind = f"it is of degree {spline.degree}" if spline.degree > 3 else "it is rational"
        traced.remarks.append(("read by cubics that keep to it to 1e-10 of its size", kind))
    if (
        closed
        and np.abs(controls[-1, 3] - controls[0, 0]).max() > _FLAT * np.ptp(controls, axis=(0, 1)).max()
    ):
        traced.remarks.append(
            ("read open, as its points are", "it is marked closed but its ends do not meet")
        )
    return traced


def _spline_through(entity: Any, closed: bool) -> Traced:
    points = _places("its fit points", entity.fit_points)
    tangents = [
        finite("its tangent", entity.dxf.get(name))[:2] if entity.dxf.hasattr(name) else None
        for name in ("start_tangent", "end_tangent")
    ]
    largest = [0.0 if t is None else np.abs(t).max() for t in tangents]
    ways = [
        t / size if t is not None and size > 0 else None for t, size in zip(tangents, largest, strict=True)
    ]
    units = [None if way is None else way / np.hypot(*way) for way in ways]
    controls = through_fit_points(points, closed, (units[0], units[1])) if len(points) > 1 else None
    if controls is None:
        msg = "it has no control points and fewer than two fit points"
        raise UnreadError(msg)
    what = f"read as the cubic spline through its {len(points)} fit points, its parameter the chords' length"
    why = "the file holds those points and not the curve; programs may differ between them"
    return Traced("spline", controls, closed, remarks=[(what, why)])


_TRACERS: dict[str, Callable[[Any], Traced]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
TRACED = frozenset(_TRACERS)
