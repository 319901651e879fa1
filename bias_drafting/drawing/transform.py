"""Transforms as CSS writes them: functions with units, origins, and the properties translate, rotate and scale.

Sources: CSS Transforms Level 1, sections 6 (reference boxes and origins), 8 and 13 (functions); Level 2, section 5
(the order: origin, translate, rotate, scale, then the list of functions). The ``transform`` attribute of SVG is read
by :func:`bias_drafting.drawing.viewport.parse_transform`.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bias_drafting.drawing.viewport import chain, parse_length, parse_transform, shorten, translation, turned
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Box", "own_matrix"]

_CSS_UNITS = re.compile(r"(?<=[0-9.])(?:px|deg)\b")
_FUNCTION = re.compile(r"\s*([a-zA-Z0-9]+)\(([^()]*)\)")
_NUMBER = re.compile(r"[+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]+)?")
_DEGREES = {"deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}
_SHARES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}
# CSS can move a shape in these ways too; they are not read.
_UNREAD = ("offset", "offset-path", "zoom")
_NOTHING = frozenset({"", "none", "initial", "unset", "auto", "normal"})


class Box(NamedTuple):
    """A reference box in user units."""

    x: float
    y: float
    width: float
    height: float


def own_matrix(
    declared: Mapping[str, str],
    css: Mapping[str, str],
    viewport: tuple[float, float],
    bounds: Callable[[], Box | None] | None = None,
    origin: str = "",
) -> Array:
    """Return the 3 x 3 map of an element's own transform.

    Parameters
    ----------
    declared, css
        All its properties, and those that style sheets or its ``style`` give.
    viewport
        Width and height, in user units, of what percentages refer to.
    bounds
        Gives the box round the element itself, for ``transform-box: fill-box``; None where that is not known.
    origin
        Where the transform has its origin unless ``transform-origin`` says; that of the user units by default.

    Raises
    ------
    DrawingError
        A transform that cannot be read, or that is of a kind not read here.
    """
    moved = [
        name for name in _UNREAD if css.get(name, "") not in _NOTHING and css.get(name) not in {"1", "100%"}
    ]
    if moved:
        msg = f"its style says {moved[0]!r}, which is not read; use the transform attribute"
        raise DrawingError(msg)
    single = [name for name in ("translate", "rotate", "scale") if css.get(name, "") not in _NOTHING]
    text = declared.get("transform", "").strip()
    if text in _NOTHING and not single:
        return np.eye(3)
    box = _reference_box(declared, viewport, bounds)
    steps = [_single(name, css[name], box) for name in single]
    if text not in _NOTHING:
        plain = "transform" not in css
        steps.append(parse_transform(_CSS_UNITS.sub("", text)) if plain else _functions(text, box))
    whole = np.eye(3)
    for step in steps:
        whole = chain(whole, step)
    x, y = _origin(declared.get("transform-origin", origin), box)
    if x or y:
        whole = chain(chain(translation(x, y), whole), translation(-x, -y))
    if not np.isfinite(whole).all():
        msg = f"the transform {shorten(text)} leads to numbers that are not finite"
        raise DrawingError(msg)
    return whole


def _reference_box(
    declared: Mapping[str, str], viewport: tuple[float, float], bounds: Callable[[], Box | None] | None
) -> Box:
    kind = declared.get("transform-box", "view-box").strip()
    if kind in {"fill-box", "content-box"}:
        box = bounds() if bounds else None
        if box is None:
            msg = f"its transform-box {kind} is not read on a group; move the shapes themselves"
            raise DrawingError(msg)
        return box
    if kind in {"stroke-box", "border-box"} and declared.get("transform-origin", "") not in _NOTHING:
        msg = f"its transform-box {kind} is not read; move the shape itself"
        raise DrawingError(msg)
    return Box(0.0, 0.0, *viewport)


def _origin(text: str, box: Box) -> tuple[float, float]:
    """Return the origin of a transform; without one it is that of the user units."""
    words = text.lower().split()
    if not words or text in _NOTHING:
        return 0.0, 0.0
    if len(words) == 1:
        words = ["center", words[0]] if words[0] in {"top", "bottom"} else [words[0], "center"]
    if words[0] in {"top", "bottom"} or words[1] in {"left", "right"}:
        words[:2] = [words[1], words[0]]
    x, y = (
        start + (_SHARES[word] * size if word in _SHARES else _length(word, size))
        for word, start, size in zip(words[:2], (box.x, box.y), (box.width, box.height), strict=True)
    )
    return x, y


def _length(text: str, whole: float) -> float:
    return parse_length(text).user_units(whole)


def _angle(text: str) -> float:
    """Return an angle in degrees."""
    match = re.fullmatch(rf"\s*({_NUMBER.pattern})(deg|grad|rad|turn|)\s*", text, re.IGNORECASE)
    if match is None or (not match[2] and float(match[1]) != 0):
        msg = f"{shorten(text)} is not an angle; use a number with deg, grad, rad or turn"
        raise DrawingError(msg)
    return _finite(float(match[1]) * _DEGREES.get(match[2].lower(), 1.0), text)


def _number(text: str) -> float:
    text = text.strip()
    percent = text.endswith("%")
    if not _NUMBER.fullmatch(text.removesuffix("%")):
        msg = f"{shorten(text)} is not a number"
        raise DrawingError(msg)
    return _finite(float(text.removesuffix("%")) / (100 if percent else 1), text)


def _finite(value: float, text: str) -> float:
    if not math.isfinite(value):
        msg = f"{shorten(text)} is not a finite number"
        raise DrawingError(msg)
    return value


def _single(name: str, text: str, box: Box) -> Array:
    """Return the map of one of the properties translate, rotate and scale."""
    words = text.split()
    if name == "rotate" and len(words) == 1:
        return turned(_angle(words[0]))
    if name == "scale" and len(words) in {1, 2}:
        return np.diag([_number(words[0]), _number(words[-1]), 1.0])
    if name == "translate" and len(words) in {1, 2}:
        return translation(_length(words[0], box.width), _length(words[1], box.height) if words[1:] else 0.0)
    msg = f"its {name} {shorten(text)} is not read; use the transform attribute"
    raise DrawingError(msg)


def _functions(text: str, box: Box) -> Array:
    """Return the map of a list of transform functions."""
    whole, at, end = np.eye(3), 0, len(text.rstrip())
    while at < end:
        match = _FUNCTION.match(text, at)
        if match is None:
            msg = f"the transform {shorten(text)} cannot be read, at character {at + 1}"
            raise DrawingError(msg)
        values = [value for value in match[2].split(",") if value.strip()]
        step = _function(match[1].lower(), values, box)
        if step is None:
            msg = (
                f"the transform {shorten(match[0].strip())} is not read here; use one that stays in the plane"
            )
            raise DrawingError(msg)
        whole = chain(whole, step)
        at = match.end()
    return whole


def _function(name: str, values: list[str], box: Box) -> Array | None:
    """Return the map of one function, or None for one that is not known or has too few or many values."""
    count = len(values)
    if name == "matrix" and count == 6:
        a, b, c, d, e, f = map(_number, values)
        return np.array([[a, c, e], [b, d, f], [0, 0, 1]])
    if name == "translate" and count in {1, 2}:
        return translation(
            _length(values[0], box.width), _length(values[1], box.height) if values[1:] else 0.0
        )
    if name == "scale" and count in {1, 2}:
        return np.diag([_number(values[0]), _number(values[-1]), 1.0])
    if name == "skew" and count in {1, 2}:
        return _skewed(_angle(values[0]), _angle(values[1]) if values[1:] else 0.0)
    if count != 1:
        return None
    (value,) = values
    single: dict[str, Callable[[], Array]] = {
        "translatex": lambda: translation(_length(value, box.width), 0.0),
        "translatey": lambda: translation(0.0, _length(value, box.height)),
        "scalex": lambda: np.diag([_number(value), 1.0, 1.0]),
        "scaley": lambda: np.diag([1.0, _number(value), 1.0]),
        "rotate": lambda: turned(_angle(value)),
        "rotatez": lambda: turned(_angle(value)),
        "skewx": lambda: _skewed(_angle(value), 0.0),
        "skewy": lambda: _skewed(0.0, _angle(value)),
    }
    return single[name]() if name in single else None


def _skewed(across: float, down: float) -> Array:
    slopes = np.tan(np.radians([across, down]))
    return np.array([[1, slopes[0], 0], [slopes[1], 1, 0], [0, 0, 1]])
