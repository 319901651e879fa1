"""How long the main job takes, as a whole process, next to the imports it cannot do without.

What it measures
----------------
The main job is the command on the sample ``bean-wreath``: start Python, read the drawing, check and draft every
stem, write the three sheets. Next to it runs ``python -c "import numpy, shapely, svgpathtools"``: the libraries that
any such job has to load. The two take turns within one run, so that a busy machine slows both; the median of each and
their ratio are printed. The ratio says more than the seconds, which belong to the machine. Aim: a ratio of at most 2.

It prints numbers and judges nothing: a time is no reason for a test to fail.

How to run it
-------------
By hand, from the root of the project, with the project's packages installed::

    python tests/benchmarks/main_job.py               # the median of 11 pairs
    python tests/benchmarks/main_job.py --pairs 31    # a steadier figure
    python tests/benchmarks/main_job.py --smoke       # one pair: only whether it still runs

The first pair is run beforehand and not counted: it fills the disk cache and writes the compiled modules.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Times", "main", "measure"]

ROOT = Path(__file__).resolve().parents[2]
DRAWING = ROOT / "samples" / "bean-wreath.svg"
IMPORTS = ("-c", "import numpy, shapely, svgpathtools")
# One tendril of the sample is too tight at 1/4 in, and the command says so.
TOO_TIGHT = 1


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of each run, in the order they ran: of the main job, and of the imports alone."""

    job: tuple[float, ...]
    imports: tuple[float, ...]

    @property
    def ratio(self) -> float:
        """The median of the job by the median of the imports."""
        return statistics.median(self.job) / statistics.median(self.imports)

    def __str__(self) -> str:
        job, imports = statistics.median(self.job), statistics.median(self.imports)
        return (
            f"main job on {DRAWING.name}: {job:.3f} s\n"
            f"imports of numpy, shapely, svgpathtools: {imports:.3f} s\n"
            f"ratio: {self.ratio:.2f} (medians of {len(self.job)})"
        )


def measure(pairs: int) -> Times:
    """Run the job and the imports in turn, ``pairs`` times each, as processes of their own."""
    job: list[float] = []
    imports: list[float] = []
    with tempfile.TemporaryDirectory() as folder:
        command = ("-m", "bias_drafting", str(DRAWING), "--width", "1/4 in", "--out", folder)
        for _ in range(pairs):
            imports.append(_seconds(IMPORTS, 0))
            job.append(_seconds(command, TOO_TIGHT))
        if not (Path(folder) / "pattern.svg").stat().st_size:
            msg = "the main job wrote an empty sheet"
            raise SystemExit(msg)
    return Times(tuple(job), tuple(imports))


def _seconds(arguments: Sequence[str], code: int) -> float:
    """Run Python and return how long it took; its exit code must be ``code``."""
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments],
        check=False,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
    )
    seconds = time.perf_counter() - start
    if done.returncode != code:
        msg = f"python {' '.join(arguments)} ended with {done.returncode}, not {code}: {done.stderr}"
        raise SystemExit(msg)
    return seconds


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Time the main job next to the imports it needs.")
    parser.add_argument("--pairs", type=int, default=11, metavar="N", help="runs of each (%(default)s)")
    parser.add_argument("--smoke", action="store_true", help="one pair, nothing beforehand")
    options = parser.parse_args(arguments)
    if options.pairs < 1:
        parser.error("--pairs must be 1 or more")
    if not options.smoke:
        measure(1)
    print(measure(1 if options.smoke else options.pairs))
    return 0


if __name__ == "__main__":
    sys.exit(main())
