"""The size of an SVG drawing, and where its user units lie on the page."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.drawing.style import declarations, font_size, in_px
from bias_drafting.drawing.viewport import (
    PX,
    Length,
    ViewBox,
    named_length,
    parse_view_box,
    shorten,
    view_box_matrix,
)
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from bias_drafting.drawing.css import Declaration
    from bias_drafting.drawing.xml_tree import Element

    Array = NDArray[np.float64]

__all__ = ["Page", "page_of"]

# The size of a drawing that gives none (CSS 2.1, section 10.3.2, replaced elements).
_FALLBACK = (300 * PX, 150 * PX)
# Page and viewBox differ in proportions beyond this share.
_ODD = 1e-3
# Which editor wrote a file that counts 90 to the inch (its manual, on converting files of before its 0.92).
_VERSION_ATTRIBUTE = "http://www.inkscape.org/namespaces/inkscape version"
_VERSION = re.compile(r"([0-9]{1,3})\.([0-9]{1,3})(?:\.[0-9]{1,3})?")
_NO_UNITS = "a file without units is read at 96 to the inch"


@dataclass(frozen=True, slots=True)
class Page:
    """The page of a drawing.

    Attributes
    ----------
    size
        Width and height in mm.
    matrix
        The 3 x 3 map from user units to mm on the page.
    viewport
        Width and height in user units, for percentages.
    remarks
        What was assumed, and why.
    in_px
        Whether its size was read from numbers without units.
    """

    size: tuple[float, float]
    matrix: Array
    viewport: tuple[float, float]
    remarks: list[tuple[str, str]] = field(default_factory=list)
    in_px: bool = False


def page_of(root: Element, sheets: Mapping[str, Declaration]) -> Page:
    """Return the page of a root ``svg`` element; ``sheets`` is what style sheets declare for it.

    Raises
    ------
    DrawingError
        A width, height, viewBox or preserveAspectRatio that cannot be read, or a size not more than 0.
    """
    remarks = _of_90(root)
    box = parse_view_box(root.attributes["viewBox"]) if "viewBox" in root.attributes else None
    size = _size(root, sheets, box, remarks)
    in_px = any(_NO_UNITS in why for _, why in remarks)
    if box is None:
        return Page(size, np.diag([PX, PX, 1.0]), (size[0] / PX, size[1] / PX), remarks, in_px)
    aspect = root.attributes.get("preserveAspectRatio", "")
    matrix = view_box_matrix(box, *size, aspect)
    across, down = size[0] / box.width, size[1] / box.height
    if min(across, down) < (1 - _ODD) * max(across, down):
        remarks.append(_odd_proportions(matrix, across, down))
    return Page(size, matrix, (box.width, box.height), remarks, in_px)


def _odd_proportions(matrix: Array, across: float, down: float) -> tuple[str, str]:
    """Say what becomes of a page whose width and height make its units differently large."""
    wide, tall = matrix[0, 0], matrix[1, 1]
    sides = f"by its width a unit is {across:.5g} mm, by its height {down:.5g} mm"
    if wide != tall:
        return "it is stretched to its page", f"{sides}, and it asks for both"
    return f"its units are read as {wide:.5g} mm", f"its page and its viewBox differ in proportions: {sides}"


def _of_90(root: Element) -> list[tuple[str, str]]:
    """Return a doubt about a file without a viewBox by an editor that counted 90 to the inch (before its 0.92)."""
    written = _VERSION.match(root.attributes.get(_VERSION_ATTRIBUTE, ""))
    if written is None or "viewBox" in root.attributes or (int(written[1]), int(written[2])) >= (0, 92):
        return []
    why = (
        f"version {written[0]} of the editor that wrote it counted 90 to the inch; if what is drawn comes out "
        "at 94 % of its size, pass scale=1.06667"
    )
    return [("its numbers count 96 to the inch", why)]


def _size(
    root: Element, sheets: Mapping[str, Declaration], box: ViewBox | None, remarks: list[tuple[str, str]]
) -> tuple[float, float]:
    """Return width and height in mm."""
    width, height = _side(root, sheets, "width"), _side(root, sheets, "height")
    given = [side for side in (width, height) if side is not None]
    if any(side.unit == "" for side in given):
        remarks.append(("its size is read in px", _NO_UNITS))
    if width is not None and height is not None:
        return width.mm, height.mm
    if box is None:
        what = "its missing width or height is taken as 300 or 150 px"
        remarks.append((what, f"it has no viewBox; {_NO_UNITS}"))
        return (width.mm if width else _FALLBACK[0]), (height.mm if height else _FALLBACK[1])
    if width is not None:
        remarks.append(("its height follows from its width", "only the width is a length"))
        return width.mm, width.mm * box.height / box.width
    if height is not None:
        remarks.append(("its width follows from its height", "only the height is a length"))
        return height.mm * box.width / box.height, height.mm
    remarks.append(("its viewBox is read in px", f"its width and height are no lengths; {_NO_UNITS}"))
    return box.width * PX, box.height * PX


def _side(root: Element, sheets: Mapping[str, Declaration], name: str) -> Length | None:
    """Return the width or height a root gives as a length: in a style, else as an attribute."""
    declared = declarations(root, sheets)
    font = font_size(declared.get("font-size", "medium"), 16.0, 16.0)
    for properties in (in_px(declared, font, font), in_px(root.attributes, font, font)):
        length = named_length(properties, name, "100%")
        if length.unit == "%":
            continue
        if length.value <= 0:
            msg = f"its {name} is {shorten(properties[name])}; it must be more than 0"
            raise DrawingError(msg)
        return length
    return None
