"""Time the reading of a drawing against another library: ``python tests/benchmarks/reading.py [--smoke]``.

The peer only parses path data: no styles, no layers, no copies, no units. Prints times, and how much memory reading
takes at its peak, as a multiple of the file. Needs the ``bench`` extra.
"""

from __future__ import annotations

import argparse
import tempfile
import tracemalloc
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
from curve_room import Row, in_turn

import bias_drafting as bd


def vines(stems: int, segments: int) -> str:
    """Return a drawing of vines of so many cubics each, as an editor writes it."""
    random = np.random.default_rng(3)
    paths = []
    for k in range(stems):
        places = random.uniform(20, 280, 2) + np.cumsum(random.normal(0, 5, (3 * segments + 1, 2)), axis=0)
        numbers = [f"{x:.3f},{y:.3f}" for x, y in places]
        style = "fill:none;stroke:#009e73;stroke-width:6"
        paths.append(f'<path id="vine-{k}" style="{style}" d="M{numbers[0]}C{" ".join(numbers[1:])}"/>')
    root = 'xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300"'
    return f'<svg {root}><g id="stems" transform="translate(1 2)">{"".join(paths)}</g></svg>'


def main() -> None:
    """Print the table."""
    import svgpathtools

    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--smoke", action="store_true", help="small, to see that it runs")
    smoke = asked.parse_args().smoke
    stems, rounds = (8, 2) if smoke else (200, 15)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "vines.svg")
        file.write_text(vines(stems, 25), encoding="utf-8")
        size = file.stat().st_size
        bd.read_drawing(file)
        wanted = "no slower"
        what = f"read {stems} stems of 25 cubics, {size / 1000:.0f} kB"
        print(
            Row(
                what,
                "svgpathtools",
                *in_turn(lambda: svgpathtools.svg2paths(file), lambda: bd.read_drawing(file), rounds),
                wanted,
            )
        )
        print(
            Row(
                what,
                "bare XML parsing",
                *in_turn(lambda: ET.parse(file), lambda: bd.read_drawing(file), rounds),
                "",
            )
        )
        tracemalloc.start()
        drawing = bd.read_drawing(file)
        held, peak = tracemalloc.get_traced_memory()
        print(
            f"memory: {peak / size:.1f} times the file at most, {held / size:.1f} times held; wanted below 40 times"
        )
        assert len(drawing.stems) == stems


if __name__ == "__main__":
    main()
