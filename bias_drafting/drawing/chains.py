"""Lines laid end to end: which ends meet, two and no third."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bias_drafting.curve import bezier

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    IntArray = NDArray[np.intp]

__all__ = ["MEET", "Run", "closed_up", "cut_at_corners", "find_runs", "laid_end_to_end"]

# Ends this close (mm) meet, and a closing line this short has no direction worth keeping: files round to about this.
# Only curves much larger than that are touched.
MEET = 1e-3
_LARGE = 1.0
# A line hardly longer than the gap, in gaps, has both its ends near: that is no ring.
_NO_RING = 4.0


class Run(NamedTuple):
    """Lines in a row.

    ``lines`` are their numbers in order, ``backward`` tells which of them run against it, and ``ring`` whether the
    last comes back to the first. The line with the lowest number runs forward.
    """

    lines: tuple[int, ...]
    backward: tuple[bool, ...]
    ring: bool


def find_runs(ends: Array, lengths: Array, gap: float) -> tuple[list[Run], list[tuple[int, ...]]]:
    """Return which lines are laid end to end, and which are not because more than two of their ends meet.

    Parameters
    ----------
    ends
        ``(n, 2, 2)`` where each line starts and where it ends.
    lengths
        ``(n,)`` how long each is.
    gap
        Ends no further apart than this meet.

    Returns
    -------
    tuple
        The runs of two lines or more, or of one whose own ends meet, by their lowest numbers; and for each place at
        which three or more ends meet the numbers of (up to four of) their lines.
    """
    if not len(ends):
        return [], []
    others = _neighbours(ends.reshape(-1, 2), lengths, gap)
    count = (others >= 0).sum(axis=1)
    first = others.max(axis=1)
    met = (count == 1) & (count[first] == 1)
    partner = np.where(met, first, -1)
    crowds: list[tuple[int, ...]] = []
    told: set[int] = set()
    for port in np.flatnonzero(count > 1).tolist():
        near = [port, *others[port][others[port] >= 0].tolist()]
        if not told.intersection(near):
            crowds.append(tuple(sorted({end // 2 for end in near})))
        told.update(near)
    return sorted(_runs(partner.tolist()), key=lambda run: min(run.lines)), crowds


def _neighbours(places: Array, lengths: Array, gap: float) -> IntArray:
    """Return the numbers ``(2 n, 4)`` of the other ends near each end, the nearest few; -1 for none."""
    from scipy.spatial import cKDTree

    # An end finds itself, the other end of its own line, and two more at most: what lies beyond need not be known.
    near = np.asarray(
        cKDTree(places).query(places, k=4, distance_upper_bound=gap * (1 + 1e-9))[1], dtype=np.intp
    )
    number = np.arange(len(places))[:, None]
    own = number ^ 1
    short = (lengths[number // 2] <= _NO_RING * gap) & (near == own)
    return np.where((near == len(places)) | (near == number) | short, -1, near)


def _runs(partner: Sequence[int]) -> Iterator[Run]:
    """Yield the runs; end ``2 k`` is the start of line ``k``, end ``2 k + 1`` its end."""
    used: set[int] = set()
    loose = [end for end in range(len(partner)) if partner[end] < 0]
    # From every end that meets none; what is left then are rings.
    for end in (*loose, *range(0, len(partner), 2)):
        if end // 2 in used:
            continue
        lines, backward, at = [], [], end
        while at >= 0 and at // 2 not in used:
            used.add(at // 2)
            lines.append(at // 2)
            backward.append(at % 2 == 1)
            at = partner[at ^ 1]
        ring = at >= 0
        if len(lines) == 1 and not ring:
            continue
        if backward[lines.index(min(lines))]:
            lines, backward = lines[::-1], [not back for back in backward[::-1]]
        yield Run(tuple(lines), tuple(backward), ring)


def cut_at_corners(chains: Sequence[Array], run: Run, most: float) -> list[Run]:
    """Cut a run where it turns by more than ``most`` radians from one line to the next; a ring stays whole."""
    if run.ring:
        return [run]
    parts = _forward(chains, run)
    leaving, _ = bezier.end_directions(np.stack([part[0] for part in parts]))
    _, arriving = bezier.end_directions(np.stack([part[-1] for part in parts]))
    turns = np.abs(np.angle(leaving[1:] * np.conj(arriving[:-1])))
    cuts = [0, *(np.flatnonzero(turns > most) + 1).tolist(), len(parts)]
    return [Run(run.lines[i:j], run.backward[i:j], ring=False) for i, j in pairwise(cuts)]


def _forward(chains: Sequence[Array], run: Run) -> list[Array]:
    """Return the cubics of each line of a run, all running one way."""
    return [
        chains[k][::-1, ::-1] if back else chains[k] for k, back in zip(run.lines, run.backward, strict=True)
    ]


def laid_end_to_end(chains: Sequence[Array], run: Run) -> tuple[Array, float]:
    """Return the cubics ``(n, 4, 2)`` of a run as one chain, and the widest gap closed.

    Both ends of a gap move to the middle between them, and their handles with them, so that their directions stay.
    """
    parts = _forward(chains, run)
    result = np.concatenate(parts)
    after = np.cumsum([len(part) for part in parts])
    before = after - 1
    after = after % len(result)
    if not run.ring:
        before, after = before[:-1], after[:-1]
    gap = result[after, 0] - result[before, 3]
    middle = result[before, 3] + gap / 2
    result[before, 2] += gap / 2
    result[after, 1] -= gap / 2
    result[before, 3] = result[after, 0] = middle
    return result, float(np.hypot(*gap.T).max())


def closed_up(controls: Array, closed: bool, size: float) -> tuple[Array, bool]:
    """Close a chain of this size (mm) whose ends meet, and leave out a last piece that only brings them together."""
    if size > _LARGE:
        if closed and len(controls) > 1 and np.ptp(controls[-1], axis=0).max() < MEET:
            controls = controls[:-1]
        (x0, y0), (x1, y1) = controls[0, 0].tolist(), controls[-1, 3].tolist()
        if abs(x1 - x0) < MEET and abs(y1 - y0) < MEET:
            controls[-1, 3] = controls[0, 0]
            closed = True
    return controls, closed
