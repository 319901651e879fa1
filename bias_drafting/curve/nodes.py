"""Nodes along a measured curve, close enough together that between two of them it simply bends one way.

They are the ends of each piece, its inflections, the places where its curvature is extreme, and as many more as keep
the turn from one to the next small. So between neighbours the curvature is monotone and has one sign: whether a
parallel curve runs forward there shows at the two ends, and it stays within the triangle of its chord and end
tangents.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bends, curvature, measure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from bias_drafting.curve.measure import Chain

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["Nodes", "build_nodes", "locate_places"]

# Even parts of each piece to begin with, and the largest turn in radians between neighbours.
_EVEN: Final = 6
_MOST_TURN: Final = 0.2
# Nearer together than this, as shares of a piece, two nodes are one.
_NEAREST: Final = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """Places along a chain, piece after piece; a joint appears twice, as an end and as a start.

    Attributes
    ----------
    chain
        The measured curve.
    piece, t
        ``(m,)`` which piece each node lies on, and where on it.
    s, heading, bend
        ``(m,)`` arc length from the start in mm, running direction in radians, curvature in 1/mm.
    """

    chain: Chain
    piece: IntArray
    t: Array
    s: Array
    heading: Array
    bend: Array

    @property
    def place(self) -> Array:
        """Piece and parameter in one number; a joint has the same before it and after it."""
        return self.piece + self.t

    def heading_at(self, piece: IntArray, t: Array) -> Array:
        """Return the running direction in radians at places on given pieces."""
        chain = self.chain
        turn = measure.turn_within(chain.u[piece], chain.v[piece], np.zeros(len(t)), t)
        heading: Array = chain.heading[piece, 0] + turn
        return heading


def build_nodes(chain: Chain) -> Nodes:
    """Place nodes along a chain."""
    piece, t, s, heading = measure.along_steps(chain, *_steps(chain))
    bend = curvature.by_factors(chain.controls, chain.u, chain.v, piece, t)
    return Nodes(chain, piece, t, s, heading, bend)


def _steps(chain: Chain) -> tuple[IntArray, Array, Array]:
    """Return the steps ``piece, t0, t1`` between neighbouring nodes, in order."""
    n = len(chain.controls)
    inflections = bends.between_inflections(chain)[:, 1:3].ravel()
    peaks, peak_t = curvature.stationary(chain.controls)
    cusps, cusp_t = curvature.near_cusps(chain.u, chain.v)
    every = np.arange(n)
    piece = np.concatenate([np.repeat(every, _EVEN + 1), np.repeat(every, 2), peaks, cusps])
    t = np.concatenate([np.tile(np.linspace(0, 1, _EVEN + 1), n), inflections, peak_t, cusp_t])
    order = np.lexsort((t, piece))
    piece, t = piece[order], t[order]
    kept = (np.diff(piece, prepend=-1) > 0) | (np.diff(t, prepend=-1) > _NEAREST)
    piece, t = piece[kept], t[kept]
    inside = piece[1:] == piece[:-1]
    piece, t0, t1 = piece[1:][inside], t[:-1][inside], t[1:][inside]
    return _halved(chain, piece, t0, t1)


def _halved(chain: Chain, piece: IntArray, t0: Array, t1: Array) -> tuple[IntArray, Array, Array]:
    """Halve the steps that turn too far until none does."""
    done: list[tuple[IntArray, Array, Array]] = []
    while piece.size:
        turn = np.abs(measure.turn_within(chain.u[piece], chain.v[piece], t0, t1))
        coarse = (turn > _MOST_TURN) & (t1 - t0 > _NEAREST)
        done.append((piece[~coarse], t0[~coarse], t1[~coarse]))
        piece, t0, t1 = np.tile(piece[coarse], 2), t0[coarse], t1[coarse]
        middle = (t0 + t1) / 2
        t0, t1 = np.concatenate([t0, middle]), np.concatenate([middle, t1])
    piece, t0, t1 = (np.concatenate(parts) for parts in zip(*done, strict=True))
    order = np.lexsort((t0, piece))
    return piece[order], t0[order], t1[order]


def locate_places(place: Array, count: int, before: bool) -> tuple[IntArray, Array]:
    """Return piece and parameter of places (piece + t); a joint belongs to the piece after it, or ``before`` it."""
    piece = np.ceil(place).astype(np.intp) - 1 if before else np.floor(place).astype(np.intp)
    piece = np.clip(piece, 0, count - 1)
    return piece, np.clip(place - piece, 0.0, 1.0)
