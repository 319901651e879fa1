"""Uniform quintic B-splines on a stretch or round a loop, and the banded systems they give rise to.

What smoothing a traced line needs and no more: rows of the design matrix, Gram matrices summed straight into
banded storage, and their solution with its determinant. Work and memory grow with the number of points and
splines, never with their product.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["Rows", "Splines", "added", "solve"]

_DEGREE = 5
# Gauss nodes a span, for integrals of squares of third derivatives: exact for curves of constant bend.
_NODES = 4


@dataclass(frozen=True, slots=True)
class Rows:
    """The entries that are not 0 of a matrix with a row for each place and a column for each spline.

    ``values`` ``(k, n)``, ``k`` of them a row, in the columns ``places`` ``(k, n)``.
    """

    places: IntArray
    values: Array

    def dot(self, coefficients: Array) -> Array:
        """Return the product with coefficients ``(m,)`` or ``(m, 2)``."""
        pairs = coefficients.ndim == 2
        # Two columns at once, as complex numbers: half the fetching.
        columns = coefficients[:, 0] + 1j * coefficients[:, 1] if pairs else coefficients
        product = np.zeros(self.values.shape[1], dtype=columns.dtype)
        for places, values in zip(self.places, self.values, strict=True):
            product += values * columns[places]
        return np.stack([product.real, product.imag], axis=1) if pairs else product

    def minus(self, other: Rows) -> Rows:
        """Return the difference of two matrices."""
        return Rows(np.concatenate([self.places, other.places]), np.concatenate([self.values, -other.values]))


def _cardinal(f: Array, degree: int) -> list[Array]:
    """Return the ``degree + 1`` uniform B-splines that live on a span of unit length, at fractions ``f`` of it."""
    values = [np.ones_like(f)]
    for q in range(1, degree + 1):
        rising = [values[j - 1] * ((f + (q - j)) / q) for j in range(1, q + 1)]
        falling = [values[j] * ((1 + j - f) / q) for j in range(q)]
        values = [falling[0], *(rising[j - 1] + falling[j] for j in range(1, q)), rising[-1]]
    return values


@dataclass(frozen=True, slots=True)
class Splines:
    """The quintic B-splines on equal ``spans`` of ``[0, length]``, or round a loop of that length.

    Coefficients are kept in the order that keeps the Gram matrices banded: as they come on an open stretch; on a
    loop from both sides of the seam in turn, so that splines that overlap are never far apart. A loop needs 12 spans.
    """

    length: float
    spans: int
    closed: bool
    count: int = field(init=False)
    step: float = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "count", self.spans if self.closed else self.spans + _DEGREE)
        object.__setattr__(self, "step", self.length / self.spans)

    def rows(self, u: Array, derivative: int = 0) -> Rows:
        """Return the values (or derivatives) of the splines at ``u``; beyond an open end the last piece runs on."""
        x = u / self.step
        if self.closed:
            x = x % self.spans
        span = np.clip(np.floor(x).astype(np.intp), 0, self.spans - 1)
        values = _cardinal(x - span, _DEGREE - derivative)
        for _ in range(derivative):
            inner = [one - other for one, other in pairwise(values)]
            values = [-values[0], *inner, values[-1]]
        places = span + np.arange(_DEGREE + 1)[:, None]
        if self.closed:
            places %= self.spans
            second_half = places >= (self.spans + 1) // 2
            places = np.where(second_half, 2 * (self.spans - 1 - places) + 1, 2 * places)
        return Rows(places, np.stack(values) / self.step**derivative)

    def gram(self, rows: Rows, weights: Array) -> Array:
        """Return the sum of the weighted squares of the rows: the lower bands ``(b, count)`` of a matrix."""
        weighted = rows.values * weights
        pairs = [(a, b) for a in range(len(weighted)) for b in range(a + 1)]
        return self._summed(rows.places, pairs, [weighted[a] * rows.values[b] for a, b in pairs])

    def integral(self, rows: Rows, weights: Array) -> Array:
        """Return the same for rows at the nodes of the quadrature: quicker, since a span's have the same places."""
        weighted = rows.values * weights
        pairs = [(a, b) for a in range(len(weighted)) for b in range(a + 1)]
        shares = [self.per_span(weighted[a] * rows.values[b]) for a, b in pairs]
        return self._summed(rows.places[:, ::_NODES], pairs, shares)

    def _summed(self, places: IntArray, pairs: list[tuple[int, int]], shares: list[Array]) -> Array:
        band = 1 + int(np.ptp(places, axis=0).max(initial=0))
        bands = np.zeros(band * self.count)
        for (a, b), share in zip(pairs, shares, strict=True):
            i, j = places[a], places[b]
            # Off the diagonal every pair stands for two; a column that meets itself lies on it.
            both = np.where(i == j, 2 * share, share) if a != b else share
            bands += np.bincount(np.abs(i - j) * self.count + np.minimum(i, j), both, minlength=len(bands))
        return bands.reshape(band, self.count)

    def moments(self, rows: Rows, y: Array) -> Array:
        """Return the sum of the rows, each times its ``y``: ``(count,)``."""
        total: Array = np.bincount(
            rows.places.ravel(), weights=(rows.values * y).ravel(), minlength=self.count
        ).astype(np.float64)
        return total

    def quadrature(self) -> tuple[Array, Array]:
        """Return nodes and weights of an integral over the whole length, the same number in each span."""
        x, weight = np.polynomial.legendre.leggauss(_NODES)
        within: Array = (1 + x) / 2
        nodes = (np.arange(self.spans)[:, None] + within).ravel() * self.step
        return nodes, np.tile(weight / 2 * self.step, self.spans)

    def middles(self) -> Array:
        """Return the middle of each span."""
        middles: Array = (np.arange(self.spans, dtype=np.float64) + 0.5) * self.step
        return middles

    def on_nodes(self, per_span: Array) -> Array:
        """Return a value for each node of the quadrature from one for each span."""
        return np.repeat(per_span, _NODES)

    def per_span(self, values: Array) -> Array:
        """Return the sum over each span of values at the quadrature's nodes."""
        total: Array = values.reshape(self.spans, _NODES) @ np.ones(_NODES)
        return total


def added(one: Array, other: Array) -> Array:
    """Return the sum of two banded matrices, however many bands each has."""
    wide, narrow = (one, other) if len(one) >= len(other) else (other, one)
    total = wide.copy()
    total[: len(narrow)] += narrow
    return total


def solve(bands: Array, right: Array) -> tuple[Array, float]:
    """Solve a positive definite banded system; return the solution and the logarithm of the determinant.

    Raises
    ------
    numpy.linalg.LinAlgError
        The matrix is not positive definite to working precision.
    """
    from scipy.linalg import cho_solve_banded, cholesky_banded

    factor = cholesky_banded(bands, lower=True, check_finite=False)
    solution: Array = cho_solve_banded((factor, True), right, check_finite=False)
    return solution, 2 * float(np.log(factor[0]).sum())
