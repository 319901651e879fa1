"""Parallel curves and bands, trimmed, to a stated tolerance.

A band is the cloth between the two parallel curves of a centreline. Its edge is found by trimming
(:mod:`bias_drafting.curve.trim`), and each stretch of it fitted to the exact curve
(:mod:`bias_drafting.curve.fitting`). Where trimming cannot settle what is edge, all strips between neighbouring
normals are united as polygons instead (:mod:`bias_drafting.curve.united`): slower, and sure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier
from bias_drafting.curve.fitting import fit_stretches
from bias_drafting.curve.rails import ALONG, ARC
from bias_drafting.curve.rings import (
    END,
    LEFT,
    RIGHT,
    STRAIGHT,
    Ring,
    circle_arcs,
    is_sliver,
    met,
    signed_area,
)
from bias_drafting.curve.trim import find_edge
from bias_drafting.curve.united import united_rings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.nodes import Nodes
    from bias_drafting.curve.trim import Edge

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]
    BoolArray = NDArray[np.bool_]

__all__ = ["band_rings", "parallel_chains"]

# Of the tolerance, fits may use this share; the accuracy of crossings and the closing of gaps use the rest.
_FIT_SHARE: Final = 0.88
# A stretch shorter than this share of the tolerance is noise of a crossing, and would only make a kink.
_SHORTEST: Final = 0.05


def band_rings(nodes: Nodes, closed: bool, width: float, round_ends: bool, tolerance: float) -> list[Array]:
    """Return the boundary of the band of ``width`` round a chain: closed cubic chains, the outermost first.

    The outermost runs clockwise on the page, holes the other way. Ends of an open chain are cut square, or rounded.
    """
    rings = _rings(nodes, closed, width / 2, round_ends, tolerance, None)
    return [ring.controls[::-1, ::-1] for ring in rings]


def parallel_chains(
    nodes: Nodes, closed: bool, distance: float, tolerance: float
) -> list[tuple[Array, bool]]:
    """Return the trimmed parallel curve on one side: cubic chains along the direction of travel, and if closed.

    The longest comes first.
    """
    side = RIGHT if distance > 0 else LEFT
    found: list[tuple[Array, bool]] = []
    # A square end would let points pass that are nearer to the end than the distance; a round one does not.
    for ring in _rings(nodes, closed, abs(distance), True, tolerance, side):
        wanted = ring.side == side
        if wanted.all():
            found.append((ring.controls, True))
            continue
        for first in np.flatnonzero(wanted & ~np.roll(wanted, 1)):
            length = int(np.argmin(np.roll(wanted, -first)))
            found.append((np.roll(ring.controls, -first, axis=0)[:length], False))
    found = [(cubics if side == RIGHT else cubics[::-1, ::-1], whole) for cubics, whole in found]
    # However short a part is, it belongs to what was promised: nothing else may be within the tolerance of it.
    return sorted(found, key=lambda part: -bezier.polygon_lengths(part[0]).sum())


def _rings(
    nodes: Nodes, closed: bool, half: float, round_ends: bool, tolerance: float, only: int | None
) -> list[Ring]:
    """Return the rings of a band, the outermost first, each with the band on its left as seen on the page.

    With ``only`` one side wanted, what runs along the other is put down straight: it is left out in the end.
    """
    edge = find_edge(nodes, closed, half, tolerance)
    # What a square end leaves uncovered, another part of the band may cover: then more than the rails is needed.
    if edge is not None and (round_ends or closed or edge.ends_are_whole):
        rings = _fitted(edge, round_ends, tolerance, only)
        if only is not None:
            return rings
    else:
        rings = united_rings(nodes, closed, half, round_ends, tolerance)
    areas = np.array([signed_area(ring.controls) for ring in rings])
    order = np.argsort(-np.abs(areas), kind="stable").tolist()
    around = [float(bezier.polygon_lengths(ring.controls).sum()) for ring in rings]
    order = [k for k in order if k == order[0] or not is_sliver(abs(areas[k]), around[k], tolerance)]
    return [rings[k] if (areas[k] < 0) == (k == order[0]) else _reversed(rings[k]) for k in order]


def _reversed(ring: Ring) -> Ring:
    return Ring(ring.controls[::-1, ::-1], ring.side[::-1])


def _fitted(edge: Edge, round_ends: bool, tolerance: float, only: int | None) -> list[Ring]:
    """Fit every stretch of an edge to its exact curve, and join up the rings."""
    code = np.where(edge.side > 0, RIGHT, np.where(edge.side < 0, LEFT, END))
    if not round_ends:
        code[code == END] = STRAIGHT
    used = np.array([k for ring in edge.rings for k in ring])
    on_edge = np.zeros(len(code), dtype=bool)
    on_edge[used] = True
    wanted = on_edge if only is None else on_edge & (code == only)
    straight = on_edge & (~wanted | (code == STRAIGHT))
    cubics, owner, number = _drawn(edge, wanted & ~straight, straight, tolerance)
    # Where each stretch comes in the order of the rings.
    rank = np.zeros(len(code), dtype=np.intp)
    rank[used] = np.arange(len(used))
    order = np.lexsort((number, rank[owner]))
    cubics, owner = cubics[order], owner[order]
    solid = bezier.polygon_lengths(cubics) > _SHORTEST * tolerance
    cubics, owner = cubics[solid], owner[solid]
    last = np.cumsum([len(ring) for ring in edge.rings])
    whose = np.searchsorted(last, rank[owner], side="right")
    parts = [whose == k for k in range(len(edge.rings))]
    return [
        Ring(met(_laid_between(cubics[part], straight[owner[part]]), ring=True), code[owner[part]])
        for part in parts
        if part.any()
    ]


def _laid_between(cubics: Array, straight: BoolArray) -> Array:
    """Return a ring with its straight lines laid from what is before them to what is after them, to the last bit."""
    result = cubics.copy()
    lone = straight & ~np.roll(straight, 1) & ~np.roll(straight, -1)
    ends = np.stack([np.roll(cubics[:, 3], 1, axis=0)[lone], np.roll(cubics[:, 0], -1, axis=0)[lone]], axis=1)
    for k in range(4):
        result[lone, k] = ends[:, 0] + (ends[:, 1] - ends[:, 0]) * (k / 3)
    result[lone, 3] = ends[:, 1]
    return result


def _drawn(
    edge: Edge, wanted: BoolArray, straight: BoolArray, tolerance: float
) -> tuple[Array, IntArray, IntArray]:
    """Return the cubics of stretches, fitted or put down straight, whose each is, and its number along it."""
    rails, half = edge.rails, edge.rails.half
    step = edge.begin.astype(np.intp)
    until = np.minimum(np.ceil(edge.finish).astype(np.intp) - 1, len(rails.a) - 1)
    value = rails.a[step] + (rails.b - rails.a)[step] * (edge.begin - step)
    final = rails.a[until] + (rails.b - rails.a)[until] * (edge.finish - until)
    # Parallel curves.
    on = np.flatnonzero(wanted & (edge.kind == ALONG))
    begin, finish = rails.piece[step[on]] + value[on], rails.piece[until[on]] + final[on]
    low, high = np.minimum(begin, finish), np.maximum(begin, finish)
    fits, owner = fit_stretches(
        rails.nodes, low, high, (edge.side[on] * half).astype(np.float64), tolerance * _FIT_SHARE
    )
    back = edge.side[on][owner] < 0
    fits[back] = fits[back, ::-1]
    along = fits, on[owner], np.where(back, -1, 1) * np.arange(len(owner))
    # Arcs round corners and ends.
    on = np.flatnonzero(wanted & (edge.kind == ARC))
    centre = rails.origin[step[on]]
    centres = np.stack([centre.real, centre.imag], axis=1)
    fits, owner = circle_arcs(centres, half, value[on], final[on], tolerance * _FIT_SHARE)
    arcs = fits, on[owner], np.arange(len(owner))
    on = np.flatnonzero(straight)
    p, q = (rails.at(k[on], (x - k)[on])[0] for k, x in ((step, edge.begin), (until, edge.finish)))
    ends = np.stack([np.stack([z.real, z.imag], axis=1) for z in (p, q)], axis=1)
    lines = bezier.from_lines(ends.reshape(-1, 2))[::2] if len(on) else np.empty((0, 4, 2))
    ends_and_rest = lines, on, np.zeros(len(on), dtype=np.intp)
    cubics, owner, number = (np.concatenate(c) for c in zip(along, arcs, ends_and_rest, strict=True))
    return cubics, owner, number
