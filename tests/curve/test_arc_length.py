"""Arc length: against mpmath at 40 digits, on gentle cubics and on the worst that editors make."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from hard_cubics import nasty

from bias_drafting.curve import arc_length
from bias_drafting.curve.arc_length import RULES, inverse_length, lengths, partial_lengths

RANDOM = np.random.default_rng


def exact(segment: np.ndarray, t0: float = 0.0, t1: float = 1.0) -> float:
    """Integrate |B'| at 40 digits, cut ever more finely beside both complex roots of B'."""
    with mp.workdps(40):
        p = [mp.mpc(float(x), float(y)) for x, y in segment]
        d = [3 * (p[k + 1] - p[k]) for k in range(3)]
        a, b, c = d[0] - 2 * d[1] + d[2], 2 * (d[1] - d[0]), d[0]
        root = mp.sqrt(b * b - 4 * a * c)
        roots = [(-b + root) / (2 * a), (-b - root) / (2 * a)] if a else [-c / b] if b else []
        cuts = {mp.mpf(t0), mp.mpf(t1)}
        for root in roots:
            for k in range(16):
                for side in (-1, 0, 1):
                    cut = root.real + side * abs(root.imag) * 4**k
                    if t0 < cut < t1:
                        cuts.add(cut)
        return float(mp.quad(lambda t: abs((a * t + b) * t + c), sorted(cuts)))


def test_every_kind_of_cubic_is_as_long_as_at_forty_digits() -> None:
    cubics = np.concatenate([nasty(1, 56), RANDOM(2).uniform(0, 100, (9, 4, 2))])
    wanted = [exact(segment) for segment in cubics]
    assert lengths(cubics) == pytest.approx(wanted, rel=3e-14)


def test_parts_of_cubics_are_as_long_as_at_forty_digits() -> None:
    cubics = nasty(3, 28)
    t0, t1 = np.sort(RANDOM(4).uniform(0, 1, (2, 28)), axis=0)
    wanted = [exact(*job) for job in zip(cubics, t0, t1, strict=True)]
    found = partial_lengths(cubics, t0, t1)
    assert (np.abs(found - wanted) / lengths(cubics)).max() < 3e-14


def test_parts_add_up_and_halves_agree_on_many_thousands() -> None:
    cubics, cut = nasty(5, 30_000), RANDOM(6).uniform(0, 1, 30_000)
    zero, one = np.zeros(30_000), np.ones(30_000)
    parts = partial_lengths(cubics, zero, cut) + partial_lengths(cubics, cut, one)
    assert np.abs(parts / lengths(cubics) - 1).max() < 1e-13
    assert lengths(cubics[:, ::-1]) == pytest.approx(lengths(cubics), rel=3e-14)


def test_the_rules_are_trusted_only_where_their_bound_holds() -> None:
    for nodes, rho in RULES:
        assert 512 / 15 / (rho**2 - 1) * rho ** (-2 * nodes) <= 2e-14


@pytest.mark.parametrize("fraction", [0.0, 0.2, 0.5, 0.97, 1.0])
def test_every_piece_cut_beside_a_root_is_within_reach_of_the_largest_rule(fraction: float) -> None:
    height = 10.0 ** np.linspace(-8.5, -0.3, 60)
    roots = np.stack([fraction + 1j * height, np.full(60, 3.0 + 0j)], axis=1)
    edges = arc_length._edges(roots, np.full((60, 2), True))
    assert (edges[:, 0] == 0).all()
    assert (edges[:, -1] == 1).all()
    row, column = np.nonzero(np.diff(edges, axis=1) > 0)
    rho = arc_length._ellipse(roots[row], edges[row, column], edges[row, column + 1])[:, 0]
    assert rho.min() >= RULES[-1][1]


def test_a_straight_line_is_as_long_as_its_ends_are_apart() -> None:
    line = np.array([[[0, 0], [50 / 3, 0], [100 / 3, 0], [50, 0]]])
    assert lengths(line)[0] == 50


@pytest.mark.parametrize("kind", range(7))
def test_arc_length_gives_the_parameter_back(kind: int) -> None:
    cubics = nasty(8, 700)[kind::7]
    t = RANDOM(9).uniform(0, 1, len(cubics))
    run = partial_lengths(cubics, np.zeros(len(t)), t)
    whole = lengths(cubics)
    again = inverse_length(cubics, run, whole)
    assert np.abs(partial_lengths(cubics, np.zeros(len(t)), again) - run).max() <= 2e-13 * whole.max()


def test_the_ends_come_back_as_ends() -> None:
    cubics = nasty(10, 70)
    whole = lengths(cubics)
    assert (inverse_length(cubics, np.zeros(70), whole) == 0).all()
    assert (inverse_length(cubics, whole, whole) == 1).all()
