"""Which values the properties that matter here may have: one that cannot be never takes the place of one that can.

CSS Syntax Level 3, section 9.1, and CSS Cascade: a declaration whose value is not valid for its property is as if it
were not there. Names of values are written in any case (CSS Values Level 4, section 2.3).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

from bias_drafting.drawing.viewport import parse_length
from bias_drafting.errors import DrawingError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bias_drafting.drawing.css import Declaration

__all__ = ["add_declaration", "colour_kind", "without_invalid"]

_ANYWHERE: Final = frozenset({"inherit", "initial", "unset", "revert", "revert-layer"})
_PAINTS: Final = frozenset({"fill", "stroke"})
_NUMBERS: Final = frozenset({"opacity", "fill-opacity", "stroke-opacity", "stroke-width"})
_NAMED: Final = {
    "visibility": frozenset({"visible", "hidden", "collapse"}),
    "display": frozenset(
        {
            *("none", "inline", "block", "contents", "list-item", "inline-block", "flow-root", "run-in"),
            *("flex", "inline-flex", "grid", "inline-grid", "table", "inline-table", "table-row"),
            *("table-cell", "table-caption", "table-column", "table-row-group", "table-column-group"),
            *("table-header-group", "table-footer-group", "ruby", "math"),
        }
    ),
}


def add_declaration(found: dict[str, Declaration], name: str, new: Declaration) -> None:
    """Put a declaration in place of an earlier one of its property, unless that outweighs it."""
    old = found.get(name)
    if old is None or (
        (new.important or not old.important)
        and (_is_valid(name, new.value) or not _is_valid(name, old.value))
    ):
        found[name] = new


def without_invalid(weightier: Mapping[str, str], lighter: Mapping[str, str]) -> dict[str, str]:
    """Return values without those that cannot be where a lighter one can."""
    return {
        name: value
        for name, value in weightier.items()
        if name not in lighter or _is_valid(name, value) or not _is_valid(name, lighter[name])
    }


@lru_cache(maxsize=4096)
def _is_valid(name: str, value: str) -> bool:
    """Whether a property may have a value, for those that decide what is drawn; of others any."""
    value = value.strip().lower()
    if value in _ANYWHERE or "var(" in value:
        return True
    if name in _PAINTS:
        return value.startswith("url(") or colour_kind(value) != "unknown"
    if name in _NUMBERS:
        try:
            return parse_length(value).value >= 0 or name != "stroke-width"
        except DrawingError:
            return value.endswith(("em", "ex")) or "(" in value
    return name not in _NAMED or value in _NAMED[name]


@lru_cache(maxsize=1024)
def colour_kind(paint: str) -> str:
    """Return whether a paint, in lower case, is "seen", "clear" or "unknown", such as a misspelt one."""
    if paint in {"none", "transparent"}:
        return "clear"
    if paint in {"initial", "context-fill", "context-stroke", "currentcolor"}:
        return "seen"
    import tinycss2.color4

    colour = tinycss2.color4.parse_color(paint)
    if colour is None:
        return "unknown"
    return "clear" if colour != "currentcolor" and colour.alpha == 0 else "seen"
