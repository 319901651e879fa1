"""The walk through the elements of an SVG drawing, in the order they are drawn, copies and all."""

from __future__ import annotations

import math
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.drawing.chains import closed_up
from bias_drafting.drawing.drawing import Note, Shape
from bias_drafting.drawing.labels import name_of, settings_of, with_shapes_inside, words_of
from bias_drafting.drawing.references import (
    View,
    conditions_met,
    elements_by_id,
    href_of,
    inner_view,
    refuse_cycle,
)
from bias_drafting.drawing.shapes import SHAPE_TAGS, trace_shape
from bias_drafting.drawing.style import unread_properties
from bias_drafting.drawing.transform import Box, own_matrix
from bias_drafting.drawing.viewport import (
    LARGEST,
    chain,
    diagonal,
    extreme_scales,
    mean_scale,
    named_length,
    shorten,
    translation,
)
from bias_drafting.errors import CurveError, DrawingError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from bias_drafting.curve.path_data import Subpath
    from bias_drafting.drawing.css import Cascade
    from bias_drafting.drawing.shapes import Traced
    from bias_drafting.drawing.style import Style
    from bias_drafting.drawing.xml_tree import Element

    Array = NDArray[np.float64]

__all__ = ["Place", "Walk", "naming"]

_GROUPS: Final = frozenset({"g", "a"})
# What never draws by itself, or is only drawn where something else refers to it.
_SILENT: Final = frozenset(
    {
        *("animate", "animateMotion", "animateTransform", "mpath", "script", "set"),
        *("clipPath", "defs", "filter", "marker", "mask", "symbol"),
        *("hatch", "linearGradient", "meshgradient", "pattern", "radialGradient"),
        *("cursor", "desc", "metadata", "style", "title", "view"),
    }
)
_WHY_UNREAD: Final = {
    "flowRoot": "lettering is not read",
    "foreignObject": "only the shapes of SVG are read",
    "image": "pictures are not read, only lines and shapes",
    "text": "lettering is not read",
}
# Bounded work: elements drawn as copies, and copies within copies. A quilt has some hundreds, in some three levels.
_MOST_COPIED: Final = 50_000
_DEEPEST_COPY: Final = 50
# Scaled more unevenly than by this share, a line is noticeably wider one way than the other.
_UNEVEN: Final = 0.01
# What is smaller than this (mm) has no length.
_SMALLEST: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Place:
    """What an element has from the elements around it, and from the copies it is drawn by."""

    matrix: Array  # from user units to mm on the page
    viewport: tuple[float, float]
    style: Style
    layers: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    settings: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    trail: tuple[Element, ...] = ()  # what is being copied, the outermost first
    name: str = ""  # what the copy is called that draws this very element


class Walk:
    """Walks through the elements and collects shapes and notes."""

    def __init__(self, root: Element, cascade: Cascade, size: tuple[float, float], px: float) -> None:
        self.root = root
        self.cascade = cascade
        self.size = size
        self.px = px
        self.shapes: list[Shape] = []
        self.notes: list[Note] = []
        self.noted: list[slice] = []  # which of the notes are on each shape
        self.counts: Counter[str] = Counter()
        self.copied = 0
        self.by_id = elements_by_id(root)
        for sheet, what, why in cascade.remarks:
            self.note("style", sheet, what, why)

    def note(self, name: str, element: Element, what: str, why: str) -> None:
        """Put down what was left out or assumed."""
        self.notes.append(Note(name, element.line, what, why))

    def read_root(self, place: Place) -> None:
        """Read what is in the root."""
        self._read_children(self.root, replace(place, settings=settings_of(self.root, MappingProxyType({}))))

    def _read_children(self, parent: Element, place: Place) -> None:
        for element in parent.children:
            self._read_element(element, place)

    def _read_element(self, element: Element, place: Place) -> None:
        tag = element.name
        if not tag or tag in _SILENT:
            return
        self.counts[tag] += 1
        name = place.name or name_of(element) or f"{tag} {self.counts[tag]}"
        if place.trail:
            self._count_copy(name, element)
        copied = place.trail[-1] if place.trail else None
        style = place.style.within(element, self.cascade.declared(element, copied))
        called = place.name if tag == "use" else ""
        inner = replace(place, style=style, settings=settings_of(element, place.settings), name=called)
        if style.why_hidden:
            self.note(name, element, f"left out{with_shapes_inside(element)}", style.why_hidden)
        elif not conditions_met(element):
            why = "it is for readers of another language or with extensions"
            self.note(name, element, f"left out{with_shapes_inside(element)}", why)
        elif tag in SHAPE_TAGS:
            self._read_shape(name, element, inner)
        elif tag in _GROUPS or tag == "svg":
            self._read_group(name, element, inner)
        elif tag == "use":
            self._read_use(name, element, inner)
        elif tag == "switch":
            self._read_switch(name, element, inner)
        else:
            why = _WHY_UNREAD.get(tag, f"<{tag}> is no shape of SVG")
            self.note(name, element, f"left out{with_shapes_inside(element)}", why)

    def _count_copy(self, name: str, element: Element) -> None:
        self.copied += 1
        if self.copied > _MOST_COPIED:
            msg = (
                f"{name} (<{element.name}>, line {element.line}): its copies (use) draw more than "
                f"{_MOST_COPIED:,} elements"
            )
            raise DrawingError(msg)

    def _read_group(self, name: str, element: Element, place: Place) -> None:
        with naming(name, element):
            place = _moved(place)
            inside = View(place.matrix, place.viewport)
            if element.name == "svg":
                view = inner_view(place.style.declared, inside, place.style.declared)
                if view is None:
                    what = f"left out{with_shapes_inside(element)}"
                    self.note(name, element, what, "its width or height is 0")
                    return
                inside = view
        self._note_unread(name, element, place)
        self._read_inside(name, element, element, inside, place)

    def _read_inside(self, name: str, drawn_by: Element, element: Element, view: View, place: Place) -> None:
        """Read what is in a group, svg or symbol, and tell if some of it would be cut off at the edge."""
        before = len(self.shapes)
        place = replace(place, matrix=view.matrix, viewport=view.viewport)
        self._read_children(element, _within(element, place))
        if place.style.declared.get("overflow", "hidden") in {"visible", "auto"}:
            return
        beyond = [
            shape.name
            for shape in self.shapes[before:]
            if not all(view.shows(curve.controls.reshape(-1, 2)) for curve in shape.curves)
        ]
        if beyond:
            names = ", ".join(beyond[:3]) + (f" and {len(beyond) - 3} more" if len(beyond) > 3 else "")
            why = f"what lies beyond its edges would not be seen, and is not cut off here: {names}"
            self.note(name, drawn_by, "read whole", why)

    def _read_switch(self, name: str, element: Element, place: Place) -> None:
        with naming(name, element):
            place = _within(element, _moved(place))
        choices = [child for child in element.children if child.name and child.name not in _SILENT]
        chosen = next((child for child in choices if conditions_met(child)), None)
        self._note_unread(name, element, place)
        why = "a switch shows the first that fits a reader of English without extensions"
        if chosen is None:
            self.note(name, element, f"left out{with_shapes_inside(element)}", f"none of it fits: {why}")
            return
        if len(choices) > 1:
            what = f"one of its {len(choices)} alternatives is read, that of line {chosen.line}"
            self.note(name, element, what, why)
        self._read_element(chosen, place)

    def _read_use(self, name: str, element: Element, place: Place) -> None:
        href = href_of(element)
        target = self.by_id.get(href[1:]) if href.startswith("#") else None
        if target is None:
            self.note(name, element, "left out", _why_no_target(href))
            return
        # A copy of a copy of a shape is called as the outermost is.
        called, place = place.name or name_of(element), replace(place, name="")
        with naming(name, element):
            refuse_cycle(place.trail, target)
            if len(place.trail) >= _DEEPEST_COPY:
                msg = f"copies of copies go more than {_DEEPEST_COPY} deep"
                raise DrawingError(msg)
            declared = place.style.declared
            place = _moved(place)
            x, y = (
                named_length(declared, axis, "0").user_units(whole)
                for axis, whole in zip(("x", "y"), place.viewport, strict=True)
            )
            place = replace(
                place, matrix=chain(place.matrix, translation(x, y)), trail=(*place.trail, target)
            )
        self._note_unread(name, element, place)
        if target.name in {"svg", "symbol"}:
            self._read_copied_view(name, element, target, _within(element, place, called))
        elif target.name in SHAPE_TAGS or target.name == "use":
            place = replace(place, words=(*words_of(element), *place.words), name=called)
            self._read_element(target, place)
        elif target.name in _GROUPS | {"switch"} or target.name in _WHY_UNREAD:
            self._read_element(target, _within(element, place, called))
        else:
            self.note(
                name,
                element,
                "left out",
                f"it copies <{target.name or target.foreign_name}>, which is not drawn",
            )

    def _read_copied_view(self, name: str, element: Element, target: Element, place: Place) -> None:
        """Read a symbol or an inner svg that is copied: the copy's width and height outweigh its own."""
        asked = place.style.declared
        self._count_copy(name, target)
        style = place.style.within(target, self.cascade.declared(target, target))
        if style.why_hidden:
            self.note(name, element, f"left out{with_shapes_inside(target)}", style.why_hidden)
            return
        place = replace(place, style=style, settings=settings_of(target, place.settings))
        size = {
            side: text
            for side in ("width", "height")
            if (text := asked.get(side, "auto")) != "auto" or (text := style.declared.get(side, ""))
        }
        with naming(name, element):
            place = _moved(place)
            inside = inner_view(style.declared, View(place.matrix, place.viewport), size)
        if inside is None:
            self.note(name, element, f"left out{with_shapes_inside(target)}", "its width or height is 0")
            return
        self._note_unread(name, target, place)
        self._read_inside(name, element, target, inside, place)

    def _read_shape(self, name: str, element: Element, place: Place) -> None:
        style, before = place.style, len(self.notes)
        if not style.is_visible:
            self.note(name, element, "left out", "its visibility is hidden")
            return
        with naming(name, element):
            traced = trace_shape(element.name, style.declared, place.viewport)
            own = own_matrix(style.declared, style.css, place.viewport, lambda: _box_round(traced))
            matrix = chain(place.matrix, own)
            scale = mean_scale(matrix)
            curves = [curve for subpath in traced.subpaths if (curve := _curve(subpath, matrix))]
            width = style.stroke_width(scale, self.px, diagonal(*place.viewport))
        for what, why in traced.remarks:
            self.note(name, element, what, why)
        hairline = place.settings.get("drawn-width") == "none"  # a line drawn so that it is seen, of no width
        filled = style.is_filled and element.name != "line"  # a line has no inside
        if not curves or (width is None and not filled):
            why = "it is neither stroked nor filled" if curves else "it has no length"
            self.note(name, element, "left out", why)
            return
        width = None if hairline else width
        self._note_unread(name, element, place)
        self._note_curves(name, element, traced.subpaths, curves)
        if width is not None and style.declared.get("vector-effect") != "non-scaling-stroke":
            self._note_uneven(name, element, matrix, width / scale)
        self.shapes.append(
            Shape(
                name=name,
                tag=element.name,
                curves=tuple(curves),
                stroke_width=width,
                filled=filled,
                layers=place.layers,
                words=(*words_of(element), *place.words),
                line=element.line,
                settings=_without_drawn_width(place.settings),
            )
        )
        self.noted.append(slice(before, len(self.notes)))

    def _note_uneven(self, name: str, element: Element, matrix: Array, width: float) -> None:
        """Tell where a line is squashed: it then has one width along it and another across."""
        wide, narrow = extreme_scales(matrix)
        if wide > narrow * (1 + _UNEVEN):
            why = f"it is scaled unevenly: in places {width * narrow:.3g} mm wide, in others {width * wide:.3g} mm"
            self.note(name, element, "read with the mean of its widths", why)

    def _note_unread(self, name: str, element: Element, place: Place) -> None:
        for what, why in unread_properties(place.style):
            self.note(name, element, what, why)

    def _note_curves(self, name: str, element: Element, subpaths: list[Subpath], curves: list[Curve]) -> None:
        if len(curves) < len(subpaths):
            self.note(
                name, element, "left out in part", "its transforms leave some of its subpaths no length"
            )
        elif sum(curve.closed for curve in curves) > sum(subpath.closed for subpath in subpaths):
            self.note(name, element, "read as closed", "its ends meet")
        width, height = self.size
        if any(0 <= x <= width and 0 <= y <= height for x, y in (curve.start for curve in curves)):
            return
        boxes = np.array([curve.bounds for curve in curves])
        left, top = boxes[:, :2].min(axis=0)
        right, bottom = boxes[:, 2:].max(axis=0)
        if right < 0 or bottom < 0 or left > width or top > height:
            self.note(name, element, "read like the rest", "it lies off the page but is not hidden")


def _why_no_target(href: str) -> str:
    if not href:
        return "it does not say what it copies"
    if not href.startswith("#"):
        return "it refers to another file"
    return f"nothing in the drawing has the id {shorten(href[1:])}"


@contextmanager
def naming(name: str, element: Element) -> Iterator[None]:
    """Add the element to the message of an error raised inside."""
    try:
        yield
    except DrawingError as error:
        its_id = " ".join(element.attributes.get("id", "").split())
        also = f" id {its_id!r}," if its_id not in {"", name} else ""
        msg = f"{name} (<{element.name}>,{also} line {element.line}): {error}"
        raise DrawingError(msg) from error


def _moved(place: Place) -> Place:
    """Return the place inside an element that is no shape, by its own transform."""
    if place.style.declared.get("display") == "contents":
        return place  # it has no box of its own to be moved
    return replace(
        place, matrix=chain(place.matrix, own_matrix(place.style.declared, place.style.css, place.viewport))
    )


def _within(element: Element, place: Place, called: str = "") -> Place:
    """Return the place inside a group: with its name, or what it is called, among the layers, and its words."""
    named = called or name_of(element)
    layers = (*place.layers, named) if named else place.layers
    return replace(place, layers=layers, words=(*words_of(element), *place.words))


def _without_drawn_width(settings: Mapping[str, str]) -> Mapping[str, str]:
    """Return settings that many shapes may share, without what was for the reader alone."""
    if "drawn-width" not in settings:
        return settings
    return MappingProxyType({key: value for key, value in settings.items() if key != "drawn-width"})


def _box_round(traced: Traced) -> Box | None:
    if not traced.subpaths:
        return None
    controls = np.concatenate([subpath.controls for subpath in traced.subpaths])
    if not np.abs(controls).max() <= LARGEST:
        return None
    low, high = bezier.bounds(controls)
    return Box(*low.tolist(), *(high - low).tolist())


def _curve(subpath: Subpath, matrix: Array) -> Curve | None:
    """Return a subpath on the page in mm, or None if the map leaves it no length."""
    with np.errstate(over="ignore", invalid="ignore"):
        controls = subpath.controls @ matrix[:2, :2].T + matrix[:2, 2]
    far = float(np.abs(controls).max())
    if not far <= LARGEST:
        if math.isfinite(far):
            msg = f"it reaches {far:.3g} mm away, further than any drawing"
        else:
            msg = "its transforms lead to places that are not finite numbers"
        raise DrawingError(msg)
    size = float(np.ptp(controls, axis=(0, 1)).max())
    if size < _SMALLEST:
        return None
    try:
        return Curve(*closed_up(controls, subpath.closed, size))
    except CurveError:  # finite and joined up, so only its length can be wanting
        return None
