"""Arc length of many cubics at once, with an error bound known beforehand.

The derivative of a cubic is a complex quadratic ``B'``, and its length is the integral of ``|B'|``: Gauss-Legendre
quadrature. ``|B'|`` can be continued analytically up to the nearest complex root of ``B'``. Inside a Bernstein
ellipse of parameter ``rho`` that holds no root, and on which it stays below ``M``, the error of ``n`` nodes on an
interval of unit length is at most ``(32/15) M rho^(-2n) / (rho^2 - 1)`` (Trefethen, *Approximation Theory and
Approximation Practice*, SIAM 2013, theorem 19.3, halved for the interval). So the number of nodes follows from where
the roots are:

* In Chebyshev form ``B' = c0 + c1 T1 + c2 T2``, and on the ellipse ``|Tk| <= (rho^k + rho^-k)/2``. Where ``|c0|``
  outweighs the rest no root lies inside: one comparison, no root found. It serves the gentle many.
* For the others the roots are found, and their own ellipse decides.
* Where a root is too near for every rule, the piece is cut beside that root, ever more finely toward it.

Nothing is decided by two approximations agreeing with each other, because they can agree on a wrong value.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    ComplexArray = NDArray[np.complex128]
    IntArray = NDArray[np.intp]

__all__ = ["inverse_length", "inverse_regular", "lengths", "partial_lengths", "regular"]

# Gauss-Legendre rules, and for each the least Bernstein parameter at which (512/15) rho^(-2n) / (rho^2 - 1) is below
# 2e-14: that allows for M up to 16 times the mean speed, more than two roots on the ellipse can make of it. The tests
# solve for them again.
RULES: Final = ((6, 12.26), (10, 4.94), (16, 2.82), (24, 2.03), (40, 1.55))
# Where speed varies by less than this share, it is its mean.
_EVEN: Final = 1e-15
# The rule for parts of pieces that are short already.
_SHORT: Final = RULES[1]
# A root this near to the real line (as a share of the segment) is taken to lie on it: what that changes of the length
# is of the order of its square.
_REAL: Final = 3e-9
# Beside a root a + bi, pieces run from a to a + 10 b and from there on to 20 times as far: both leave the root
# outside the ellipse of the largest rule. Seven times reaches from the nearest root across the whole segment.
_FIRST: Final = 10.0
_FURTHER: Final = 20.0
_CUTS: Final = 7
# Rows, and speeds, worked on together: their tables then stay in a processor's cache.
_ROWS: Final = 8192
_TABLE: Final = 16384

# Bezier controls of a quadratic -> its Chebyshev coefficients on the interval.
_CHEBYSHEV: Final = np.array([[0.375, -0.5, 0.125], [0.25, 0.0, -0.25], [0.375, 0.5, 0.125]])


@cache
def _gauss(nodes: int) -> tuple[Array, Array]:
    """Return the nodes and weights of Gauss and Legendre's rule, which take some work to find."""
    rule: tuple[Array, Array] = np.polynomial.legendre.leggauss(nodes)
    return rule


@cache
def _rule(nodes: int) -> tuple[Array, Array]:
    """Return the values ``(3, nodes)`` of the quadratic Bernstein polynomials at the nodes, and the weights."""
    x, weight = _gauss(nodes)
    t = (1 + x) / 2
    basis = np.ascontiguousarray([(1 - t) ** 2, 2 * t * (1 - t), t * t])
    weight = weight / 2
    basis.flags.writeable = weight.flags.writeable = False
    return basis, weight


def lengths(controls: Array) -> Array:
    """Return the arc length of each segment of ``controls`` ``(n, 4, 2)``, in mm ``(n,)``.

    Error: at most about 1e-14 of each length, cusps, folds and loops included.
    """
    steps = 3 * (controls[:, 1:] - controls[:, :-1])
    return _integrated(np.ascontiguousarray(steps[..., 0]), np.ascontiguousarray(steps[..., 1]))


def partial_lengths(controls: Array, t0: Array, t1: Array) -> Array:
    """Return the arc length of each segment between its own ``t0 <= t1``; arrays ``(n,)``.

    Error: at most about 1e-14 of the segment's whole length.
    """
    steps = 3 * (controls[:, 1:] - controls[:, :-1])
    found: Array = (t1 - t0) * _integrated(*(between(steps[..., axis], t0, t1) for axis in (0, 1)))
    return found


def _integrated(x: Array, y: Array) -> Array:
    """Return the integral over [0, 1] of the speed of each hodograph, Bezier controls ``x, y`` ``(n, 3)``."""
    total = np.empty(len(x))
    for first in range(0, len(x), _ROWS):
        rows = slice(first, first + _ROWS)
        total[rows] = _integrated_rows(x[rows], y[rows])
    return total


def _integrated_rows(x: Array, y: Array) -> Array:
    total = np.zeros(len(x))
    rest = _add_gentle(total, np.arange(len(x)), x, y)
    if rest.size:
        _add_cut(total, rest, x[rest], y[rest])
    return total


def _speed_integral(x: Array, y: Array, nodes: int) -> Array:
    basis, weight = _rule(nodes)
    integral, step = np.empty(len(x)), _TABLE // nodes
    for first in range(0, len(x), step):
        rows = slice(first, first + step)
        vx, vy = x[rows] @ basis, y[rows] @ basis
        vx *= vx
        vy *= vy
        vx += vy
        np.sqrt(vx, out=vx).dot(weight, out=integral[rows])
    return integral


def _add_gentle(total: Array, owner: IntArray, x: Array, y: Array) -> IntArray:
    """Add what the gate on Chebyshev coefficients lets through, one row each; return the rows left over."""
    cx, cy = x @ _CHEBYSHEV, y @ _CHEBYSHEV
    middle, slope, bend = np.sqrt(cx * cx + cy * cy).T
    order = np.zeros(len(x), dtype=np.intp)
    for _, rho in RULES:
        order += middle <= slope * ((rho + 1 / rho) / 2) + bend * ((rho**2 + rho**-2) / 2)
    # Straight lines at an even pace: the plain sum rounds less than any rule.
    even = slope + bend <= _EVEN * middle
    order[even] = -1
    if even.any():
        total[owner[even]] = np.hypot(x[even].sum(axis=1), y[even].sum(axis=1)) / 3
    for k, (nodes, _) in enumerate(RULES):
        now = np.flatnonzero(order == k)
        if now.size == len(x):
            total[owner] = _speed_integral(x, y, nodes)
        elif now.size:
            total[owner[now]] = _speed_integral(x[now], y[now], nodes)
    return np.flatnonzero(order == len(RULES))


def _add_cut(total: Array, owner: IntArray, x: Array, y: Array) -> None:
    """Add the rows that have a root nearby, cut beside them where needed into pieces some rule serves."""
    # A piece that stands still throughout has no root and no length.
    roots = np.stack([bezier.factor_roots(f) for f in bezier.quadratic_factors(*(x + 1j * y).T)], axis=1)
    roots = np.where(np.abs(roots.imag) <= _REAL, roots.real, roots)
    rho = _ellipse(roots, np.zeros(len(x)), np.ones(len(x)))
    near = rho.min(axis=1) < RULES[-1][1]
    clear = ~near
    _add_ruled(total, owner[clear], x[clear], y[clear], rho[clear].min(axis=1))
    if clear.all():
        return
    x, y, roots, owner = x[near], y[near], roots[near], owner[near]
    edges = _edges(roots, rho[near] < RULES[-1][1])
    row, column = np.nonzero(edges[:, 1:] > edges[:, :-1])
    t0, t1 = edges[row, column], edges[row, column + 1]
    share, roots = t1 - t0, roots[row]
    # |t - r| with r real and not inside the piece is a plain polynomial there.
    rho = np.where(roots.imag == 0, np.inf, _ellipse(roots, t0, t1)).min(axis=1)
    _add_ruled(
        total,
        owner[row],
        share[:, None] * between(x[row], t0, t1),
        share[:, None] * between(y[row], t0, t1),
        rho,
    )


def _add_ruled(total: Array, owner: IntArray, x: Array, y: Array, rho: Array) -> None:
    """Add rows by the first rule each whose ellipse is free of roots, ``rho`` being the largest that is."""
    order = np.searchsorted([-least for _, least in RULES], -rho)
    order = np.minimum(order, len(RULES) - 1)
    for k, (nodes, _) in enumerate(RULES):
        now = np.flatnonzero(order == k)
        if now.size:
            np.add.at(total, owner[now], _speed_integral(x[now], y[now], nodes))


def _edges(roots: ComplexArray, near: NDArray[np.bool_]) -> Array:
    """Return where to cut each segment beside its near roots, sorted ``(n, k)`` from 0 to 1, with repetitions."""
    n = len(roots)
    place, height = roots.real, np.abs(roots.imag)
    with np.errstate(invalid="ignore", over="ignore"):
        reach = height[..., None] * (_FIRST * _FURTHER ** np.arange(_CUTS))
        cuts = place[..., None] + np.concatenate([-reach, np.zeros((n, 2, 1)), reach], axis=2)
    cuts = np.where(near[..., None] & np.isfinite(cuts), np.clip(cuts, 0, 1), 0)
    return np.sort(np.concatenate([np.zeros((n, 1)), cuts.reshape(n, -1), np.ones((n, 1))], axis=1), axis=1)


def _ellipse(roots: ComplexArray, t0: Array, t1: Array) -> Array:
    """Return the Bernstein parameter of each root ``(n, 2)`` against ``[t0, t1]``; infinite where there is none."""
    with np.errstate(invalid="ignore", over="ignore"):
        z = (2 * roots - (t0 + t1)[:, None]) / (t1 - t0)[:, None]
        jump = np.sqrt(z - 1) * np.sqrt(z + 1)  # this form has its cut on [-1, 1] alone
        rho = np.maximum(np.abs(z + jump), np.abs(z - jump))
    return np.where(np.isfinite(rho), rho, np.inf)


def between(d: Array, t0: Array, t1: Array) -> Array:
    """Return the quadratics with Bezier controls ``d`` ``(n, 3)`` between ``t0`` and ``t1``, as controls again.

    Not scaled by the length of the interval.
    """
    d0, d1, d2 = d.T
    u0, u1 = 1 - t0, 1 - t1
    # The blossom at (t0, t0), (t0, t1) and (t1, t1).
    b0, b1, c0, c1 = u0 * d0 + t0 * d1, u1 * d0 + t1 * d1, u0 * d1 + t0 * d2, u1 * d1 + t1 * d2
    return np.stack([u0 * b0 + t0 * c0, u1 * b0 + t1 * c0, u1 * b1 + t1 * c1], axis=1)


def regular(controls: Array, t0: Array, t1: Array) -> NDArray[np.bool_]:
    """Whether one short rule is exact on every part of each piece ``[t0, t1]``: no root of ``B'`` is near."""
    roots = np.stack([bezier.factor_roots(f) for f in bezier.hodograph_factors(controls)], axis=1)
    clear: NDArray[np.bool_] = _ellipse(roots, t0, t1).min(axis=1) >= _SHORT[1]
    return clear


def inverse_regular(controls: Array, t0: Array, t1: Array, target: Array, span: Array) -> Array:
    """Return the parameter ``target`` mm after ``t0`` on regular pieces ``[t0, t1]`` that are ``span`` mm long.

    Three of Newton's steps from a first guess that is already right to a few per cent of a short piece.
    """
    coefficients = bezier.derivative_coefficients(controls)
    x, weight = _gauss(_SHORT[0])
    t = t0 + (t1 - t0) * (target / span)
    for _ in range(3):
        half = (t - t0) / 2
        at = t0[:, None] + half[:, None] * (1 + x)
        run = half * (np.abs(bezier.evaluate_complex(coefficients, at)) @ weight)
        speed = np.abs(bezier.evaluate_complex(coefficients, t))
        t = np.clip(t - (run - target) / speed, t0, t1)
    return t


def inverse_length(controls: Array, target: Array, whole: Array) -> Array:
    """Return the parameter at which each segment has run ``target`` mm; ``whole`` is its full length.

    Newton's steps, kept inside a shrinking bracket, until the arc length is met to 1e-13 of the whole; and one more.
    """
    fraction = np.clip(target / whole, 0.0, 1.0)
    t = fraction.copy()
    low, high = np.zeros_like(t), np.ones_like(t)
    coefficients = bezier.derivative_coefficients(controls)
    active = np.flatnonzero((fraction > 0) & (fraction < 1))
    for _ in range(60):
        if not active.size:
            break
        here = t[active]
        miss = partial_lengths(controls[active], np.zeros(len(active)), here) - target[active]
        short = miss < 0
        low[active] = np.where(short, here, low[active])
        high[active] = np.where(short, high[active], here)
        speed = np.abs(bezier.evaluate_complex(coefficients[active], here))
        with np.errstate(divide="ignore", invalid="ignore"):
            step = here - miss / speed
        inside = (step > low[active]) & (step < high[active])
        settled = np.abs(miss) <= 1e-13 * whole[active]
        # Where the curve all but stands still, a last step from rounding alone would lead anywhere.
        inside &= ~settled | (np.abs(step - here) < 1e-6)
        t[active] = np.where(inside, step, np.where(settled, here, (low[active] + high[active]) / 2))
        active = active[~settled]
    return t
