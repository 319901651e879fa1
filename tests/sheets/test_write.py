"""Writing the sheets: whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sheet_drawings import drafted

import bias_drafting as bd
from bias_drafting.sheets import write
from bias_drafting.sheets.svg import pattern_svg
from bias_drafting.sheets.values import pattern_csv, pattern_json

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
ALL = ["pattern.svg", "pattern.csv", "pattern.json"]


def snapshot(folder: Path) -> dict[str, bytes | None]:
    """Return all there is in a folder: the bytes of files, None for folders."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


@pytest.fixture
def pattern() -> bd.Pattern:
    return drafted("pumpkin")


def test_writes_what_the_sheets_are(pattern: bd.Pattern, tmp_path: Path) -> None:
    written = bd.write_sheets(pattern, tmp_path)
    assert written == [tmp_path / name for name in ALL]
    contents = (pattern_svg(pattern), pattern_csv(pattern), pattern_json(pattern))
    for path, content in zip(written, contents, strict=True):
        assert path.read_bytes() == content.encode()
    assert set(snapshot(tmp_path)) == set(ALL)


def test_unit_reaches_the_sheet_and_only_the_sheet(pattern: bd.Pattern, tmp_path: Path) -> None:
    inches = bd.write_sheets(pattern, tmp_path / "in")
    metric = bd.write_sheets(pattern, str(tmp_path / "mm"), unit="mm")
    assert metric[0].read_text("utf-8") == pattern_svg(pattern, "mm") != inches[0].read_text("utf-8")
    assert [p.read_bytes() for p in metric[1:]] == [p.read_bytes() for p in inches[1:]]


@pytest.mark.parametrize(
    ("formats", "names"),
    [
        (["json"], ["pattern.json"]),
        (("csv", "svg"), ["pattern.csv", "pattern.svg"]),
        (["svg", "svg", "csv", "svg"], ["pattern.svg", "pattern.csv"]),
        (iter(["json", "csv"]), ["pattern.json", "pattern.csv"]),
    ],
)
def test_formats_asked_for_in_their_order(
    formats: Any, names: list[str], pattern: bd.Pattern, tmp_path: Path
) -> None:
    assert bd.write_sheets(pattern, tmp_path, formats=formats) == [tmp_path / name for name in names]
    assert set(snapshot(tmp_path)) == set(names)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"formats": ["svg", "pdf"]}, "no sheets of format 'pdf'; there are svg, csv, json"),
        ({"formats": ["SVG"]}, "no sheets of format 'SVG'"),
        ({"formats": []}, r"formats is a list of some of svg, csv, json, not \[\]"),
        ({"formats": ()}, "formats is a list"),
        ({"formats": "svg"}, "formats is a list of some of svg, csv, json, not 'svg'"),
        ({"unit": "cm"}, "sheets are in 'in' or 'mm', not 'cm'"),
        ({"unit": "cm", "formats": ["csv"]}, "sheets are in 'in' or 'mm', not 'cm'"),
        ({"unit": ""}, "sheets are in 'in' or 'mm', not ''"),
    ],
)
def test_what_cannot_be_asked(
    options: dict[str, Any], message: str, pattern: bd.Pattern, tmp_path: Path
) -> None:
    with pytest.raises(bd.SheetError, match=message):
        bd.write_sheets(pattern, tmp_path / "new", **options)
    assert snapshot(tmp_path) == {}


def test_an_empty_name_is_no_folder(
    pattern: bd.Pattern, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(bd.SheetError, match=r"is empty; for the folder you are in write '\.'"):
        bd.write_sheets(pattern, "")
    assert snapshot(tmp_path) == {}
    assert bd.write_sheets(pattern, ".", formats=["csv"]) == [Path("pattern.csv")]


def test_new_folders_are_made_and_old_files_of_ours_replaced(tmp_path: Path) -> None:
    folder = tmp_path / "garden" / "çà et là" / "🌱"
    bd.write_sheets(drafted("pea-curls"), folder)
    (folder / "keep.txt").write_text("mine")
    (folder / "pattern.csv").chmod(0o444)
    written = bd.write_sheets(drafted("pumpkin"), folder)
    assert written[1].read_bytes() == pattern_csv(drafted("pumpkin")).encode()
    assert set(snapshot(folder)) == {*ALL, "keep.txt"}
    assert (folder / "keep.txt").read_text() == "mine"


@pytest.mark.skipif(os.name != "posix", reason="permission bits are those of POSIX")
@pytest.mark.parametrize("mask", [0o022, 0o077])
def test_files_are_as_open_as_the_user_wants(mask: int, pattern: bd.Pattern, tmp_path: Path) -> None:
    before = os.umask(mask)
    try:
        written = bd.write_sheets(pattern, tmp_path)
    finally:
        os.umask(before)
    assert {path.stat().st_mode & 0o777 for path in written} == {0o666 & ~mask}


def in_the_way_file(folder: Path) -> Path:
    (folder / "sheets").write_text("a file")
    return folder / "sheets"


def in_the_way_above(folder: Path) -> Path:
    return in_the_way_file(folder) / "new" / "sheets"


def in_the_way_sheet(folder: Path) -> Path:
    (folder / "pattern.csv").write_text("older")
    (folder / "pattern.json" / "inside").mkdir(parents=True)
    (folder / "pattern.svg").write_text("older")
    return folder


def in_the_way_first_sheet(folder: Path) -> Path:
    (folder / "pattern.svg").mkdir()
    return folder


def too_long(folder: Path) -> Path:
    return folder / "new" / "newer" / ("x" * 300)


def no_name(folder: Path) -> Path:
    return folder / "new" / "a\0b"


@pytest.mark.parametrize(
    "prepare",
    [in_the_way_file, in_the_way_above, in_the_way_sheet, in_the_way_first_sheet, too_long, no_name],
)
def test_a_place_that_cannot_be_written(
    prepare: Callable[[Path], Path], pattern: bd.Pattern, tmp_path: Path
) -> None:
    folder = prepare(tmp_path)
    before = snapshot(tmp_path)
    with pytest.raises(bd.SheetError, match="the sheets cannot be written there") as caught:
        bd.write_sheets(pattern, folder)
    assert str(caught.value).startswith(f"{folder}: ")
    assert snapshot(tmp_path) == before


def failing(monkeypatch: pytest.MonkeyPatch, method: str, at: int, error: BaseException) -> None:
    """Make the ``at``-th call of a method of Path fail, and let all others through."""
    real = getattr(Path, method)
    calls = iter(range(1, 1000))

    def call(self: Path, *args: Any, **kwargs: Any) -> Any:
        if next(calls) == at:
            raise error
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, method, call)


DENIED = PermissionError(13, "Permission denied")
FULL = OSError(28, "No space left on device")


@pytest.mark.parametrize(
    ("method", "at", "error"),
    [
        ("mkdir", 1, DENIED),
        ("mkdir", 2, DENIED),
        ("open", 1, DENIED),
        ("open", 3, FULL),
        ("replace", 1, FULL),
        ("replace", 2, FULL),
        ("replace", 3, DENIED),
    ],
)
def test_a_failure_on_the_way_leaves_no_trace(
    method: str, at: int, error: OSError, pattern: bd.Pattern, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patched:
        failing(patched, method, at, error)
        with pytest.raises(bd.SheetError, match=str(error.strerror)):
            bd.write_sheets(pattern, tmp_path / "new" / "sheets")
    assert snapshot(tmp_path) == {}


@pytest.mark.parametrize("error", [FULL, DENIED, KeyboardInterrupt(), MemoryError()])
@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_failure_half_way_brings_older_files_back(
    at: int, error: BaseException, pattern: bd.Pattern, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    older = {"pattern.svg": b"\x00\xff older \r\n", "pattern.json": b"", "keep.txt": b"mine"}
    for name, content in older.items():
        (tmp_path / name).write_bytes(content)
    with monkeypatch.context() as patched:
        failing(patched, "replace", at, error)
        with pytest.raises(bd.SheetError if isinstance(error, OSError) else type(error)):
            bd.write_sheets(pattern, tmp_path)
    assert snapshot(tmp_path) == older


def test_all_sheets_are_made_before_the_first_is_written(
    pattern: bd.Pattern, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_pattern: bd.Pattern, _unit: str) -> str:
        message = "torn"
        raise bd.SheetError(message)

    monkeypatch.setitem(write._WRITERS, "json", broken)
    with pytest.raises(bd.SheetError, match="torn"):
        bd.write_sheets(pattern, tmp_path / "new")
    assert snapshot(tmp_path) == {}


def test_bytes_that_are_no_text_are_shown_as_question_marks(tmp_path: Path) -> None:
    """Python gives a file name that is not UTF-8 as half letters, which no file can hold."""
    stem = bd.Stem("vine", bd.Curve.from_svg_path("M10 10h50"))
    name = os.fsdecode(b"hop-\xff.svg") if os.name == "posix" else "hop-\udcff.svg"
    pattern = bd.draft_pattern(bd.Drawing(name, (80.0, 20.0), stems=(stem,)))
    svg, _, values = bd.write_sheets(pattern, tmp_path)
    assert '"source": "hop-?.svg"' in values.read_text("utf-8")
    assert "hop-" in svg.read_text("utf-8")


def test_output_is_the_same_every_time(tmp_path: Path) -> None:
    for name in ("bean-wreath", "pea-curls"):
        first = bd.write_sheets(drafted(name), tmp_path / "first")
        again = bd.write_sheets(drafted(name), tmp_path / "again")
        assert [p.read_bytes() for p in first] == [p.read_bytes() for p in again]


def test_output_is_the_same_in_every_process(tmp_path: Path) -> None:
    """Nothing may hang on the order of a set, which changes with the seed of hashing."""
    bd.write_sheets(drafted("bean-wreath"), tmp_path / "here")
    script = (
        "import sys, bias_drafting as bd\n"
        "bd.write_sheets(bd.draft_pattern(bd.read_sample('bean-wreath')), sys.argv[1])\n"
    )
    running = []
    for seed in ("1", "20031"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-c", script, str(tmp_path / seed)]
        running.append(subprocess.Popen(command, env=environment, stderr=subprocess.PIPE))
    for process in running:
        _, said = process.communicate(timeout=120)
        assert process.returncode == 0, said.decode()
    assert snapshot(tmp_path / "1") == snapshot(tmp_path / "20031") == snapshot(tmp_path / "here")
