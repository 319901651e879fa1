"""The layers and blocks of DXF: what they are called, what is shown of them, and where blocks are placed."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bias_drafting.drawing.dxf_curves import facing, finite

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ezdxf.document import Drawing as Document
    from ezdxf.entities.dxfentity import DXFEntity
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Layer", "attribute", "chained", "clean_name", "count_placed", "layer_of", "placements"]

_UNWRITABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer by its name, and whether it is off, frozen, or not to be printed."""

    name: str
    off: bool = False
    frozen: bool = False
    unprinted: bool = False


def layer_of(document: Document, name: str) -> Layer:
    """Return a layer by its name, whose letters may be large or small; one that is not declared is shown."""
    if name not in document.layers:
        return Layer(name)
    layer: Any = document.layers.get(name)
    unprinted = not layer.dxf.get("plot", 1)
    return Layer(clean_name(layer.dxf.name), layer.is_off(), layer.is_frozen(), unprinted)


def attribute(entity: DXFEntity, name: str, usual: Any) -> Any:
    """Return an attribute that not every kind of entity can have."""
    return entity.dxf.get(name, usual) if entity.dxf.is_supported(name) else usual


def clean_name(name: Any) -> str:
    """Return a name of a file on one line, with the characters that it spells by their numbers."""
    from ezdxf.lldxf.encoding import decode_dxf_unicode

    text = decode_dxf_unicode(str(name)).encode("utf-8", "replace").decode("utf-8")
    # What no XML file may hold would be lost, or break it, when the drawing is written again.
    return " ".join(_UNWRITABLE.sub(" ", text).split())


def chained(outer: Array, inner: Array) -> Array:
    """Return the map ``(2, 3)`` that makes first the inner one, then the outer one."""
    both: Array = outer[:, :2] @ inner
    both[:, 2] += outer[:, 2]
    return both


def count_placed(insert: Any) -> int:
    """Return how often an insertion places its block: in rows and columns, unless they lie on each other."""
    rows, columns = _grid(insert)
    return rows * columns


def placements(insert: Any, base: Any) -> Iterator[Array]:
    """Yield the maps ``(2, 3)`` that lead from a block with this base point to where it is inserted.

    First the base point goes to the origin, then come the scales, then the place in the rows and columns (which are
    not scaled), the rotation, the place of insertion, and last the extrusion.

    Raises
    ------
    UnreadError
        An extrusion that is not straight up or down.
    DrawingError
        A number that is not finite.
    """
    dxf = insert.dxf
    x_scale, y_scale = finite("its scale", [dxf.get("xscale", 1), dxf.get("yscale", 1)])
    degrees, right, up = finite(
        "its place", [dxf.get(name, 0) for name in ("rotation", "column_spacing", "row_spacing")]
    )
    origin = finite("its base point", base)[:2]
    place = finite("its place", dxf.get("insert", (0, 0, 0)))[:2]
    angle = math.radians(degrees)
    cosine, sine = math.cos(angle), math.sin(angle)
    flip, turn = np.diag([facing(insert), 1.0]), np.array([[cosine, -sine], [sine, cosine]])
    matrix = flip @ turn @ np.diag([x_scale, y_scale])
    rows, columns = _grid(insert)
    for row in range(rows):
        for column in range(columns):
            shift = flip @ (place + turn @ [column * right, row * up]) - matrix @ origin
            yield np.column_stack([matrix, shift])


def _grid(insert: Any) -> tuple[int, int]:
    """Return the numbers of rows and of columns; where there is no space between them, they are one."""
    dxf = insert.dxf
    rows = max(int(dxf.get("row_count", 1)), 1) if dxf.get("row_spacing", 0) else 1
    columns = max(int(dxf.get("column_count", 1)), 1) if dxf.get("column_spacing", 0) else 1
    return rows, columns
