"""The shapes of SVG as cubic Beziers, in user units, before any transform (SVG 2, chapters 9 and 10)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.ellipses import ellipse, ellipse_arc
from bias_drafting.curve.path_data import Subpath, read_path_data
from bias_drafting.drawing.viewport import diagonal, named_length, parse_numbers
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["SHAPE_TAGS", "Traced", "trace_shape"]

# Beyond this sums and squares of user units would run over.
_MOST_UNITS = 1e100


@dataclass(slots=True)
class Traced:
    """What an element draws.

    Attributes
    ----------
    subpaths
        Its subpaths, in user units.
    remarks
        What had to be left out, and why, for each thing left out.
    """

    subpaths: list[Subpath] = field(default_factory=list)
    remarks: list[tuple[str, str]] = field(default_factory=list)


class _Geometry:
    """The lengths that place a shape, in user units."""

    def __init__(self, properties: Mapping[str, str], viewport: tuple[float, float]) -> None:
        self.properties = properties
        self.viewport = viewport

    def across(self, name: str, least: float = -np.inf) -> float:
        return _bounded(name, named_length(self.properties, name, "0", least).user_units(self.viewport[0]))

    def down(self, name: str, least: float = -np.inf) -> float:
        return _bounded(name, named_length(self.properties, name, "0", least).user_units(self.viewport[1]))

    def either(self, name: str) -> float:
        return _bounded(
            name, named_length(self.properties, name, "0", 0).user_units(diagonal(*self.viewport))
        )

    def radii(self) -> tuple[float, float]:
        """Return ``rx, ry``; one that is missing or auto is as the other (SVG 2, section 10.4)."""
        missing = [self.properties.get(name, "auto").strip() in {"", "auto"} for name in ("rx", "ry")]
        rx, ry = self.across("rx", 0), self.down("ry", 0)
        return (ry if missing[0] else rx), (rx if missing[1] else ry)


def _bounded(name: str, length: float) -> float:
    if not abs(length) <= _MOST_UNITS:
        msg = f"{name}: {length:.3g} units are more than any drawing has"
        raise DrawingError(msg)
    return length


def trace_shape(tag: str, properties: Mapping[str, str], viewport: tuple[float, float]) -> Traced:
    """Return what a shape draws.

    Parameters
    ----------
    tag
        One of ``SHAPE_TAGS``.
    properties
        Its attributes and style declarations.
    viewport
        Width and height in user units that percentages refer to.

    Raises
    ------
    DrawingError
        A number that is not finite, a length that cannot be read, a size or radius that is negative.
    """
    # Numbers near the largest there are run over here and are told where they are placed on the page.
    with np.errstate(over="ignore", invalid="ignore"):
        return _TRACERS[tag](_Geometry(properties, viewport))


def _path(shape: _Geometry) -> Traced:
    data = read_path_data(shape.properties.get("d", ""))
    if data.not_finite:
        msg = f"in its path data {data.error}"
        raise DrawingError(msg)
    traced = Traced(list(data.subpaths))
    if data.error is not None:
        traced.remarks.append(("drawn only up to an error in its path data", data.error))
    if data.without_length and data.subpaths:
        many = "a subpath" if data.without_length == 1 else f"{data.without_length} subpaths"
        traced.remarks.append((f"{many} left out", "all its points coincide"))
    return traced


def _points(shape: _Geometry, closed: bool) -> Traced:
    numbers, error = parse_numbers(shape.properties.get("points", ""), "its points")
    traced = Traced()
    if error is None and len(numbers) % 2:
        error = f"the last of its {len(numbers)} coordinates has no partner"
    if error is not None:
        traced.remarks.append(("drawn only up to an error in its points", error))
    points = np.array(numbers[: len(numbers) // 2 * 2], dtype=np.float64).reshape(-1, 2)
    if closed:  # where the last point is the first already, the line added has no length and is dropped
        points = np.concatenate([points, points[:1]])
    return _add(traced, bezier.from_lines(points), closed)


def _polyline(shape: _Geometry) -> Traced:
    return _points(shape, closed=False)


def _polygon(shape: _Geometry) -> Traced:
    return _points(shape, closed=True)


def _line(shape: _Geometry) -> Traced:
    ends = [[shape.across("x1"), shape.down("y1")], [shape.across("x2"), shape.down("y2")]]
    return _add(Traced(), bezier.from_lines(np.array(ends)), closed=False)


def _rect(shape: _Geometry) -> Traced:
    """Trace a rectangle clockwise from the start of its upper edge (SVG 2, section 10.2)."""
    x, y, width, height = (
        shape.across("x"),
        shape.down("y"),
        shape.across("width", 0),
        shape.down("height", 0),
    )
    if width == 0 or height == 0:
        return Traced()
    rx, ry = shape.radii()
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    right, bottom = x + width, y + height
    if rx == 0 or ry == 0:
        corners = np.array([(x, y), (right, y), (right, bottom), (x, bottom), (x, y)])
        return _add(Traced(), bezier.from_lines(corners), closed=True)
    sides = [
        ((x + rx, y), (right - rx, y)),
        ((right, y + ry), (right, bottom - ry)),
        ((right - rx, bottom), (x + rx, bottom)),
        ((x, bottom - ry), (x, y + ry)),
    ]
    pieces = []
    for (start, end), (after, _) in zip(sides, sides[1:] + sides[:1], strict=True):
        pieces += [bezier.from_lines(np.array([start, end])), ellipse_arc(end, rx, ry, 0, False, True, after)]
    return _add(Traced(), np.concatenate(pieces), closed=True)


def _circle(shape: _Geometry) -> Traced:
    radius = shape.either("r")
    return _ellipse_of(shape, radius, radius)


def _ellipse(shape: _Geometry) -> Traced:
    return _ellipse_of(shape, *shape.radii())


def _ellipse_of(shape: _Geometry, rx: float, ry: float) -> Traced:
    cx, cy = shape.across("cx"), shape.down("cy")
    if rx == 0 or ry == 0:
        return Traced()
    return _add(Traced(), ellipse(cx, cy, rx, ry), closed=True)


def _add(traced: Traced, controls: Array, closed: bool) -> Traced:
    """Add a subpath, unless all its points coincide."""
    if len(controls) and (controls != controls[0, 0]).any():
        traced.subpaths.append(Subpath(controls, closed))
    return traced


_TRACERS = {
    "path": _path,
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
}
SHAPE_TAGS = frozenset(_TRACERS)
