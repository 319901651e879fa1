"""How a shape is painted: the few properties of SVG that decide whether, and how wide, a line is drawn.

A declaration in the ``style`` attribute outweighs the attribute of the same name (SVG 2, section 6.6). Style
sheets are not read here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bias_drafting.drawing.viewport import named_length, parse_transform, shorten
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from bias_drafting.drawing.xml_tree import Element

    Array = NDArray[np.float64]

__all__ = ["Style", "declarations", "own_matrix", "unread_properties"]

_INITIAL = {
    "fill": "black",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "visibility": "visible",
}
# What clips, hides or decorates a shape, and what is done about it.
_UNREAD = {
    "clip-path": ("read whole", "its clip-path is not applied"),
    "mask": ("read whole", "its mask is not applied"),
    "marker": ("read without its markers", "they are not read"),
    "marker-start": ("read without its markers", "they are not read"),
    "marker-mid": ("read without its markers", "they are not read"),
    "marker-end": ("read without its markers", "they are not read"),
}
# CSS lets a style move a shape in ways that attributes cannot.
_MOVING = ("rotate", "scale", "translate", "offset", "offset-path", "zoom")
_CSS_UNITS = re.compile(r"(?<=[0-9.])(?:px|deg)\b")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


def declarations(element: Element) -> dict[str, str]:
    """Return the properties an element declares itself, by name: its attributes, then its ``style``."""
    attributes = {name: value.strip() for name, value in element.attributes.items() if name != "style"}
    return {**attributes, **_style_attribute(element)}


def _style_attribute(element: Element) -> dict[str, str]:
    found = {}
    for declaration in _COMMENT.sub("", element.attributes.get("style", "")).split(";"):
        name, colon, value = declaration.partition(":")
        if colon:
            found[name.strip().lower()] = value.partition("!")[0].strip()
    return found


@dataclass(frozen=True, slots=True)
class Style:
    """The painting of one element: what it inherits, and what it declares itself."""

    inherited: Mapping[str, str] = field(default_factory=lambda: dict(_INITIAL))
    declared: Mapping[str, str] = field(default_factory=dict)

    def within(self, element: Element) -> Style:
        """Return the style of an element inside the one with this style."""
        declared = declarations(element)
        own = {
            name: declared[name]
            for name in _INITIAL
            if declared.get(name, "inherit") not in {"inherit", "unset", ""}
        }
        initial = {name: _INITIAL[name] for name, value in own.items() if value == "initial"}
        return Style({**self.inherited, **own, **initial}, declared)

    @property
    def why_hidden(self) -> str | None:
        """Why nothing inside is drawn at all, or None."""
        if self.declared.get("display") == "none":
            return "its display is none"
        if _is_zero(self.declared.get("opacity", "1")):
            return "its opacity is 0"
        return None

    @property
    def is_visible(self) -> bool:
        """Whether the element itself is drawn; what is inside it may say otherwise for itself."""
        return self.inherited["visibility"] not in {"hidden", "collapse"}

    @property
    def is_filled(self) -> bool:
        """Whether the inside is painted."""
        return self._is_painted("fill")

    def stroke_width(self, scale: float, px: float, diagonal: float) -> float | None:
        """Return the width of the line in mm, or None if none is painted.

        Parameters
        ----------
        scale
            Millimetres per user unit, as the geometric mean of all directions.
        px
            Millimetres per px of the page, for lines that keep their width under transforms.
        diagonal
            What a width of 100% is, in user units.

        Raises
        ------
        DrawingError
            A width that cannot be read, or is negative.
        """
        if not self._is_painted("stroke"):
            return None
        width = named_length(self.inherited, "stroke-width", "1", least=0)
        if self.declared.get("vector-effect") == "non-scaling-stroke":
            scale = px
        return width.user_units(diagonal) * scale or None

    def _is_painted(self, paint: str) -> bool:
        none = self.inherited[paint].lower() in {"none", "transparent"}
        return not none and not _is_zero(self.inherited[f"{paint}-opacity"])


def own_matrix(element: Element, style: Style) -> Array:
    """Return the 3 x 3 map of an element's own transform, in its attribute or its style.

    Raises
    ------
    DrawingError
        A transform that cannot be read, or a style that moves the element in a way that is not read.
    """
    text = style.declared.get("transform", "")
    origin = style.declared.get("transform-origin", "")
    if text not in {"", "none"} and re.search("[1-9a-wyz]", origin.replace("px", "")):
        msg = f"its transform-origin {shorten(origin)} is not read; move the shape itself"
        raise DrawingError(msg)
    moved = [name for name in _MOVING if _style_attribute(element).get(name, "none") not in {"none", ""}]
    if moved:
        msg = f"its style says {moved[0]!r}, which is not read; use the transform attribute"
        raise DrawingError(msg)
    return parse_transform(_CSS_UNITS.sub("", text))


def unread_properties(style: Style) -> list[tuple[str, str]]:
    """Return what is not done for an element although its properties ask for it, and why."""
    asked = [_UNREAD[name] for name in _UNREAD if style.declared.get(name, "none") not in {"none", ""}]
    return list(dict.fromkeys(asked))


def _is_zero(opacity: str) -> bool:
    try:
        return named_length({"opacity": opacity}, "opacity", "1").value <= 0
    except DrawingError:  # a value CSS would ignore, so the shape is seen
        return False
