"""The reader of SVG: a file's elements, in document order, as shapes at true size.

Everything that would be drawn but is left out, and everything assumed, becomes a :class:`Note`. Labels are
read from any attribute whose local name is ``label``, in whatever namespace it is.
"""

from __future__ import annotations

import re
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.drawing import Note, Shape
from bias_drafting.drawing.page import page_of
from bias_drafting.drawing.shapes import SHAPE_TAGS, trace_shape
from bias_drafting.drawing.style import Style, own_matrix, unread_properties
from bias_drafting.drawing.viewport import (
    PX,
    chain,
    diagonal,
    mean_scale,
    named_length,
    parse_view_box,
    translation,
    view_box_matrix,
)
from bias_drafting.drawing.xml_tree import Element, parse_xml
from bias_drafting.errors import CurveError, DrawingError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from bias_drafting.curve.path_data import Subpath

    Array = NDArray[np.float64]

__all__ = ["SvgContent", "read_svg"]

_GROUPS = frozenset({"g", "a"})
# What never draws by itself, or is only drawn where something else refers to it.
_SILENT = frozenset(
    {
        *("animate", "animateMotion", "animateTransform", "mpath", "script", "set"),
        *("clipPath", "defs", "filter", "linearGradient", "marker", "mask", "pattern", "radialGradient"),
        *("symbol", "cursor", "desc", "metadata", "title", "view"),
    }
)
_WHY_UNREAD = {
    "foreignObject": "only the shapes of SVG are read",
    "image": "pictures are not read, only lines and shapes",
    "style": "style sheets are not read: shapes count as painted as they say themselves",
    "switch": "alternatives to choose from are not read",
    "text": "lettering is not read",
    "use": "copies of other elements are not read; draw the copy itself",
}
# What a program calls an element that nobody named: "path1234", "g12-3", "layer1".
_MADE_UP_ID = re.compile(
    r"(?:a|circle|ellipse|g|group|layer|line|path|polygon|polyline|rect|svg|use)?[-_]?[0-9][-_0-9]*",
    re.IGNORECASE,
)
# Ends this close (mm) meet, and a closing line this short has no direction worth keeping: files round to
# about this. Only curves much larger than that are touched.
_MEET = 1e-3
_LARGE = 1.0


@dataclass(frozen=True, slots=True)
class SvgContent:
    """What an SVG file draws: its size in mm, its shapes in order, and what was left out or assumed."""

    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    notes: tuple[Note, ...]


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
        Text that is not XML or not SVG, a size that cannot be, numbers that are not finite or cannot be read.
        The message names the element and its line, not the file.
    """
    root = parse_xml(content)
    if root.name != "svg":
        name = root.name or root.foreign_name
        msg = f"it is XML, but its root is <{name}>, not the <svg> of an SVG drawing"
        raise DrawingError(msg)
    with _naming("svg", root):
        page = page_of(root)
        size = (page.size[0] * scale, page.size[1] * scale)
        if not np.isfinite(size).all():
            msg = "its width and height are not finite numbers of millimetres"
            raise DrawingError(msg)
    reader = _Reader(size, PX * scale)
    style = Style().within(root)
    matrix = chain(np.diag([scale, scale, 1.0]), page.matrix)
    for what, why in page.remarks:
        reader.note("svg", root, what, why)
    if style.why_hidden:
        reader.note("svg", root, "left out whole", style.why_hidden)
    else:
        place = _Place(matrix, page.viewport, style, settings=_settings(root, {}))
        reader.read_children(root, place)
    return SvgContent(size, tuple(reader.shapes), tuple(reader.notes))


@dataclass(frozen=True, slots=True)
class _Place:
    """What an element has from the elements around it."""

    matrix: Array  # from user units to mm on the page
    viewport: tuple[float, float]
    style: Style
    layers: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)


class _Reader:
    """Walks through the elements and collects shapes and notes."""

    def __init__(self, size: tuple[float, float], px: float) -> None:
        self.size = size
        self.px = px
        self.shapes: list[Shape] = []
        self.notes: list[Note] = []
        self.counts: Counter[str] = Counter()

    def note(self, name: str, element: Element, what: str, why: str) -> None:
        self.notes.append(Note(name, element.line, what, why))

    def read_children(self, parent: Element, place: _Place) -> None:
        for element in parent.children:
            self.read_element(element, place)

    def read_element(self, element: Element, place: _Place) -> None:
        tag = element.name
        if not tag or tag in _SILENT or (tag == "style" and not element.text.strip()):
            return
        self.counts[tag] += 1
        name = _name_of(element) or f"{tag} {self.counts[tag]}"
        style = place.style.within(element)
        inner = replace(place, style=style, settings=_settings(element, place.settings))
        if style.why_hidden:
            self.note(name, element, f"left out{_with_shapes_inside(element)}", style.why_hidden)
        elif tag in SHAPE_TAGS:
            self.read_shape(name, element, inner)
        elif tag in _GROUPS or tag == "svg":
            self.read_group(name, element, inner)
        else:
            why = _WHY_UNREAD.get(tag, f"<{tag}> is no shape of SVG")
            self.note(name, element, f"left out{_with_shapes_inside(element)}", why)

    def read_group(self, name: str, element: Element, place: _Place) -> None:
        with _naming(name, element):
            place = replace(place, matrix=chain(place.matrix, own_matrix(element, place.style)))
            if element.name == "svg":
                inside = _inner_viewport(place)
                if inside is None:
                    self.note(
                        name, element, f"left out{_with_shapes_inside(element)}", "its width or height is 0"
                    )
                    return
                place = inside
                self.note(name, element, "read whole", "an inner svg is not cut off at its own edges")
        self.note_unread(name, element, place)
        named = _name_of(element)
        layers = (*place.layers, named) if named else place.layers
        place = replace(place, layers=layers, words=(*_words_of(element), *place.words))
        self.read_children(element, place)

    def read_shape(self, name: str, element: Element, place: _Place) -> None:
        style = place.style
        if not style.is_visible:
            self.note(name, element, "left out", "its visibility is hidden")
            return
        with _naming(name, element):
            matrix = chain(place.matrix, own_matrix(element, style))
            width = style.stroke_width(mean_scale(matrix), self.px, diagonal(*place.viewport))
            traced = trace_shape(element.name, style.declared, place.viewport)
            curves = [curve for subpath in traced.subpaths if (curve := _curve(subpath, matrix))]
        for what, why in traced.remarks:
            self.note(name, element, what, why)
        filled = style.is_filled and element.name != "line"  # a line has no inside
        if not curves:
            self.note(name, element, "left out", "it has no length")
            return
        if width is None and not filled:
            self.note(name, element, "left out", "it is neither stroked nor filled")
            return
        self.note_unread(name, element, place)
        self.note_curves(name, element, traced.subpaths, curves)
        self.shapes.append(
            Shape(
                name=name,
                tag=element.name,
                curves=tuple(curves),
                stroke_width=width,
                filled=filled,
                layers=place.layers,
                words=(*_words_of(element), *place.words),
                line=element.line,
                settings=MappingProxyType(dict(place.settings)),
            )
        )

    def note_unread(self, name: str, element: Element, place: _Place) -> None:
        for what, why in unread_properties(place.style):
            self.note(name, element, what, why)

    def note_curves(self, name: str, element: Element, subpaths: list[Subpath], curves: list[Curve]) -> None:
        if len(curves) < len(subpaths):
            self.note(
                name, element, "left out in part", "its transforms leave some of its subpaths no length"
            )
        elif sum(curve.closed for curve in curves) > sum(subpath.closed for subpath in subpaths):
            self.note(name, element, "read as closed", "its ends meet")
        boxes = np.array([curve.bounds for curve in curves])
        left, top = boxes[:, :2].min(axis=0)
        right, bottom = boxes[:, 2:].max(axis=0)
        if right < 0 or bottom < 0 or left > self.size[0] or top > self.size[1]:
            self.note(name, element, "read like the rest", "it lies off the page but is not hidden")


@contextmanager
def _naming(name: str, element: Element) -> Iterator[None]:
    """Add the element to the message of an error raised inside."""
    try:
        yield
    except DrawingError as error:
        its_id = " ".join(element.attributes.get("id", "").split())
        also = f" id {its_id!r}," if its_id not in {"", name} else ""
        msg = f"{name} (<{element.name}>,{also} line {element.line}): {error}"
        raise DrawingError(msg) from error


def _curve(subpath: Subpath, matrix: Array) -> Curve | None:
    """Return a subpath on the page in mm, or None if the map leaves it no length."""
    with np.errstate(over="ignore", invalid="ignore"):
        controls = subpath.controls @ matrix[:2, :2].T + matrix[:2, 2]
    if not np.isfinite(controls).all():
        msg = "its transforms lead to places that are not finite numbers"
        raise DrawingError(msg)
    closed = subpath.closed
    if np.ptp(controls, axis=(0, 1)).max() > _LARGE:
        if closed and len(controls) > 1 and np.ptp(controls[-1], axis=0).max() < _MEET:
            controls = controls[:-1]
        if np.abs(controls[-1, 3] - controls[0, 0]).max() < _MEET:
            controls[-1, 3] = controls[0, 0]
            closed = True
    try:
        return Curve(controls, closed)
    except CurveError:  # finite and joined up, so only its length can be wanting
        return None


def _inner_viewport(place: _Place) -> _Place | None:
    """Return the place inside an svg element that stands in a drawing, or None if it has no size."""
    declared, (across, down) = place.style.declared, place.viewport
    x = named_length(declared, "x", "0").user_units(across)
    y = named_length(declared, "y", "0").user_units(down)
    width = named_length(declared, "width", "100%", least=0).user_units(across)
    height = named_length(declared, "height", "100%", least=0).user_units(down)
    if width == 0 or height == 0:
        return None
    matrix, viewport = chain(place.matrix, translation(x, y)), (width, height)
    if "viewBox" in declared:
        box = parse_view_box(declared["viewBox"])
        inside = view_box_matrix(box, width, height, declared.get("preserveAspectRatio", ""))
        matrix = chain(matrix, inside)
        viewport = (box.width, box.height)
    return replace(place, matrix=matrix, viewport=viewport)


def _texts(element: Element) -> tuple[str, list[str], str]:
    """Return an element's id, its labels and its title, each on one line."""
    titles = [child.text for child in element.children if child.name == "title"]
    found = [element.attributes.get("id", ""), *element.by_local_name("label"), *titles[:1]]
    its_id, *labels = (" ".join(text.split()) for text in found)
    title = labels.pop() if titles else ""
    return its_id, [label for label in labels if label], title


def _name_of(element: Element) -> str:
    """Return what a person called an element: its id, unless a program made that up and there is better."""
    its_id, labels, title = _texts(element)
    given = "" if _MADE_UP_ID.fullmatch(its_id) else its_id
    return next((text for text in (given, *labels, title, its_id) if text), "")


def _words_of(element: Element) -> tuple[str, ...]:
    its_id, labels, title = _texts(element)
    return tuple(text for text in (its_id, *labels, title, element.attributes.get("class", "")) if text)


def _settings(element: Element, around: Mapping[str, str]) -> dict[str, str]:
    own = {
        name[5:]: text for name, text in element.attributes.items() if name.startswith("data-") and name[5:]
    }
    return {**around, **own}


def _with_shapes_inside(element: Element) -> str:
    """Say how many shapes go with a group that is left out."""
    count = -1 if element.name in SHAPE_TAGS else 0
    waiting = [element]
    while waiting:
        inside = waiting.pop()
        count += inside.name in SHAPE_TAGS
        waiting += inside.children
    return "" if count < 1 else f" with the {'shape' if count == 1 else f'{count} shapes'} in it"
