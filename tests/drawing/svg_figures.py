"""What a drawing should be read as: the figures of a browser, and how a reading is compared with them."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from bias_drafting.drawing.drawing import Drawing, Shape

    Array = NDArray[np.float64]

__all__ = ["CLOSE", "RECORDED", "Seen", "Sight", "differences", "digest", "from_json", "recorded", "to_json"]

RECORDED = Path(__file__).with_name("svg_figures.json")
CLOSE = 0.01  # mm
STEPS = 32  # 33 points along each shape, at equal distances
# The page of a browser is laid out in steps of 1/64 px, 0.0041 mm: below what CLOSE asks for, but not by much.
DECIMALS = 5


@dataclass(frozen=True, slots=True)
class Seen:
    """One shape as it is drawn, in mm on the page.

    Attributes
    ----------
    name
        Its ``id``; that of the original for a shape that a ``use`` copies.
    tag
        What it is drawn with.
    copied
        Whether it is drawn by a ``use``.
    length
        Of all its subpaths together.
    points
        33 along it, at equal distances, the subpaths one after the other; shape (33, 2).
    stroke_width
        None if no line is painted.
    filled
        Whether its inside is painted.
    """

    name: str
    tag: str
    copied: bool
    length: float
    points: Array
    stroke_width: float | None
    filled: bool


@dataclass(frozen=True, slots=True)
class Sight:
    """A whole drawing: width and height in mm, and its shapes in the order they are drawn."""

    size: tuple[float, float]
    shapes: tuple[Seen, ...]


def digest(data: bytes) -> str:
    """Return what tells one file from another."""
    return hashlib.sha256(data).hexdigest()[:12]


def to_json(sights: Mapping[str, Sight], digests: Mapping[str, str], browser: str) -> str:
    """Return figures as text, a drawing to a line."""
    lines = [
        f"{json.dumps(name)}: {json.dumps([digests[name], *_as_list(sight)], separators=(',', ':'))}"
        for name, sight in sights.items()
    ]
    return f'{{"browser": {json.dumps(browser)}, "drawings": {{\n' + ",\n".join(lines) + "\n}}\n"


def _as_list(sight: Sight) -> list[Any]:
    shapes = [
        [
            shape.name,
            shape.tag,
            int(shape.copied),
            round(shape.length, DECIMALS),
            None if shape.stroke_width is None else round(shape.stroke_width, DECIMALS),
            int(shape.filled),
            [round(number, DECIMALS) + 0.0 for number in shape.points.ravel().tolist()],
        ]
        for shape in sight.shapes
    ]
    return [[round(side, DECIMALS) for side in sight.size], shapes]


def from_json(text: str) -> tuple[str, dict[str, tuple[str, Sight]]]:
    """Return the browser, and by name the digest of each drawing with what was seen of it."""
    data = json.loads(text)
    found = {}
    for name, (known_by, (width, height), shapes) in data["drawings"].items():
        seen = [
            Seen(its_name, tag, bool(copied), length, np.array(flat).reshape(-1, 2), stroke, bool(filled))
            for its_name, tag, copied, length, stroke, filled, flat in shapes
        ]
        found[name] = known_by, Sight((width, height), tuple(seen))
    return data["browser"], found


def recorded() -> tuple[str, dict[str, tuple[str, Sight]]]:
    """Return the figures on file."""
    return from_json(RECORDED.read_text(encoding="utf-8"))


def differences(drawing: Drawing, sight: Sight, close: float = CLOSE) -> list[str]:
    """Return in which ways a reading is not what was seen; nothing if it is."""
    wrong = []
    if not np.allclose(drawing.size, sight.size, rtol=0, atol=close):
        wrong.append(f"its size is {drawing.size}, seen {sight.size}")
    if len(drawing.shapes) != len(sight.shapes):
        read = [f"{shape.name} ({shape.tag})" for shape in drawing.shapes]
        seen = [f"{shape.name} ({shape.tag})" for shape in sight.shapes]
        wrong.append(f"{len(read)} shapes, seen {len(seen)}: {read}, seen {seen}")
        return wrong
    for shape, wanted in zip(drawing.shapes, sight.shapes, strict=True):
        wrong += [f"{wanted.name} ({wanted.tag}): {line}" for line in _unlike(shape, wanted, close)]
    return wrong


def _unlike(shape: Shape, seen: Seen, close: float) -> list[str]:
    if shape.tag != seen.tag:
        return [f"read as the {shape.tag} {shape.name}"]
    wrong = []
    if not seen.copied and seen.name not in {shape.name, *shape.words}:
        wrong.append(f"read as {shape.name}")
    length = sum(curve.length for curve in shape.curves)
    if abs(length - seen.length) > close:
        wrong.append(f"{length:.4f} mm long, seen {seen.length:.4f}")
    off = _farthest(shape, length, seen.points)
    if not off <= close:
        wrong.append(f"its points are up to {off:.4f} mm away")
    widths = shape.stroke_width, seen.stroke_width
    if (widths[0] is None) is not (widths[1] is None) or abs((widths[0] or 0) - (widths[1] or 0)) > close:
        wrong.append(f"its line is {widths[0]} mm wide, seen {widths[1]}")
    if shape.filled is not seen.filled:
        wrong.append("filled" if shape.filled else "not filled")
    return wrong


def _farthest(shape: Shape, length: float, points: Array) -> float:
    """Return how far the farthest of some points lies from the point of a shape at the same share of its length."""
    at = np.linspace(0, length, len(points))
    ends = np.cumsum([0.0, *(curve.length for curve in shape.curves)])
    offs = []
    for s, point in zip(at.tolist(), points, strict=True):
        # Where one subpath ends another may begin elsewhere: both places are right.
        places = [
            curve.point_at(min(max(s - begin, 0.0), curve.length))
            for curve, begin in zip(shape.curves, ends[:-1].tolist(), strict=True)
            if begin - CLOSE <= s <= begin + curve.length + CLOSE
        ]
        offs.append(_nearest(places, point))
    return float(np.max(offs))  # unlike Python's max, it does not lose a NaN


def _nearest(places: Sequence[Array], point: Array) -> float:
    return min(float(np.hypot(*(place - point))) for place in places)
