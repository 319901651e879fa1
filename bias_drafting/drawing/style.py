"""How a shape is painted: the few properties of SVG that decide whether, and how wide, a line is drawn.

Attributes weigh least, then come the rules of style sheets by their weight, then the ``style`` attribute; what is
marked important comes before all that is not (SVG 2, section 6.6; CSS Cascading and Inheritance Level 3, section 6).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from bias_drafting.drawing.css import parse_declarations
from bias_drafting.drawing.property_values import add_declaration, colour_kind, without_invalid
from bias_drafting.drawing.viewport import LARGEST, named_length, parse_length
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bias_drafting.drawing.css import Declaration
    from bias_drafting.drawing.xml_tree import Element

__all__ = ["Style", "declarations", "font_size", "in_px", "unread_properties"]

_MOST_VARIABLES = 100
# A line thinner than this (mm) is none.
_THINNEST = 1e-6
# Of font sizes (CSS Fonts Level 3, section 3.5), in px.
_MEDIUM = 16.0
_FONT_SIZES = {"medium": 16.0, "small": 13.0, "large": 18.0, "initial": 16.0}
_FONT_UNIT = re.compile(r"([+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]+)?)(r?em|ex)")
# A paint that stands elsewhere, and what to paint with if it does not.
_SERVER = re.compile(r"url\(\s*['\"]?#([^'\")]*)['\"]?\s*\)(.*)", re.DOTALL)
# The last two are of drafts of SVG 2: browsers paint nothing, the editors that write them do.
_SERVERS = frozenset({"linearGradient", "radialGradient", "pattern", "meshgradient", "hatch"})
_LONGEST_VALUE = 100_000

_INITIAL = {
    "color": "black",
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
# Attributes that no style can set.
_ATTRIBUTES_ONLY = frozenset({"x1", "y1", "x2", "y2", "points", "href", "id", "class"})
_VARIABLE = re.compile(r"var\(\s*(--[-\w]+)\s*(?:,([^()]*))?\)")
_PATH = re.compile(r"path\(\s*(['\"])(.*)\1\s*\)", re.DOTALL)
_NO_SHEETS: Mapping[str, Declaration] = MappingProxyType({})


def declarations(element: Element, sheets: Mapping[str, Declaration] = _NO_SHEETS) -> dict[str, str]:
    """Return the properties an element declares itself, by name: its attributes, sheets, then its ``style``."""
    attributes = {name: value.strip() for name, value in element.attributes.items() if name != "style"}
    return {**attributes, **without_invalid(_styled(element, sheets), attributes)}


def _styled(element: Element, sheets: Mapping[str, Declaration]) -> dict[str, str]:
    """Return what style sheets and the ``style`` attribute declare, the weightier of two values."""
    own = parse_declarations(element.attributes["style"]) if "style" in element.attributes else {}
    if not sheets and not own:
        return {}
    found = dict(sheets)
    for name, declaration in own.items():
        add_declaration(found, name, declaration)
    return {name: d.value for name, d in found.items() if d.value and name not in _ATTRIBUTES_ONLY}


@dataclass(frozen=True, slots=True)
class Style:
    """The painting of one element: what it inherits, and what it declares itself."""

    inherited: Mapping[str, str] = field(default_factory=lambda: dict(_INITIAL))
    declared: Mapping[str, str] = field(default_factory=dict)
    css: Mapping[str, str] = field(default_factory=dict)
    font: tuple[float, float] = (_MEDIUM, _MEDIUM)
    by_id: Mapping[str, Element] = field(default_factory=dict)

    def within(self, element: Element, sheets: Mapping[str, Declaration] = _NO_SHEETS) -> Style:
        """Return the style of an element inside the one with this style; ``sheets`` is what those declare for it."""
        attributes = {name: value.strip() for name, value in element.attributes.items() if name != "style"}
        css = without_invalid(_styled(element, sheets), attributes)
        variables = {name: value for name, value in css.items() if name.startswith("--")}
        inherited = {**self.inherited, **variables}
        if any("var(" in value for value in css.values()):
            css = {name: _with_variables(value, inherited) for name, value in css.items()}
        if (drawn := _PATH.fullmatch(css.get("d", ""))) is not None:
            css["d"] = drawn[2]
        declared = {**attributes, **css}
        font = self.font
        if "font-size" in declared:
            size = font_size(declared["font-size"], *font)
            # The root's own is what rem counts by.
            font = (size, font[1] if self.declared else size)
        declared = dict(in_px(declared, *font))
        own = {name: declared[name] for name in _INITIAL if _is_own(name, declared.get(name, ""))}
        initial = {name: _INITIAL[name] for name, value in own.items() if value.lower() == "initial"}
        return Style({**inherited, **own, **initial}, declared, in_px(css, *font), font, self.by_id)

    @property
    def why_hidden(self) -> str | None:
        """Why nothing inside is drawn at all, or None."""
        if self.declared.get("display", "").lower() == "none":
            return "its display is none"
        if _is_zero(self.declared.get("opacity", "1")):
            return "its opacity is 0"
        return None

    @property
    def is_visible(self) -> bool:
        """Whether the element itself is drawn; what is inside it may say otherwise for itself."""
        return self.inherited["visibility"].lower() not in {"hidden", "collapse"}

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
        mm = width.user_units(diagonal) * scale
        if mm > LARGEST:
            msg = f"its line is {mm:.3g} mm wide, wider than any drawing"
            raise DrawingError(msg)
        return mm if mm >= _THINNEST else None

    def _is_painted(self, paint: str) -> bool:
        return not self._is_clear(self.inherited[paint]) and not _is_zero(self.inherited[f"{paint}-opacity"])

    def _is_clear(self, paint: str) -> bool:
        """Whether a paint leaves nothing to be seen."""
        if (server := _SERVER.match(paint)) is not None:
            target = self.by_id.get(server[1])
            if target is not None and target.name in _SERVERS:
                return False
            paint = server[2].strip() or "none"  # what to paint with where there is no such thing
        if paint.lower() == "currentcolor":
            paint = self.inherited["color"]
        return colour_kind(paint.lower()) == "clear"


def _is_own(name: str, value: str) -> bool:
    """Whether an element has a value of its own for a property, one that can be read."""
    if value.lower() in {"", "inherit", "unset"}:
        return False
    if name in {"fill", "stroke", "color"} and not _SERVER.match(value):
        return colour_kind(value.lower()) != "unknown"
    return True


def font_size(text: str, around: float, root: float) -> float:
    """Return a font size in px; what cannot be read is that of what is around."""
    if text in _FONT_SIZES:
        return _FONT_SIZES[text]
    try:
        return parse_length(in_px({"": text}, around, root)[""]).user_units(around)
    except DrawingError:
        return around


def in_px(properties: Mapping[str, str], font: float, root: float) -> Mapping[str, str]:
    """Return properties with lengths in em, rem and ex as px."""
    if not any(value.endswith(("em", "ex")) for value in properties.values()):
        return properties
    scale = {"em": font, "rem": root, "ex": font / 2}
    return {
        name: f"{float(match[1]) * scale[match[2]]!r}px" if (match := _FONT_UNIT.fullmatch(value)) else value
        for name, value in properties.items()
    }


def _with_variables(value: str, known: Mapping[str, str]) -> str:
    """Return a value with its ``var(...)`` replaced; each once, so that none can refer to itself for ever."""
    if "var(" not in value:
        return value
    for _ in range(_MOST_VARIABLES):
        match = _VARIABLE.search(value)
        if match is None or len(value) > _LONGEST_VALUE:
            break
        value = value[: match.start()] + known.get(match[1], match[2] or "").strip() + value[match.end() :]
    return "" if "var(" in value else value.strip()


def unread_properties(style: Style) -> list[tuple[str, str]]:
    """Return what is not done for an element although its properties ask for it, and why."""
    asked = [_UNREAD[name] for name in _UNREAD if style.declared.get(name, "none") not in {"none", ""}]
    return list(dict.fromkeys(asked))


def _is_zero(opacity: str) -> bool:
    if opacity == "1":
        return False
    try:
        return named_length({"opacity": opacity}, "opacity", "1").value <= 0
    except DrawingError:  # a value CSS would ignore, so the shape is seen
        return False
