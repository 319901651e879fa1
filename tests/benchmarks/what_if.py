"""What a table of all stems, widths, ways of making and cloths costs, beside measuring the curves once.

Run ``python tests/benchmarks/what_if.py``; ``--smoke`` runs it small.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

import bias_drafting as bd

WIDTHS = np.linspace(3, 22, 20)
MAKINGS = ("folded-strip", "sewn-tube", "rolled-strip", "turned-template")


def stems(count: int, segments: int = 25) -> list[bd.Curve]:
    """Vines of some segments, none like another."""
    rng = np.random.default_rng(7)
    found = []
    for _ in range(count):
        x = np.linspace(0, 25.0 * segments, segments + 1)
        y = np.cumsum(rng.normal(0, 14, segments + 1))
        slope = np.gradient(y, x)
        step = np.stack([np.full(segments, x[1] / 3), slope[:-1] * x[1] / 3], axis=1)
        back = np.stack([np.full(segments, x[1] / 3), slope[1:] * x[1] / 3], axis=1)
        points = np.stack([x, y], axis=1)
        found.append(
            bd.Curve(np.stack([points[:-1], points[:-1] + step, points[1:] - back, points[1:]], axis=1))
        )
    return found


def main() -> None:
    """Print the two times and their ratio."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--smoke", action="store_true", help="small, to see that it runs")
    count = 20 if parser.parse_args().smoke else 1000
    cloths = bd.cloth_names()[:6]
    drawn = stems(count)
    begin = time.perf_counter()
    for curve in drawn:
        curve.least_working_radii(WIDTHS)
    once = time.perf_counter() - begin
    drawn = stems(count)
    begin = time.perf_counter()
    table = bd.width_table(drawn, WIDTHS.tolist(), MAKINGS, cloths)
    taken = time.perf_counter() - begin
    print(
        f"{count} stems of 25 segments, {len(table)} verdicts: {taken:.2f} s; measuring the curves once "
        f"{once:.2f} s; {taken / once:.2f} times (wanted: 3)"
    )


if __name__ == "__main__":
    main()
