"""The fast way through path data against the way by the library's parser: the same to the last bit."""

from __future__ import annotations

import random
import time

import pytest

from bias_drafting.curve import path_data
from bias_drafting.curve.plain_path import plain_subpaths

COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "Z": 0}
NUMBERS = (".5", "-.25", "1e2", "+3", "0", "-0", "1.5e-3", "-7", "12.25E+1")


def made(seed: int) -> str:
    """Return path data with every way to set numbers against each other, one in some with a number too many."""
    dice = random.Random(seed)

    def number() -> str:
        return dice.choice([*NUMBERS, f"{dice.randint(-50, 50)}", f"{dice.uniform(-50, 50):.3f}"])

    d = f"{dice.choice('Mm')}{number()},{number()}"
    for _ in range(dice.randint(0, 8)):
        letter = dice.choice("MLHVCSQZ")
        count = COUNTS[letter] * dice.choice([1, 1, 2, 3]) + (dice.random() < 0.02)
        d += dice.choice([letter, letter.lower()]) + dice.choice(["", " ", "\n"])
        for k in range(count):
            word = number()
            packed = k == 0 or word[0] in "+-"
            d += ("" if packed else dice.choice([" ", ",", "  ", " , ", "\t,\n"])) + word
        d += dice.choice(["", " "])
    return d


def both(monkeypatch: pytest.MonkeyPatch, d: str) -> tuple[path_data.PathData, path_data.PathData]:
    fast = path_data.read_path_data(d)
    with monkeypatch.context() as patch:
        patch.setattr(path_data, "plain_subpaths", lambda _: None)
        return fast, path_data.read_path_data(d)


def check_same(monkeypatch: pytest.MonkeyPatch, d: str) -> None:
    fast, slow = both(monkeypatch, d)
    assert (fast.error, fast.without_length, fast.not_finite) == (
        slow.error,
        slow.without_length,
        slow.not_finite,
    ), d
    assert len(fast.subpaths) == len(slow.subpaths), d
    for one, other in zip(fast.subpaths, slow.subpaths, strict=True):
        assert one.closed == other.closed, d
        assert one.controls.shape == other.controls.shape, d
        assert (one.controls == other.controls).all(), d


@pytest.mark.parametrize("seed", range(8))
def test_it_reads_what_the_parser_reads(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    plain = 0
    for k in range(60):
        d = made(1000 * seed + k)
        plain += plain_subpaths(d) is not None
        check_same(monkeypatch, d)
    assert plain > 40  # else this would not say much


@pytest.mark.parametrize(
    "d",
    [
        "",
        " ",
        "M",
        "M0",
        "M0 0",
        "M0 0Z",
        "M0 0zz",
        "M1 1L2 2ZL3 3",
        "M1 1L2 2Zm3 3 4 4",
        "M0 0 1e400 0",
        "M1e308 0l1e308 0",
        "M0 0C1 1 2 2 1e308 0c0 0 0 0 1e308 0",
        "M0 0L1 1,",
        "M0 0,L1 1",
        "M0 0L1.",
        "M0 0L1 1 2",
        "M0 0H",
        "M0 0Z5",
        "z",
        "L0 0",
        "M0 0 5 5S1 1 2 2",
        "M0 0C1 1 2 2 3 3S4 4 5 5s1 1 2 2",
        "M0 0Q1 1 2 2T4 4",
        "M0 0A5 5 0 0 1 9 9",
        "M0 0L5 5 5 5 0 0z",
        "M 0 0 , 5 5 ",
        "M0 0L1_0 2",
        "M0 0Linf 2",
        "M0-0.5.5",
        "m1 1 2 2m3 3 4 4",
    ],
)
def test_edges_of_the_grammar(monkeypatch: pytest.MonkeyPatch, d: str) -> None:
    check_same(monkeypatch, d)


@pytest.mark.parametrize(
    "junk", ["1" * 200_000, " 1 , " * 100_000, "-1.5.5" * 60_000, "e" * 200_000, "C" * 100_000]
)
def test_long_junk_takes_no_long_time(junk: str) -> None:
    begin = time.perf_counter()
    assert plain_subpaths(f"M0 0{junk}x") is None
    # What tried all ways to cut a long run of digits would not end.
    assert time.perf_counter() - begin < 30
