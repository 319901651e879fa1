"""Cubics for trying measures on: gentle ones as stems have, and the worst that editors make."""

from __future__ import annotations

import numpy as np


def nasty(seed: int, count: int) -> np.ndarray:
    """Return retracted handles, folds on a line, cusps, near-cusps of every size, and wild cubics."""
    random = np.random.default_rng(seed)
    cubics = random.uniform(0, 50, (count, 4, 2))
    kind = np.arange(count) % 7
    cubics[kind == 0, 1] = cubics[kind == 0, 0]
    cubics[kind == 1, 2] = cubics[kind == 1, 3]
    on_line = kind == 2
    chord = cubics[on_line, 3] - cubics[on_line, 0]
    share = random.uniform(-1, 2, (2, on_line.sum(), 1))
    cubics[on_line, 1], cubics[on_line, 2] = (cubics[on_line, 0] + share[k] * chord for k in (0, 1))
    cusp = np.array([[0, 0], [1, 1], [0, 1], [1, 0]])
    for k in (3, 4):
        cubics[kind == k] = cusp * random.uniform(1, 40, ((kind == k).sum(), 1, 1))
    near = kind == 4
    cubics[near, 1] += random.normal(size=(near.sum(), 2)) * 10.0 ** random.uniform(-10, 0, (near.sum(), 1))
    almost = kind == 5
    cubics[almost, 1] = cubics[almost, 0] + 10.0 ** random.uniform(-12, -1, (almost.sum(), 1))
    hard: np.ndarray = cubics
    return hard


def gentle(seed: int, count: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    start, angle = random.uniform(0, 300, (count, 2)), random.uniform(0, 6.28, count)
    size, first, last = random.uniform(5, 60, count), *random.normal(0, 0.5, (2, count))

    def away(turn: np.ndarray, far: np.ndarray) -> np.ndarray:
        unit: np.ndarray = np.stack([np.cos(angle + turn), np.sin(angle + turn)], axis=1)
        moved: np.ndarray = far[:, None] * unit
        return moved

    end = start + away(np.zeros(count), size)
    handles = random.uniform(0.25, 0.45, (2, count)) * size
    return np.stack([start, start + away(first, handles[0]), end - away(last, handles[1]), end], axis=1)
