"""What an import costs: heavy libraries wait until they are needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LATE = ("matplotlib", "svgpathtools", "scipy.optimize", "reportlab", "pandas")


def loaded(code: str) -> set[str]:
    """Return the names of the modules that a fresh process has loaded after running code."""
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint(*sys.modules)"],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split())


def test_the_guard_sees_a_heavy_import() -> None:
    assert "pandas" in loaded("import bias_drafting, pandas")


def test_the_package_alone_loads_nothing_heavy() -> None:
    modules = loaded("import bias_drafting")
    assert "bias_drafting" in modules
    assert not modules & {*LATE, "scipy", "numpy", "shapely"}


@pytest.mark.parametrize("module", ["bias_drafting.__main__", "bias_drafting.sheets.write"])
def test_the_command_and_the_sheets_load_nothing_late(module: str) -> None:
    modules = loaded(f"import {module}")
    assert module in modules
    assert not modules & set(LATE)


def test_the_main_job_loads_nothing_to_plot_or_print(tmp_path: Path) -> None:
    """The whole job, from the drawing to the sheets."""
    job = (
        "import bias_drafting as bd\n"
        "pattern = bd.draft_pattern(bd.read_sample('bean-wreath'))\n"
        f"bd.write_sheets(pattern, {str(tmp_path)!r})\n"
        "text = str(pattern)\n"
    )
    assert not loaded(job) & {"matplotlib", "reportlab", "pandas"}
    assert (tmp_path / "pattern.svg").is_file()


def test_only_path_data_that_are_not_plain_need_svgpathtools(tmp_path: Path) -> None:
    """Else there is no use for it, nor for scipy.optimize, which svgpathtools brings along."""
    job = (
        "import bias_drafting as bd\n"
        "vine = bd.Curve.from_points([(10, 10), (60, 20), (90, 10)])\n"
        "drawing = bd.Drawing('vine', (100.0, 50.0), stems=(bd.Stem('vine', vine),))\n"
        f"bd.write_sheets(bd.draft_pattern(drawing), {str(tmp_path)!r})\n"
    )
    assert not loaded(job) & set(LATE)
    assert "svgpathtools" in loaded("import bias_drafting as bd\nbd.Curve.from_svg_path('M0 0Q9 9 9 0T9 9')")
    assert "svgpathtools" not in loaded("import bias_drafting as bd\nbd.Curve.from_svg_path('M0 0L9 9')")


def test_all_public_names_are_there() -> None:
    loaded(
        "import bias_drafting as bd\nassert all(hasattr(bd, name) for name in bd.__all__) and len(bd.__all__) > 30"
    )
