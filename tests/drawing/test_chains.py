"""Lines laid end to end: judged by walking along them, and against a slow search through all pairs of ends."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pytest

import bias_drafting as bd
from bias_drafting.curve import bezier
from bias_drafting.drawing.chains import Run, cut_at_corners, find_runs, laid_end_to_end

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


def line(*points: tuple[float, float]) -> Array:
    return bezier.from_lines(np.array(points, dtype=np.float64))


def runs_of(chains: list[Array], gap: float) -> tuple[list[Run], list[tuple[int, ...]]]:
    ends = np.array([(chain[0, 0], chain[-1, 3]) for chain in chains])
    return find_runs(ends, np.array([bd.Curve(chain).length for chain in chains]), gap)


ROW = [
    line((20, 0), (10, 0)),
    line((30, 0), (20, 0)),
    line((30, 0), (30, 9), (40, 9)),
    line((0, 50), (9, 50)),
]


def test_lines_that_meet_are_a_run_whichever_way_they_are_drawn() -> None:
    runs, crowds = runs_of(ROW, 0.01)
    assert crowds == []
    # The first runs forward, from (20, 0) to (10, 0), so those drawn away from its start come before it.
    assert runs == [Run((2, 1, 0), (True, False, False), ring=False)]
    chain, widest = laid_end_to_end(ROW, runs[0])
    assert widest == 0
    assert chain[:, 0].tolist() == [[40, 9], [30, 9], [30, 0], [20, 0]]
    assert chain[-1, 3].tolist() == [10, 0]


def test_a_ring_is_closed_and_every_gap_is_shared() -> None:
    square = [
        line((0, 0), (9, 0)),
        line((9.2, 0), (9.2, 9)),
        line((0, 9), (9.2, 9.1)),
        line((0, 9), (0, 0.3)),
    ]
    runs, _ = runs_of(square, 0.5)
    assert runs == [Run((0, 1, 2, 3), (False, False, True, False), ring=True)]
    chain, widest = laid_end_to_end(square, runs[0])
    assert widest == pytest.approx(0.3)
    assert (chain[:, 3] == np.roll(chain[:, 0], -1, axis=0)).all()
    assert chain[[0, 1], 0].tolist() == [[0, 0.15], [9.1, 0]]


def test_the_directions_at_a_gap_stay() -> None:
    bends = [
        np.array([[(0.0, 0), (5, 0), (9, 3), (9, 8)]]),
        np.array([[(9.3, 8.2), (9.5, 12), (14, 16), (20, 16)]]),
    ]
    (run,), _ = runs_of(bends, 0.5)
    chain, _ = laid_end_to_end(bends, run)
    for new, old in zip(chain, np.concatenate(bends), strict=True):
        assert (new[1] - new[0]).tolist() == pytest.approx((old[1] - old[0]).tolist())
        assert (new[3] - new[2]).tolist() == pytest.approx((old[3] - old[2]).tolist())


def test_a_ring_of_one_and_a_speck_that_is_none() -> None:
    around = line((0, 0), (9, 0), (9, 9), (0, 0.3))
    assert runs_of([around, line((50, 50), (51.5, 50))], 0.4)[0] == [Run((0,), (False,), ring=True)]
    assert runs_of([line((50, 50), (51.5, 50))], 1.6)[0] == []


def test_where_three_ends_meet_nothing_is_laid_end_to_end() -> None:
    star = [line((0, 0), (9, 0)), line((0, 0.1), (0, 9)), line((-9, 0), (-0.1, 0)), line((9, 0), (18, 0))]
    runs, crowds = runs_of(star, 0.3)
    assert runs == [Run((0, 3), (False, False), ring=False)]
    assert crowds == [(0, 1, 2)]
    # However many meet, they are told of once.
    many = [line((0, 0), (np.cos(a), np.sin(a))) for a in np.linspace(0, 3, 40)]
    assert len(runs_of(many, 1e-3)[1]) < 12


@pytest.mark.parametrize("seed", range(5))
def test_any_lines(seed: int) -> None:
    random = np.random.default_rng(seed)
    places = random.integers(0, 12, (40, 2, 2)) * 10.0
    chains = [line(*map(tuple, place)) for place in places if (place[0] != place[1]).any()]
    runs, crowds = runs_of(chains, 1e-6)
    ends = [
        (k, last, tuple(chain[-1, 3] if last else chain[0, 0]))
        for k, chain in enumerate(chains)
        for last in (0, 1)
    ]
    meeting = [(a[:2], b[:2]) for a, b in combinations(ends, 2) if a[2] == b[2]]
    alone = {pair for pair in meeting if sum(end in other for other in meeting for end in pair) == 2}
    # Every pair that meets alone is a joint of a run, and there are no other joints.
    joints = set()
    for run in runs:
        way = list(zip(run.lines, run.backward, strict=True))
        for (i, back_i), (j, back_j) in zip(way, way[1:] + (way[:1] if run.ring else []), strict=False):
            joints.add(tuple(sorted(((i, int(not back_i)), (j, int(back_j))))))
    assert joints == alone
    assert runs
    assert crowds


def test_cut_at_corners() -> None:
    zigzag = [line((0, 0), (9, 0)), line((0, 3), (9, 0)), line((0, 3), (-9, 3))]
    (run,), _ = runs_of(zigzag, 0.1)
    assert cut_at_corners(zigzag, run, np.radians(100)) == [
        Run((0,), (False,), ring=False),
        Run((1, 2), (True, False), ring=False),
    ]
    assert cut_at_corners(zigzag, run, np.radians(170)) == [run]
    # A handle of no length has no direction: that of the next one counts.
    drawn_in = [line((0, 0), (9, 0)), np.array([[(9.0, 0), (9, 0), (9, 0), (0, 3)]])]
    (run,), _ = runs_of(drawn_in, 0.1)
    assert len(cut_at_corners(drawn_in, run, np.radians(150))) == 2


def test_no_lines() -> None:
    assert find_runs(np.empty((0, 2, 2)), np.empty(0), 1.0) == ([], [])
