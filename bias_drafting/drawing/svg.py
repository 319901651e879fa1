"""The reader of SVG: a file's elements, in document order, as shapes at true size.

Everything that would be drawn but is left out, and everything assumed, becomes a :class:`Note`. Labels are
read from any attribute whose local name is ``label``, in whatever namespace it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.drawing.css import cascade_of
from bias_drafting.drawing.page import page_of
from bias_drafting.drawing.style import Style
from bias_drafting.drawing.transform import own_matrix
from bias_drafting.drawing.viewport import LARGEST, PX, chain
from bias_drafting.drawing.walk import Place, Walk, naming
from bias_drafting.drawing.xml_tree import parse_xml
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from bias_drafting.drawing.drawing import Note, Shape

__all__ = ["SvgContent", "read_svg"]

# Of a page, in mm.
_SMALLEST_PAGE = 1e-3


@dataclass(frozen=True, slots=True)
class SvgContent:
    """What an SVG file draws: its size in mm, its shapes in order, and what was left out or assumed.

    ``in_px`` tells whether the size was read from numbers without units, ``noted`` which notes are on each shape.
    """

    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    notes: tuple[Note, ...]
    in_px: bool = False
    noted: tuple[slice, ...] = ()


def read_svg(content: bytes | str, scale: float = 1.0) -> SvgContent:
    """Read the text of an SVG file.

    Parameters
    ----------
    content
        The file's bytes, or its text already decoded.
    scale
        Multiplies the size.

    Raises
    ------
    DrawingError
        Text that is not XML or not SVG, a size that cannot be, numbers that are not finite or cannot be read, copies
        that lead back to themselves or are too many. The message names the element and its line, not the file.
    """
    root = parse_xml(content)
    if root.name != "svg":
        name = root.name or root.foreign_name
        msg = f"it is XML, but its root is <{name}>, not the <svg> of an SVG drawing"
        raise DrawingError(msg)
    cascade = cascade_of(root)
    with naming("svg", root):
        page = page_of(root, cascade.declared(root))
        size = (page.size[0] * scale, page.size[1] * scale)
        if not np.isfinite(size).all():
            msg = "its width and height are not finite numbers of millimetres"
            raise DrawingError(msg)
        if max(size) > LARGEST or min(size) < _SMALLEST_PAGE:
            msg = f"its size of {size[0]:.3g} x {size[1]:.3g} mm is none that a drawing has"
            raise DrawingError(msg)
    walk = Walk(root, cascade, size, PX * scale)
    for what, why in page.remarks:
        walk.note("svg", root, what, why)
    style = Style(by_id=walk.by_id).within(root, cascade.declared(root))
    if style.why_hidden:
        walk.note("svg", root, "left out whole", style.why_hidden)
    else:
        with naming("svg", root):
            # The page as a whole turns about its middle (CSS Transforms Level 1, section 6), in px.
            sides = (page.size[0] / PX, page.size[1] / PX)
            own = own_matrix(style.declared, style.css, sides, origin="50% 50%")
        in_mm, in_px = np.diag([PX * scale, PX * scale, 1.0]), np.diag([1 / PX, 1 / PX, 1.0])
        matrix = chain(chain(in_mm, own), chain(in_px, page.matrix))
        walk.read_root(Place(matrix, page.viewport, style))
    return SvgContent(size, tuple(walk.shapes), tuple(walk.notes), page.in_px, tuple(walk.noted))
