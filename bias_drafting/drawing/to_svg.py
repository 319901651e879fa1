"""A drawing written as SVG, so that reading it again gives the same stems, motifs and frame."""

from __future__ import annotations

import re
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
    by_curve = {id(curve): role for role, item, curve in items if _as_drawn(item, drawn.get(id(curve)))}
    made = [(role, item, curve) for role, item, curve in items if id(curve) not in by_curve]
    names = {shape.name for shape in drawing.shapes}
    for shape in drawing.shapes:
        roles = {by_curve.get(id(curve), "ignore") for curve in shape.curves}
        role = roles.pop() if len(roles) == 1 else ""
        again = any(item.name == shape.name for _, item, _ in made)
        yield shape.layers, _shape(shape, role, f"{shape.name} as drawn" if again else shape.name)
        for of_role, item, curve in made:
            if item.name == shape.name:
                yield shape.layers, _item(of_role, item, curve)
    for role, item, curve in made:
        if item.name not in names:
            layer = getattr(item, "layer", "")
            yield ((layer,) if layer else ()), _item(role, item, curve)


def _as_drawn(item: Item, shape: Shape | None) -> bool:
    """Whether an item is a line of a shape, with its width and settings."""
    if shape is None:
        return False
    settings = {key: value for key, value in shape.settings.items() if key != "role"}
    own = dict(getattr(item, "settings", settings))
    return own == settings and getattr(item, "drawn_width", shape.stroke_width) == shape.stroke_width


def _shape(shape: Shape, role: str, name: str) -> str:
    settings = {**shape.settings, **({"role": role} if role else {})}
    return _path(name, shape.curves, shape.stroke_width, shape.filled, settings)


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
