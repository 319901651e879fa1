"""A drawing written as SVG, so that reading it again gives the same stems, motifs and frame."""

from __future__ import annotations

import re
from itertools import chain, count
from typing import TYPE_CHECKING, TypeAlias
from xml.sax.saxutils import escape, quoteattr

from bias_drafting.drawing.labels import is_made_up

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from bias_drafting.curve.curve import Curve
    from bias_drafting.drawing.drawing import Drawing, Frame, Motif, Shape, Stem

    Item: TypeAlias = "Stem | Motif | Frame"

__all__ = ["svg_of_drawing"]

# Of the colour-blind-safe set of Okabe and Ito (2008), and a light grey.
_LINE, _FILL = "#009E73", "#E8EDEA"
# Decimals of a millimetre: a thousandth of what must come back.
_DECIMALS = 9
_XML_NAME = re.compile(r"[A-Za-z_][-.\w]*")
_HAIRLINE = "0.1"


def svg_of_drawing(drawing: Drawing) -> str:
    """Return a drawing as the text of an SVG file in millimetres; see :meth:`Drawing.to_svg`."""
    width, height = (_number(side) for side in drawing.size)
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    lines = [f'<svg xmlns="http://www.w3.org/2000/svg" {size}>']
    layers: tuple[str, ...] = ()
    for inside, element in _elements(drawing):
        shared = next((k for k, (a, b) in enumerate(zip(layers, inside, strict=False)) if a != b), None)
        kept = min(len(layers), len(inside)) if shared is None else shared
        lines += ["</g>"] * (len(layers) - kept)
        lines += [f"<g>{_title(name)}" for name in inside[kept:]]
        layers = inside
        lines.append(element)
    lines += ["</g>"] * len(layers)
    return "\n".join([*lines, "</svg>", ""])


def _elements(drawing: Drawing) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield the layers and the text of each element, in the order of the drawing."""
    items: list[tuple[str, Item, Curve]] = [
        *(("stem", stem, stem.centreline) for stem in drawing.stems),
        *(("motif", motif, motif.outline) for motif in drawing.motifs),
        *(("frame", frame, frame.outline) for frame in [drawing.frame] if frame is not None),
    ]
    drawn = {id(curve): shape for shape in drawing.shapes for curve in shape.curves}
    # What is no line of the drawing itself (the middle of two sides, a tracing made smooth, two lines joined), or has
    # another width than that, as one of two drawn over each other has, comes after the shape of its name, or last.
    own = {id(one[2]): one for one in items if _as_drawn(one[1], drawn.get(id(one[2])))}
    made = [one for one in items if id(one[2]) not in own]
    names = {shape.name for shape in drawing.shapes}
    taken = names | {item.name for _, item, _ in items}
    for shape in drawing.shapes:
        after = [one for one in made if one[1].name == shape.name]
        for element in _of_shape(shape, own, taken, bool(after)):
            yield shape.layers, element
        for role, item, curve in after:
            yield shape.layers, _item(role, item, curve)
    for role, item, curve in made:
        if item.name not in names:
            layer = getattr(item, "layer", "")
            yield ((layer,) if layer else ()), _item(role, item, curve)


def _of_shape(
    shape: Shape, own: Mapping[int, tuple[str, Item, Curve]], taken: set[str], again: bool
) -> Iterator[str]:
    """Yield a shape as one path, or its subpaths each by its own name where they are different things.

    ``own`` are the items that are subpaths as they were drawn, by their curves; ``again`` says that another item
    has the name of the shape.
    """
    found = [own.get(id(curve)) for curve in shape.curves]
    roles = {"ignore" if one is None else one[0] for one in found}
    if roles == {"ignore"} and again:
        yield _shape(shape, shape.curves, "ignore", _free(f"{shape.name} as drawn", taken))
    elif len(roles) == 1 and _numbered_in_order(shape.name, found):
        yield _shape(shape, shape.curves, roles.pop(), shape.name)
    else:
        for one, curve in zip(found, shape.curves, strict=True):
            if one is None:
                yield _shape(shape, [curve], "ignore", _free(f"{shape.name} as drawn", taken))
            else:
                yield _shape(shape, [curve], one[0], one[1].name)


def _numbered_in_order(name: str, found: Sequence[tuple[str, Item, Curve] | None]) -> bool:
    """Whether subpaths have the names they will be given when the shape of this name is read again."""
    names = [one[1].name for one in found if one is not None]
    return not names or names in ([name], [f"{name} {k + 1}" for k in range(len(found))])


def _free(name: str, taken: set[str]) -> str:
    """Return a name that is not taken, and take it."""
    free = next(one for one in chain([name], (f"{name} {k}" for k in count(2))) if one not in taken)
    taken.add(free)
    return free


def _as_drawn(item: Item, shape: Shape | None) -> bool:
    """Whether an item is a line of a shape, with its width and settings."""
    if shape is None:
        return False
    settings = {key: value for key, value in shape.settings.items() if key != "role"}
    own = dict(getattr(item, "settings", settings))
    return own == settings and getattr(item, "drawn_width", shape.stroke_width) == shape.stroke_width


def _shape(shape: Shape, curves: Sequence[Curve], role: str, name: str) -> str:
    return _path(name, curves, shape.stroke_width, shape.filled, {**shape.settings, "role": role})


def _item(role: str, item: Item, curve: Curve) -> str:
    width = getattr(item, "drawn_width", None)
    settings = {**getattr(item, "settings", {}), "role": role}
    return _path(item.name, [curve], width, width is None, settings)


def _path(
    name: str, curves: Sequence[Curve], width: float | None, filled: bool, settings: Mapping[str, str]
) -> str:
    data = "".join(curve.to_svg_path(_DECIMALS) for curve in curves)
    paint = f'fill="{_FILL}"' if filled else 'fill="none"'
    if width is not None:
        paint += f' stroke="{_LINE}" stroke-width="{_number(width)}"'
    elif not filled:  # a line without a width, such as those of DXF, is drawn as a hairline
        paint += f' stroke="{_LINE}" stroke-width="{_HAIRLINE}" data-drawn-width="none"'
    its_id = f"id={quoteattr(name)} " if _XML_NAME.fullmatch(name) and not is_made_up(name) else ""
    data_set = "".join(f" data-{key}={quoteattr(value)}" for key, value in settings.items())
    return f'<path {its_id}d="{data}" {paint}{data_set}>{_title(name)}</path>'


def _title(name: str) -> str:
    return f"<title>{escape(name)}</title>"


def _number(value: float) -> str:
    return f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
