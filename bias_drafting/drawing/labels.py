"""What the elements of an SVG file are called, and the settings they carry."""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import TYPE_CHECKING

from bias_drafting.drawing.shapes import SHAPE_TAGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bias_drafting.drawing.xml_tree import Element

__all__ = ["is_made_up", "name_of", "settings_of", "with_shapes_inside", "words_of"]

# What a program calls an element that nobody named: "path1234", "g12-3", "layer1".
_MADE_UP_ID = re.compile(
    r"(?:a|circle|ellipse|g|group|layer|line|path|polygon|polyline|rect|svg|use)?[-_]?[0-9][-_0-9]*",
    re.IGNORECASE,
)


def _texts(element: Element) -> tuple[str, list[str], str]:
    """Return an element's id, its labels and its title, each on one line."""
    titles = [child.text for child in element.children if child.name == "title"]
    found = [element.attributes.get("id", ""), *element.by_local_name("label"), *titles[:1]]
    its_id, *labels = (" ".join(text.split()) for text in found)
    title = labels.pop() if titles else ""
    return its_id, [label for label in labels if label], title


def is_made_up(its_id: str) -> bool:
    """Whether an id is of the kind that programs give to what nobody named."""
    return _MADE_UP_ID.fullmatch(its_id) is not None


def name_of(element: Element) -> str:
    """Return what a person called an element: its id, unless a program made that up and there is better."""
    its_id, labels, title = _texts(element)
    given = "" if is_made_up(its_id) else its_id
    return next((text for text in (given, *labels, title, its_id) if text), "")


def words_of(element: Element) -> tuple[str, ...]:
    """Return every text of an element that may say what it is for: id, labels, title, class."""
    its_id, labels, title = _texts(element)
    return tuple(text for text in (its_id, *labels, title, element.attributes.get("class", "")) if text)


def settings_of(element: Element, around: Mapping[str, str]) -> Mapping[str, str]:
    """Return the ``data-*`` attributes that apply inside an element, without ``data-``."""
    own = {
        name[5:]: text for name, text in element.attributes.items() if name.startswith("data-") and name[5:]
    }
    return MappingProxyType({**around, **own}) if own else around


def with_shapes_inside(element: Element) -> str:
    """Say how many shapes go with a group that is left out."""
    count = -1 if element.name in SHAPE_TAGS else 0
    waiting = [element]
    while waiting:
        inside = waiting.pop()
        count += inside.name in SHAPE_TAGS
        waiting += inside.children
    return "" if count < 1 else f" with the {'shape' if count == 1 else f'{count} shapes'} in it"
