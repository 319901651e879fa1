"""Time the curve room against other libraries: ``python tests/benchmarks/curve_room.py [--smoke] [ROW ...]``.

Prints one table. In every row the peer and ours take turns in the same run: a noisy machine is noisy for both. The
median of the rounds is told. ``--smoke`` makes everything small, to see that it runs. Needs the ``bench``
extra: kurbopy, svgpathtools and shapely are the peers.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

# Run as a script: the folder of the tests holds what they share.
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hard_cubics import gentle, nasty

from bias_drafting.curve import arc_length, curvature
from bias_drafting.curve.curve import Curve

if TYPE_CHECKING:
    from collections.abc import Callable


class Row(NamedTuple):
    """One line of the table: who did what, how long peer and ours took in seconds, and what was wanted."""

    what: str
    peer: str
    theirs: float
    ours: float
    wanted: str

    def __str__(self) -> str:
        ratio = self.theirs / self.ours
        said = f"{ratio:.1f} times faster" if ratio >= 1 else f"{1 / ratio:.1f} times slower"
        times = f"{1e3 * self.theirs:10.3f} {1e3 * self.ours:10.3f}"
        return f"{self.what:44} {self.peer:26} {times}  {said:20} {self.wanted}"


def in_turn(theirs: Callable[[], object], ours: Callable[[], object], rounds: int) -> tuple[float, float]:
    """Return the median seconds of both, run by turns."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for times, call in zip(taken, (theirs, ours), strict=True):
            begin = time.perf_counter()
            call()
            times.append(time.perf_counter() - begin)
    return statistics.median(taken[0]), statistics.median(taken[1])


def cubics(count: int) -> np.ndarray:
    """Return cubics of which one in twenty is nasty."""
    few = max(count // 20, 1)
    both = np.concatenate([gentle(1, count - few), nasty(2, few)])
    return both[np.random.default_rng(3).permutation(count)]


def vine(segments: int, step: float = 17.0, height: float = 7.0) -> Curve:
    """Return a smooth vine: a spline through points that lie by turns above and below a line, a little uneven."""
    from scipy.interpolate import CubicSpline

    random = np.random.default_rng(5)
    x = np.arange(segments + 1) * step
    y = np.where(np.arange(segments + 1) % 2, height, -height) * random.uniform(0.2, 1.0, segments + 1)
    points, u = np.stack([x, y], axis=1), np.arange(segments + 1.0)
    slope = CubicSpline(u, points)(u, 1) / 3
    return Curve(
        np.stack([points[:-1], points[:-1] + slope[:-1], points[1:] - slope[1:], points[1:]], axis=1)
    )


def as_svgpathtools(controls: np.ndarray) -> list[Any]:
    from svgpathtools import CubicBezier

    return [CubicBezier(*(complex(x, y) for x, y in segment)) for segment in controls]


def kurbo_segments(controls: np.ndarray) -> list[Any]:
    from kurbopy import CubicBez, Point

    return [CubicBez(*(Point(x, y) for x, y in segment)) for segment in controls.tolist()]


def length_rows(small: bool) -> list[Row]:
    rows = []
    many = cubics(200 if small else 10_000)
    ours = lambda: arc_length.lengths(many)  # noqa: E731
    theirs = lambda: [segment.length() for segment in as_svgpathtools(many)]  # noqa: E731
    rows.append(
        Row(f"length of {len(many)} cubics", "svgpathtools", *in_turn(theirs, ours, 3), "40; aim 100")
    )
    theirs = lambda: [segment.arclen(1e-9) for segment in kurbo_segments(many)]  # noqa: E731
    rows.append(Row(f"length of {len(many)} cubics", "kurbo to 1e-9", *in_turn(theirs, ours, 7), "1"))
    few = nasty(4, 100)
    theirs = lambda: [segment.length() for segment in as_svgpathtools(few)]  # noqa: E731
    rows.append(
        Row(
            "length of 100 nasty cubics",
            "svgpathtools",
            *in_turn(theirs, lambda: arc_length.lengths(few), 7),
            "10",
        )
    )
    return rows


def radius_rows(small: bool) -> list[Row]:
    many = cubics(100 if small else 10_000)
    share = (
        len(many) // 10 or 1
    )  # sampling the peers takes minutes; a tenth of it is timed, and told times ten
    sample = np.linspace(0, 1, 101)

    def by_svgpathtools() -> None:
        for segment in as_svgpathtools(many[:share]):
            for t in sample:
                try:
                    segment.curvature(t)
                except (
                    ValueError,
                    ZeroDivisionError,
                    AssertionError,
                ):  # it has none where a curve stands still
                    continue

    def by_kurbo() -> None:
        for segment in kurbo_segments(many[:share]):
            for t in sample:
                segment.curvature(t)

    rows = []
    for name, theirs, wanted in (("svgpathtools", by_svgpathtools, "200"), ("kurbo", by_kurbo, "8")):
        taken, own = in_turn(theirs, lambda: curvature.sharpest_of_each(many), 3)
        taken *= len(many) / share
        rows.append(Row(f"least radius of {len(many)} cubics", f"{name}, 101 samples", taken, own, wanted))
    return rows


def place_rows(small: bool) -> list[Row]:
    from svgpathtools import Path as TheirPath

    curve = vine(20 if small else 500)
    count = 10 if small else 50  # of 1000, for the peer: told times as many
    s = np.random.default_rng(6).uniform(0, curve.length, 1000)

    def theirs() -> None:
        path = TheirPath(*as_svgpathtools(curve.controls))
        for at in s[:count]:
            path.point(path.ilength(at))

    taken, own = in_turn(theirs, lambda: Curve(curve.controls).point_at(s), 3)
    what = f"1000 points on {len(curve)} segments"
    rows = [Row(what, "svgpathtools ilength, point", taken * 1000 / count, own, "100")]
    long = vine(50 if small else 5000)

    def both() -> None:
        for segment in as_svgpathtools(long.controls):
            segment.length()
            for t in sample:
                segment.curvature(t)

    sample = np.linspace(0, 1, 11)

    def ours() -> None:
        curve = Curve(long.controls)
        curve.length, curve.tightest()

    taken, own = in_turn(both, ours, 3)
    rows.append(
        Row(f"length, least radius of {len(long)} segments", "svgpathtools, 11 samples", taken, own, "20")
    )
    return rows


def parallel_rows(small: bool) -> list[Row]:
    import shapely

    curve = vine(30)
    scale = 694 / curve.length
    curve = Curve(curve.controls * scale)
    line = shapely.LineString(curve.flattened(0.01))
    rows = []
    for distance in (3.0, 9.35):

        def theirs(d: float = distance) -> Any:
            return line.buffer(d, quad_segs=16)

        def ours(d: float = distance) -> tuple[Curve, ...]:
            return Curve(curve.controls).parallel(d)

        taken = in_turn(theirs, ours, 3 if small else 21)
        rows.append(Row(f"parallel at {distance} mm, 30 segments", "shapely, buffer", *taken, "1/25"))
        nodes, ring = sum(len(c) for c in ours()), shapely.get_num_coordinates(theirs())
        print(
            f"# parallel at {distance} mm: {nodes} cubics on one side of 30 segments; the buffer has {ring} points"
        )
    return rows


def band_growth(small: bool) -> None:
    """Print how the time of a band grows with the number of segments, as a multiple of n log n."""
    first = None
    for count in (200, 400) if small else (2000, 20_000, 200_000):
        curve = vine(count, height=5)
        begin = time.perf_counter()
        curve.band(4)
        taken = time.perf_counter() - begin
        share = taken / (count * np.log(count))
        first = first or share
        print(f"# band of {count} segments: {taken:.2f} s, {share / first:.2f} times n log n")


def import_rows(small: bool) -> list[Row]:
    def run(what: str) -> Callable[[], object]:
        return lambda: subprocess.run([sys.executable, "-c", what], check=True)

    taken = in_turn(run("import numpy"), run("import bias_drafting"), 3 if small else 11)
    return [Row("import bias_drafting", "import numpy", *taken, "1/1.5")]


ROWS = {
    "length": length_rows,
    "radius": radius_rows,
    "places": place_rows,
    "parallel": parallel_rows,
    "import": import_rows,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rows", nargs="*", choices=[*ROWS, "growth", []], help="which rows; without any, all")
    parser.add_argument("--smoke", action="store_true", help="small, to see that it runs")
    options = parser.parse_args()
    wanted = options.rows or [*ROWS, "growth"]
    found = [row for name in wanted if name in ROWS for row in ROWS[name](options.smoke)]
    print(f"{'what':44} {'peer':26} {'peer ms':>10} {'ours ms':>10}  {'ours is':20} wanted")
    for row in found:
        print(row)
    if "growth" in wanted:
        band_growth(options.smoke)


if __name__ == "__main__":
    main()
