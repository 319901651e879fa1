"""The sharpest curvature of many cubics at once: exact extremes, no sampling.

With ``B' x B'' = N`` and ``|B'|^2 = D`` the curvature ``N / D^(3/2)`` is extreme where ``G = 2 N' D - 3 N D' = 0``, a
polynomial of degree five. In Bernstein form it has, on any interval, no more roots than its coefficients change sign:
intervals are halved until each holds one root or none, all segments together.

Near a cusp ``G`` drowns in rounding, so the curvature itself is taken from the factors of ``B' = u v``: the direction
turns at the rate ``Im(u'/u + v'/v)``, and curvature is that over the speed. It keeps its figures however near the
curve comes to standing still; and the places where it all but does, the real parts of the roots, are tried as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["by_factors", "near_cusps", "sharpest_of_each", "stationary"]

# Coefficients of G below this share of the largest are rounding.
_NOISE: Final = 1e-15
# Intervals are halved so many times; roots still together then are 1e-9 of a segment apart.
_DEEPEST: Final = 30
# Roots are found to this share of their interval: curvature is stationary there, so its own error is the square.
_ROOT: Final = 1e-9
# A root of B' this near to the real line makes a bend so sharp that G may miss it.
_NEAR_CUSP: Final = 1e-3
# From Bernstein coefficients of degree five to powers of t.
_POWERS: Final = np.array(
    [
        [1, -5, 10, -10, 5, -1],
        [0, 5, -20, 30, -20, 5],
        [0, 0, 10, -30, 30, -10],
        [0, 0, 0, 10, -20, 10],
        [0, 0, 0, 0, 5, -5],
        [0, 0, 0, 0, 0, 1],
    ],
    dtype=np.float64,
)


def sharpest_of_each(controls: Array) -> tuple[Array, Array]:
    """Return the curvature (signed, 1/mm) of each segment where it is greatest in size, and the parameter there.

    Infinite where a segment stands still while it turns (a cusp, a handle drawn in); 0 on straight segments.
    """
    n = len(controls)
    u, v = bezier.hodograph_factors(controls)
    owner, t = stationary(controls)
    extra_owner, extra_t = near_cusps(u, v)
    every = np.arange(n)
    owner, t = (
        np.concatenate([every, every, owner, extra_owner]),
        np.concatenate([np.zeros(n), np.ones(n), t, extra_t]),
    )
    bend = by_factors(controls, u, v, owner, t)
    straight = np.flatnonzero(_straight(controls)[owner])
    if straight.size:
        folds = _folds(u[owner[straight]], v[owner[straight]], t[straight])
        bend[straight] = np.where(folds, np.inf, 0.0)
    # The first of each owner stands at its own number; what is larger takes its place.
    size, place, best = np.abs(bend), t[:n].copy(), bend[:n].copy()
    largest = size[:n].copy()
    np.maximum.at(largest, owner[n:], size[n:])
    winner = n + np.flatnonzero((size[n:] == largest[owner[n:]]) & (size[n:] > size[owner[n:]]))
    place[owner[winner]], best[owner[winner]] = t[winner], bend[winner]
    return best, place


def _straight(controls: Array) -> NDArray[np.bool_]:
    """Whether each segment bends by no more than the rounding of its coordinates."""
    p = bezier.as_complex(controls)
    d0, d1, d2 = np.diff(p, axis=1).T
    across = np.abs(np.stack([(np.conj(d0) * d1).imag, (np.conj(d0) * d2).imag, (np.conj(d1) * d2).imag]))
    noise = 4e-16 * np.abs(p).max(axis=1) * np.abs([d0, d1, d2]).max(axis=0)
    straight: NDArray[np.bool_] = across.max(axis=0) <= noise
    return straight


def _folds(u: ComplexArray, v: ComplexArray, t: Array) -> NDArray[np.bool_]:
    """Whether a straight segment turns back on itself at ``t``: one root of ``B'`` lies there, not two, inside."""
    roots = np.stack([bezier.factor_roots(u), bezier.factor_roots(v)], axis=1)
    with np.errstate(invalid="ignore"):
        here = np.abs(roots.real - t[:, None]) <= 1e-9
    folds: NDArray[np.bool_] = (here.sum(axis=1) == 1) & (t > 0) & (t < 1)
    return folds


def by_factors(controls: Array, u: ComplexArray, v: ComplexArray, owner: IntArray, t: Array) -> Array:
    """Return the signed curvature of segment ``owner`` at ``t``, by the factors of the derivative."""
    start, end = (3 * (controls[:, k + 1] - controls[:, k]) for k in (0, 2))
    half = 0.75 * (controls[:, 3] + controls[:, 2] - controls[:, 1] - controls[:, 0])
    speeds = np.stack([step[:, 0] ** 2 + step[:, 1] ** 2 for step in (start, end, half)])
    ends = [_square(u[:, k]) * _square(v[:, k]) for k in (0, 1)]
    products = np.stack([*ends, _square(u[:, 0] + u[:, 1]) * _square(v[:, 0] + v[:, 1]) / 16])
    # What the product of the factors must be multiplied by to give the speed, read where it is largest; squared.
    pick = products.argmax(axis=0), np.arange(len(controls))
    factor = speeds[pick] / products[pick]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rates, sizes = zip(*(_turn_rate(f[owner], t) for f in (u, v)), strict=True)
        bend: Array = (rates[0] + rates[1]) / np.sqrt(sizes[0] * sizes[1] * factor[owner])
    bend[np.isnan(bend)] = 0.0
    return bend


def _square(z: ComplexArray) -> Array:
    square: Array = z.real**2 + z.imag**2
    return square


def _turn_rate(factor: ComplexArray, t: Array) -> tuple[Array, Array]:
    """Return by how much one factor's angle turns per unit of ``t``, and the square of its size there.

    The rate is 0 where the factor vanishes and turns on the spot.
    """
    step = factor[:, 1] - factor[:, 0]
    # Not the start plus t times the step: what is small at the end would be lost.
    at = factor[:, 0] * (1 - t) + factor[:, 1] * t
    size = _square(at)
    rate: Array = (step.imag * at.real - step.real * at.imag) / size
    rate[size == 0] = 0.0
    return rate, size


def near_cusps(u: ComplexArray, v: ComplexArray) -> tuple[IntArray, Array]:
    """Return segments and parameters where curvature is greatest beside a root of ``B'`` close to the real line."""
    roots = np.stack([bezier.factor_roots(u), bezier.factor_roots(v)], axis=1)
    with np.errstate(invalid="ignore"):
        owner, column = np.nonzero(
            (np.abs(roots.imag) < _NEAR_CUSP) & (roots.real > -_NEAR_CUSP) & (roots.real < 1 + _NEAR_CUSP)
        )
    return owner, _polished(u[owner], v[owner], np.clip(roots.real[owner, column], 0, 1))


def _polished(u: ComplexArray, v: ComplexArray, t: Array) -> Array:
    """Return each parameter moved to where the curvature is stationary, by Newton's steps on its logarithm."""
    for _ in range(4):
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            p = (u[:, 1] - u[:, 0]) / (u[:, 0] * (1 - t) + u[:, 1] * t)
            q = (v[:, 1] - v[:, 0]) / (v[:, 0] * (1 - t) + v[:, 1] * t)
            rate, first, second = p + q, -(p * p + q * q), 2 * (p**3 + q**3)
            slope = first.imag / rate.imag - rate.real
            change = second.imag / rate.imag - (first.imag / rate.imag) ** 2 - first.real
            step = np.where(change < 0, slope / change, 0.0)  # toward a maximum only
        t = np.clip(np.where(np.isfinite(step), t - step, t), 0, 1)
    return t


def stationary(controls: Array) -> tuple[IntArray, Array]:
    """Return segments and parameters strictly inside them where ``G`` vanishes."""
    g = _stationary_polynomial(controls)
    size = np.abs(g).max(axis=1, keepdims=True)
    g = g / np.where(size > 0, size, 1)
    g[np.abs(g) <= _NOISE] = 0
    owner, low = np.arange(len(g)), np.zeros(len(g))
    found: list[tuple[IntArray, Array]] = []
    alone: list[tuple[Array, IntArray, Array, Array]] = []
    for depth in range(_DEEPEST + 1):
        changes = _sign_changes(g)
        single = changes == 1
        if single.any():
            alone.append((g[single], owner[single], low[single], np.full(single.sum(), 0.5**depth)))
        many = changes > 1
        g, owner, low = g[many], owner[many], low[many]
        if not owner.size:
            break
        g, middle = _halved(g)
        step = 0.5 ** (depth + 1)
        # A root on the cut itself shows in neither half; and after the last cut, all that is left lies there.
        on_cut = (middle == 0) | (depth == _DEEPEST)
        found.append((owner[on_cut], low[on_cut] + step))
        owner, low = np.tile(owner, 2), np.concatenate([low, low + step])
    if alone:
        rows, whose, start, size = (np.concatenate(columns) for columns in zip(*alone, strict=True))
        found.append((whose, start + size * _bracketed_root(rows)))
    if not found:
        return np.empty(0, dtype=np.intp), np.empty(0)
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


def _stationary_polynomial(controls: Array) -> Array:
    """Return ``G = 2 N' D - 3 N D'`` of each segment as Bernstein coefficients ``(n, 6)``, up to a factor."""
    d0, d1, d2 = np.diff(bezier.as_complex(controls), axis=1).T
    p01, p02, p12 = np.conj(d0) * d1, np.conj(d0) * d2, np.conj(d1) * d2
    n0, n1, n2 = p01.imag, p02.imag / 2, p12.imag
    e0, e4, m = (z.real**2 + z.imag**2 for z in (d0, d2, d1))
    e1, e2, e3 = p01.real, (2 * m + p02.real) / 3, p12.real
    # Slopes: N' / 2 and D' / 4; then 2 N' D = 4 (.) (.) and 3 N D' = 12 (.) (.), both divided by four.
    a0, a1 = n1 - n0, n2 - n1
    s0, s1, s2, s3 = e1 - e0, e2 - e1, e3 - e2, e4 - e3
    return np.stack(
        [
            a0 * e0 - 3 * n0 * s0,
            (4 * a0 * e1 + a1 * e0 - 3 * (3 * n0 * s1 + 2 * n1 * s0)) / 5,
            (6 * a0 * e2 + 4 * a1 * e1 - 3 * (3 * n0 * s2 + 6 * n1 * s1 + n2 * s0)) / 10,
            (4 * a0 * e3 + 6 * a1 * e2 - 3 * (n0 * s3 + 6 * n1 * s2 + 3 * n2 * s1)) / 10,
            (a0 * e4 + 4 * a1 * e3 - 3 * (2 * n1 * s3 + 3 * n2 * s2)) / 5,
            a1 * e4 - 3 * n2 * s3,
        ],
        axis=1,
    )


def _sign_changes(g: Array) -> IntArray:
    """Return how often the coefficients of each row change sign, zeros left out."""
    last = np.sign(g[:, 0])
    changes = np.zeros(len(g), dtype=np.intp)
    for k in range(1, g.shape[1]):
        sign = np.sign(g[:, k])
        changes += sign * last < 0
        last = np.where(sign == 0, last, sign)
    return changes


def _halved(g: Array) -> tuple[Array, Array]:
    """Return both halves of each polynomial by de Casteljau, the first halves first, and the values on the cut."""
    rows = [g]
    for _ in range(g.shape[1] - 1):
        rows.append((rows[-1][:, :-1] + rows[-1][:, 1:]) / 2)
    first = np.stack([row[:, 0] for row in rows], axis=1)
    second = np.stack([row[:, -1] for row in reversed(rows)], axis=1)
    halves = np.concatenate([first, second])
    halves[np.abs(halves) <= _NOISE] = 0
    return halves, first[:, -1]


def _bracketed_root(g: Array) -> Array:
    """Return the one root in (0, 1) of each row, whose coefficients change sign once: Newton's steps in a bracket."""
    # Powers in the rows and polynomials in the columns, so that each step runs along memory.
    powers, rising = (g @ _POWERS).T.copy(), _last_sign(g)
    root, active = _polygon_root(g), np.arange(len(g))
    t, low, high = root.copy(), np.zeros(len(g)), np.ones(len(g))
    for _ in range(60):
        value, slope = powers[5], np.zeros(len(t))
        for k in range(4, -1, -1):
            slope = slope * t + value
            value = value * t + powers[k]
        over = value * rising > 0
        low, high = np.where(over, low, t), np.where(over, t, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            then = t - value / slope
            going = ~(np.abs(then - t) <= _ROOT)
        # A step of rounding alone may lead out of the bracket: it is taken as it is.
        inside = (then > low) & (then < high)
        then = np.where(inside | ~going, then, (low + high) / 2)
        t = root[active] = then
        if not going.any():
            break
        if going.sum() < 0.7 * len(going):
            active, powers, rising = active[going], powers[:, going], rising[going]
            t, low, high = t[going], low[going], high[going]
    return root


def _polygon_root(g: Array) -> Array:
    """Return where the polygon of each row's coefficients crosses zero: a guess at its root."""
    row, last = np.arange(len(g)), g.shape[1] - 1
    after = np.minimum(np.argmax(g * _first_sign(g)[:, None] < 0, axis=1), last)
    low, high = g[row, after - 1], g[row, after]
    crossing: Array = (after - 1 + low / (low - high)) / last
    return crossing


def _first_sign(g: Array) -> Array:
    """Return the sign of the first coefficient of each row that is not 0."""
    return _last_sign(g[:, ::-1])


def _last_sign(g: Array) -> Array:
    """Return the sign of the last coefficient of each row that is not 0."""
    sign = np.sign(g)
    last = sign[:, 0]
    for k in range(1, g.shape[1]):
        last = np.where(sign[:, k] == 0, last, sign[:, k])
    return last
