"""What in an SVG file refers to something else, or hangs on a condition: ``use``, ``switch`` and their rules.

Sources: SVG 2, sections 5.5 (``symbol``), 5.6 (``use``), 5.7 (``switch``) and 5.8 (conditional processing).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bias_drafting.drawing.viewport import (
    chain,
    named_length,
    parse_view_box,
    translation,
    view_box_matrix,
)
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from bias_drafting.drawing.xml_tree import Element

    Array = NDArray[np.float64]

__all__ = ["View", "conditions_met", "elements_by_id", "href_of", "inner_view", "refuse_cycle"]

_XLINK = "http://www.w3.org/1999/xlink href"
# The language the drawing is read in; what is drawn for others only is left out.
_LANGUAGE = "en"
# Of the size of a viewport: less than this beyond its edge is rounding.
_HAIR = 1e-6


class View(NamedTuple):
    """Where user units lie inside an element with a viewport, and the width and height of that in them.

    ``edge`` maps the unit square onto the viewport itself: what is drawn beyond it would not be seen.
    """

    matrix: Array
    viewport: tuple[float, float]
    edge: Array | None = None

    def shows(self, points: Array) -> bool:
        """Whether all points ``(n, 2)`` on the page lie inside the viewport, or within a hair of it."""
        if self.edge is None or np.linalg.matrix_rank(self.edge) < 3:
            return True
        inverse = np.linalg.inv(self.edge)
        inside = points @ inverse[:2, :2].T + inverse[:2, 2]
        return bool((np.abs(inside - 0.5) <= 0.5 + _HAIR).all())


def elements_by_id(root: Element) -> dict[str, Element]:
    """Return the elements of a drawing by their id, the first of each (SVG 2, section 5.3)."""
    found: dict[str, Element] = {}
    waiting = [root]
    while waiting:
        element = waiting.pop()
        its_id = element.attributes.get("id", "")
        if its_id:
            found.setdefault(its_id, element)
        waiting += reversed(element.children)
    return found


def href_of(element: Element) -> str:
    """Return what a ``use`` refers to; the plain attribute comes before the one of XLink."""
    attributes = element.attributes
    return (attributes["href"] if "href" in attributes else attributes.get(_XLINK, "")).strip()


def conditions_met(element: Element) -> bool:
    """Whether an element is drawn at all by a reader of English that knows no extensions."""
    attributes = element.attributes
    if "requiredExtensions" in attributes:
        return False
    languages = attributes.get("systemLanguage")
    if languages is None:
        return True
    tags = [tag.strip().lower() for tag in languages.split(",")]
    return any(tag == _LANGUAGE or tag.startswith(f"{_LANGUAGE}-") for tag in tags)


def inner_view(declared: Mapping[str, str], around: View, size: Mapping[str, str]) -> View | None:
    """Return the view inside an ``svg`` or ``symbol`` element, or None if it has no size.

    Parameters
    ----------
    declared
        Its properties: ``x``, ``y``, ``viewBox`` and ``preserveAspectRatio``.
    around
        The view it stands in.
    size
        Where its ``width`` and ``height`` are found: its own properties, or those of the ``use`` that draws it.

    Raises
    ------
    DrawingError
        Lengths, a viewBox or a preserveAspectRatio that cannot be read.
    """
    across, down = around.viewport
    x = named_length(declared, "x", "0").user_units(across)
    y = named_length(declared, "y", "0").user_units(down)
    width = named_length(size, "width", "100%", least=0).user_units(across)
    height = named_length(size, "height", "100%", least=0).user_units(down)
    if width == 0 or height == 0:
        return None
    matrix, viewport = chain(around.matrix, translation(x, y)), (width, height)
    edge = chain(matrix, np.diag([width, height, 1.0]))
    if "viewBox" in declared:
        box = parse_view_box(declared["viewBox"])
        matrix = chain(matrix, view_box_matrix(box, width, height, declared.get("preserveAspectRatio", "")))
        viewport = (box.width, box.height)
    return View(matrix, viewport, edge)


def refuse_cycle(trail: tuple[Element, ...], target: Element) -> None:
    """Raise an error if an element that is being drawn is to be drawn inside itself.

    Raises
    ------
    DrawingError
        A ``use`` that leads back to itself; the message tells the ids on the way.
    """
    if not any(element is target for element in trail):
        return
    names = [element.attributes.get("id", "") for element in (*trail, target)]
    msg = f"it leads back to itself by way of {' > '.join(f'#{name}' for name in names if name)}"
    raise DrawingError(msg)
