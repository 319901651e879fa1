"""Writing SVG: elements as text, everything escaped, numbers short."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape, quoteattr

from bias_drafting.curve.path_text import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = ["CENTRELINE", "CUT_LINE", "INK", "clean", "element", "group", "line", "path", "rectangle", "text"]

INK: Final = "#222222"
# Line styles: what is cut along, and the drawn middle of a stem.
CUT_LINE: Final[dict[str, str | float]] = {"stroke_width": 0.25, "stroke_dasharray": "1.6 0.8"}
CENTRELINE: Final[dict[str, str | float]] = {
    "stroke": "#777777",
    "stroke_width": 0.15,
    "stroke_dasharray": "4 0.8 0.6 0.8",
}


def clean(value: str) -> str:
    """Return a text without the characters that XML cannot hold."""
    return "".join(
        c if c >= " " and c not in "\ufffe\uffff" and not "\ud800" <= c <= "\udfff" else " " for c in value
    )


def element(tag: str, content: str = "", /, **attributes: str | float) -> str:
    """Return one element; underscores in attribute names become hyphens, numbers are written short."""
    parts = [tag]
    for key, value in attributes.items():
        written = number(value) if isinstance(value, (int, float)) else clean(value)
        parts.append(f"{key.replace('_', '-')}={quoteattr(written)}")
    opening = " ".join(parts)
    return f"<{opening}>{content}</{tag}>" if content else f"<{opening}/>"


def group(name: str, title: str, children: Iterable[str]) -> str:
    """Return a named layer with its title."""
    body = "\n  ".join([element("title", escape(title)), *children])
    return f"<g id={quoteattr(name)}>\n  {body}\n</g>"


def path(d: str, **attributes: str | float) -> str:
    """Return a path, without fill unless one is given."""
    return element("path", "", d=d, **{"fill": "none", "stroke": INK, "stroke_width": 0.25, **attributes})


def line(points: Sequence[tuple[float, float]], **attributes: str | float) -> str:
    """Return a polyline as a path."""
    d = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return path(d, **attributes)


def rectangle(x: float, y: float, width: float, height: float, **attributes: str | float) -> str:
    """Return a rectangle."""
    plain: dict[str, str | float] = {"fill": "none", "stroke": INK, "stroke_width": 0.25}
    return element("rect", "", x=x, y=y, width=width, height=height, **{**plain, **attributes})


def text(lines: Sequence[str], x: float, y: float, size: float, **attributes: str | float) -> str:
    """Return lines of text; ``x, y`` is where the first one's baseline starts (or its middle, if so anchored)."""
    if len(lines) == 1:
        content = escape(clean(lines[0]))
    else:
        spans = [
            element("tspan", escape(clean(one)), x=x, y=y + k * 1.3 * size)
            for k, one in enumerate(lines)
            if one
        ]
        content = "".join(spans)
    plain: dict[str, str | float] = {"x": x, "y": y, "font_size": size, "fill": INK}
    return element("text", content or " ", **{**plain, **attributes})
