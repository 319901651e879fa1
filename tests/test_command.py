"""The command: what it prints, what it writes, how it ends."""

from __future__ import annotations

import csv
import importlib.util
import json
import os
import shlex
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import bias_drafting as bd
from bias_drafting.__main__ import main

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).resolve().parent.parent
WREATH = str(ROOT / "samples" / "bean-wreath.svg")
SPRAY = str(ROOT / "samples" / "herb-spray.svg")
SHEETS = {"pattern.svg", "pattern.csv", "pattern.json"}
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT)}

VINE = '<path id="vine" d="M10 20h60" fill="none" stroke="green"/>'
# Two bends of different sharpness, an end under a leaf, a straight stem.
PEAS = (
    '<g fill="none" stroke="green"><path id="pea-vine" d="M5 20C25 5 40 10 45 25"/>'
    '<path id="pea-tendril" d="M50 8c10 0 22 6 22 26"/><path id="cane-stem" d="M8 36h50"/></g>'
    '<circle id="leaf" cx="46" cy="27" r="5" fill="lime"/>'
)


def drawing(inner: str = VINE, root: str = 'width="80mm" height="40mm" viewBox="0 0 80 40"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {root}>{inner}</svg>'


def names(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def program(*arguments: str, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run the command as a process of its own."""
    settings: dict[str, Any] = {"env": ENVIRONMENT, "stdout": subprocess.PIPE} | options
    return subprocess.run(
        [sys.executable, "-m", "bias_drafting", *arguments],
        stderr=subprocess.PIPE,
        text=True,
        timeout=120,
        check=False,
        **settings,
    )


# --- when all is well


def test_a_stem_too_tight_ends_with_1_and_the_sheets(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets"
    assert main([WREATH, "--width", "1/4 in", "--out", str(out)]) == 1
    said = capsys.readouterr()
    pattern = bd.draft_pattern(bd.read_drawing(WREATH), "1/4 in")
    table, _, written = said.out.rpartition("\n\n")
    assert table == pattern.table("in") == str(pattern)
    assert (
        written
        == "Written: "
        + ", ".join(str(out / name) for name in ("pattern.svg", "pattern.csv", "pattern.json"))
        + "\n"
    )
    assert said.err == ""
    assert names(out) == SHEETS
    assert json.loads((out / "pattern.json").read_text("utf-8"))["passes"] is False
    assert ET.parse(out / "pattern.svg").getroot().tag.endswith("svg")


def test_all_stems_pass_ends_with_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([SPRAY, "--out", str(tmp_path)]) == 0
    assert "Every stem goes round its bends." in capsys.readouterr().out
    assert json.loads((tmp_path / "pattern.json").read_text("utf-8"))["passes"] is True


def test_units_of_table_and_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([WREATH, "--units", "mm", "--out", str(tmp_path / "mm")]) == 1
    metric = capsys.readouterr().out
    assert metric.startswith(
        bd.draft_pattern(bd.read_drawing(WREATH), "1/4 in").table("mm") + "\n\nWritten: "
    )
    assert main([WREATH, "--out", str(tmp_path / "in")]) == 1
    capsys.readouterr()
    sheets = [(tmp_path / unit / "pattern.svg").read_text("utf-8") for unit in ("mm", "in")]
    assert "block 305 mm x 305 mm" in sheets[0]
    assert "block 12 in x 12 in" in sheets[1]
    # The values for other programs are in mm always.
    for name in ("pattern.csv", "pattern.json"):
        assert (tmp_path / "mm" / name).read_bytes() == (tmp_path / "in" / name).read_bytes()


OPTIONS: dict[str, tuple[list[str], dict[str, Any]]] = {
    "width": (["--width", "3/8 in"], {"width": "3/8 in"}),
    "width in mm": (["--width", "5 mm"], {"width": 5.0}),
    "making": (["--making", "sewn-tube"], {"making": bd.SewnTube()}),
    "template": (["--making", "turned-template"], {"making": bd.TurnedTemplate()}),
    "stretch": (["--cloth-stretch", "0.12"], {"cloth": bd.Cloth("quilting cotton", stretch=0.12)}),
    "ease": (["--cloth-ease", "0.03"], {"cloth": bd.Cloth("quilting cotton", ease=0.03)}),
    "no give": (
        ["--cloth-stretch", "0", "--cloth-ease", "0"],
        {"cloth": bd.Cloth("quilting cotton", stretch=0.0, ease=0.0)},
    ),
    "off bias": (["--off-bias", "10"], {"off_bias": 10.0}),
    "straight grain": (["--off-bias", "45"], {"off_bias": 45.0}),
    "tuck": (["--tuck", "1/2 in"], {"tuck": "1/2 in"}),
    "no tuck": (["--tuck", "0 mm"], {"tuck": 0.0}),
    "end allowance": (["--end-allowance", "10 mm"], {"end_allowance": 10.0}),
}


@pytest.mark.parametrize("what", OPTIONS)
def test_options_reach_the_pattern(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments, settings = OPTIONS[what]
    (tmp_path / "peas.svg").write_text(drawing(PEAS))
    peas = str(tmp_path / "peas.svg")
    pattern = bd.draft_pattern(bd.read_drawing(peas), **{"width": "1/4 in", **settings})
    assert main([peas, "--out", str(tmp_path), *arguments]) == (0 if pattern.passes else 1)
    assert capsys.readouterr().out.startswith(pattern.table() + "\n\nWritten: ")
    # The table rounds; the JSON does not.
    told = json.loads((tmp_path / "pattern.json").read_text("utf-8"))
    assert [
        {k: stem[k] for k in row} for stem, row in zip(told["stems"], pattern.to_dicts(), strict=True)
    ] == (pattern.to_dicts())
    plain = bd.draft_pattern(bd.read_drawing(peas), "1/4 in")
    assert pattern.to_dicts() != plain.to_dicts()


def test_scale_reaches_the_drawing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "pea.svg"
    path.write_text(drawing())
    assert main([str(path), "--scale", "2.5", "--out", str(tmp_path / "out")]) == 0
    capsys.readouterr()
    [row] = csv.DictReader((tmp_path / "out" / "pattern.csv").read_text("utf-8").splitlines())
    assert float(row["length_mm"]) == 150


def test_the_size_of_the_block_reaches_the_drawing_and_is_told_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pea.svg"
    path.write_text(drawing().replace("</svg>", '<rect id="frame" width="50" height="50"/></svg>'))
    assert main([str(path), "--block-size", "10 in", "--out", str(tmp_path / "out")]) == 0
    width, height = bd.read_drawing(path, block_size="10 in").size
    said = bd.format_length(width, unit="in", step=8).removesuffix(" in")
    assert capsys.readouterr().out.startswith(f"pea.svg: {said} x ")
    frame = bd.read_drawing(path).frame
    assert frame is not None
    plain = frame.outline.bounds
    assert width / bd.read_drawing(path).size[0] == pytest.approx(254 / (plain[2] - plain[0]))
    assert height > 0


def test_on_the_straight_grain_only_straight_stems_pass(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([SPRAY, "--off-bias", "45", "--out", str(tmp_path)]) == 1
    out = capsys.readouterr().out
    verdicts = {
        stem["stem"]: stem["verdict"]
        for stem in json.loads((tmp_path / "pattern.json").read_text("utf-8"))["stems"]
    }
    assert {name for name, verdict in verdicts.items() if verdict != "too tight"} == {
        "chive-stem-1",
        "chive-stem-2",
    }
    assert "cut so, this cloth does not bend at all" in out
    assert "7 stems are too tight" in out


def test_names_beyond_ascii(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "Böhnchen 豆 🌱.svg"
    path.write_text(drawing(VINE.replace("vine", "ранка-vine")), encoding="utf-8")
    out = tmp_path / "Blätter" / "für später" / "🌱"
    assert main([str(path), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Böhnchen 豆 🌱.svg: ")
    assert "ранка-vine" in said
    assert str(out / "pattern.svg") in said
    assert names(out) == SHEETS
    assert json.loads((out / "pattern.json").read_text("utf-8"))["drawing"]["source"] == path.name


def test_notes_are_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "noted.svg"
    path.write_text(drawing("<text>beans</text>" + VINE))
    assert main([str(path), "--out", str(tmp_path / "out")]) == 0
    assert "Notes (1):\n  line 1, " in capsys.readouterr().out


def test_sheets_are_replaced_and_what_else_is_there_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "keep.txt").write_text("mine")
    assert main([WREATH, "--out", str(tmp_path)]) == 1
    first = (tmp_path / "pattern.json").read_bytes()
    assert main([SPRAY, "--out", str(tmp_path)]) == 0
    capsys.readouterr()
    assert (tmp_path / "pattern.json").read_bytes() != first
    assert names(tmp_path) == SHEETS | {"keep.txt"}


# --- bad input: one line, exit code 2, nothing written

BAD_DRAWINGS: dict[str, tuple[str | bytes | None, list[str]]] = {
    "missing": (None, ["there is no such file"]),
    "empty": ("", ["it is empty"]),
    "blanks": (" \n\t\n", ["it is empty"]),
    "not SVG": ("a vine, drawn in words", ["no drawing", "looks like text"]),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", ["no drawing", "PNG"]),
    "other XML": ("<html><body/></html>", ["no drawing"]),
    "broken XML": (drawing()[:-9], ["line 1"]),
    "no stems": (drawing('<circle id="berry" cx="20" cy="20" r="9" fill="red"/>'), ["no stems"]),
    "nothing": (drawing(""), ["no stems"]),
    "NaN in a path": (drawing('<path id="hop-vine" d="M0 NaN L5 5" stroke="green"/>'), ["hop-vine", "NaN"]),
    "infinite number": (drawing('<path id="hop-vine" d="M0 0L1e999 5" stroke="green"/>'), ["hop-vine"]),
    "zero viewBox": (drawing(root='width="80mm" height="40mm" viewBox="0 0 0 40"'), ["viewBox", "0 0 0 40"]),
    "negative viewBox": (drawing(root='width="80mm" height="40mm" viewBox="0 0 80 -40"'), ["viewBox"]),
    "zero size": (drawing(root='width="0" height="40mm" viewBox="0 0 80 40"'), ["width"]),
    "unknown unit of the page": (drawing(root='width="8 furlongs" height="4cm"'), ["width", "furlongs"]),
    "a stem shorter than wide": (drawing('<path id="stub" d="M0 0h3" fill="none" stroke="red"/>'), ["stub", "3"]),
    "bad width in the drawing": (
        drawing(VINE.replace("/>", ' data-finished-width="0 in"/>')), ["vine", "finished width"]
    ),
    "bad making in the drawing": (drawing(VINE.replace("/>", ' data-making="glue"/>')), ["vine", "glue"]),
    "bad transform": (drawing(f'<g id="bed" transform="spin(3)">{VINE}</g>'), ["bed", "spin"]),
}  # fmt: skip


def check_refused(
    arguments: list[str], wanted: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> str:
    """Check that the command says one line on stderr and nothing else, ends with 2 and leaves no trace."""
    before = {path: path.read_bytes() if path.is_file() else None for path in tmp_path.rglob("*")}
    try:
        code: object = main(arguments)
    except SystemExit as ending:  # argparse ends the program itself
        code = ending.code
    said = capsys.readouterr()
    assert code == 2
    assert said.out == ""
    assert said.err.startswith("bias_drafting: ")
    assert said.err.endswith("\n")
    assert len(said.err.splitlines()) == 1
    assert "Traceback" not in said.err
    for words in wanted:
        assert words in said.err
    assert {path: path.read_bytes() if path.is_file() else None for path in tmp_path.rglob("*")} == before
    return said.err


@pytest.mark.parametrize("what", BAD_DRAWINGS)
def test_drawings_that_cannot_be_used(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content, wanted = BAD_DRAWINGS[what]
    path = tmp_path / "bean patch.svg"
    if content is not None:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    arguments = [str(path), "--width", "1/4 in", "--out", str(tmp_path / "new" / "sheets")]
    check_refused(arguments, ["bean patch.svg", *wanted], tmp_path, capsys)


def test_a_folder_is_no_drawing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [str(tmp_path), "--out", str(tmp_path / "out")]
    check_refused(arguments, [str(tmp_path), "it is a folder"], tmp_path, capsys)


BAD_OPTIONS: dict[str, tuple[list[str], list[str]]] = {
    "width of 0": (["--width", "0"], ["0"]),
    "width of 0 in": (["--width", "0 in"], ["the finished width", "0"]),
    "width of 0 mm": (["--width=0 mm"], ["the finished width", "0"]),
    "negative width": (["--width=-1/4 in"], ["-1/4 in"]),
    "unknown unit": (["--width", "2 barleycorns"], ["2 barleycorns", "unknown unit", "barleycorns"]),
    "no unit": (["--width", "1/4"], ["1/4", "no unit"]),
    "not a length": (["--width", "thin"], ["thin"]),
    "empty width": (["--width", ""], ["length"]),
    "wider than long": (["--width", "9 ft"], ["peas.svg", "pea-vine", "2743.2 mm"]),
    "two lines": (["--width", "1\n2 in"], ["1\\n2 in"]),
    "stretch below 0": (["--cloth-stretch=-0.1"], ["stretch", "-0.1"]),
    "stretch out of range": (["--cloth-stretch", "0.7"], ["stretch", "0.7"]),
    "stretch NaN": (["--cloth-stretch", "nan"], ["stretch", "nan"]),
    "ease out of range": (["--cloth-ease", "1"], ["ease", "1"]),
    "stretch in words": (["--cloth-stretch", "much"], ["--cloth-stretch", "much"]),
    "off bias": (["--off-bias", "46"], ["off_bias", "46"]),
    "off bias NaN": (["--off-bias", "nan"], ["off_bias", "nan"]),
    "unknown making": (["--making", "glue"], ["'glue'", "folded-strip"]),
    "unknown units": (["--units", "cm"], ["--units", "'cm'"]),
    "tuck": (["--tuck", "some"], ["some"]),
    "end allowance": (["--end-allowance", "1/0 in"], ["1/0 in"]),
    "block of no size": (["--block-size", "0 in"], ["block_size", "more than 0"]),
    "scale of 0": (["--scale", "0"], ["scale", "0"]),
    "scale of infinity": (["--scale", "inf"], ["scale", "inf"]),
    "unknown option": (["--colour", "red"], ["--colour"]),
    "unknown option on two lines": (["--col\nour"], ["--col our"]),
    "abbreviated option": (["--cloth-str", "0.1"], ["--cloth-str"]),
    "a second drawing": (["other.svg"], ["other.svg"]),
    "an option without its value": (["--tuck"], ["--tuck", "expected one argument"]),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD_OPTIONS)
def test_options_that_cannot_be_used(what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options, wanted = BAD_OPTIONS[what]
    (tmp_path / "peas.svg").write_text(drawing(PEAS))
    check_refused(
        [str(tmp_path / "peas.svg"), "--out", str(tmp_path / "new"), *options], wanted, tmp_path, capsys
    )


def test_drawing_and_folder_are_needed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    check_refused([WREATH], ["--out", "required"], tmp_path, capsys)
    check_refused([], ["DRAWING", "--out"], tmp_path, capsys)
    check_refused(["", "--out", str(tmp_path / "new")], ["drawing"], tmp_path, capsys)


def test_folders_that_cannot_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "pea.svg").write_text(drawing())
    pea = str(tmp_path / "pea.svg")
    (tmp_path / "file").write_text("in the way")
    (tmp_path / "taken" / "pattern.csv").mkdir(parents=True)
    for out in ("file", "file/inside", "taken", "new/" + "x" * 300, "nul\0l"):
        path = tmp_path / out
        error = check_refused([pea, "--out", str(path)], ["cannot be written"], tmp_path, capsys)
        assert str(path) in error
    check_refused([pea, "--out", ""], ["the name of the folder for the sheets is empty"], tmp_path, capsys)


def test_no_permission_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a folder that refuses, whoever runs the tests: an administrator may write anywhere."""

    def refuse(path: Path, *args: Any, **kwargs: Any) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    out = tmp_path / "locked"
    with monkeypatch.context() as patched:
        patched.setattr(Path, "mkdir", refuse)
        check_refused([SPRAY, "--out", str(out)], [str(out), "Permission denied"], tmp_path, capsys)


def test_the_drawing_is_never_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Someone may well call a drawing pattern.svg and want the sheets beside it."""
    (tmp_path / "pattern.svg").write_text(drawing())
    monkeypatch.chdir(tmp_path)
    wanted = ["pattern.svg", "would replace the drawing", "--out"]
    check_refused(["pattern.svg", "--out", "."], wanted, tmp_path, capsys)
    check_refused([str(tmp_path / "pattern.svg"), "--out", str(tmp_path / ".")], wanted, tmp_path, capsys)
    (tmp_path / "other.svg").write_text(drawing())
    assert main(["other.svg", "--out", "sheets"]) == 0
    assert main(["pattern.svg", "--out", "sheets"]) == 0


# --- help


def help_text(capsys: pytest.CaptureFixture[str]) -> str:
    with pytest.raises(SystemExit) as ending:
        main(["--help"])
    assert ending.value.code == 0
    return capsys.readouterr().out


def test_help_shows_an_example_that_works(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = help_text(capsys)
    [line] = [
        line.strip() for line in said.splitlines() if line.strip().startswith("python -m bias_drafting ")
    ]
    python, *arguments = shlex.split(line)
    assert python == "python"
    (tmp_path / "samples").mkdir()
    (tmp_path / "samples" / "bean-wreath.svg").write_bytes(Path(WREATH).read_bytes())
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=tmp_path,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=False,
    )
    # As the help says: one tendril is too tight, so the exit code is 1; the three sheets are in the folder.
    assert "so the exit code is 1" in said
    assert (done.returncode, done.stderr) == (1, "")
    folder = arguments[arguments.index("--out") + 1]
    assert {path.name for path in (tmp_path / folder).iterdir()} == SHEETS
    assert done.stdout.startswith("bean-wreath.svg: ")
    assert "1 stem is too tight:\n  tendril-1: " in done.stdout


def test_help_names_every_option_default_and_exit_code(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "300")  # no option is broken over lines
    said = " ".join(help_text(capsys).split())
    cloth = bd.Cloth()
    for words in (
        "--out FOLDER", "--width", "--making", "folded-strip, sewn-tube, rolled-strip or turned-template",
        "--units {in,mm}", "--off-bias DEGREES", "--tuck", "--end-allowance", "--scale FACTOR",
        "--block-size LENGTH", "--version",
        f"stretches on the bias ({cloth.stretch})", f"shortened flat ({cloth.ease})", "(1/4 in)",
        "0 every stem goes round its bends", "1 at least one stem is too tight", "2 bad input",
    ):  # fmt: skip
        assert words in said


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ending:
        main(["--version"])
    assert ending.value.code == 0
    assert capsys.readouterr().out == f"bias_drafting {bd.__version__}\n"


# --- as a process


def test_bad_input_as_a_process(tmp_path: Path) -> None:
    done = program(str(tmp_path / "none.svg"), "--out", str(tmp_path / "out"))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"bias_drafting: {tmp_path / 'none.svg'}: there is no such file\n"
    assert names(tmp_path) == set()


@pytest.mark.skipif(os.name != "posix", reason="pipes are closed so on POSIX")
def test_output_that_nobody_reads_to_the_end(tmp_path: Path) -> None:
    """A pager that is closed early is no failure, and hides none: the code is still that of the pattern."""
    read, write = os.pipe()
    os.close(read)
    try:
        done = program(WREATH, "--out", str(tmp_path / "a"), stdout=write)
    finally:
        os.close(write)
    assert (done.returncode, done.stderr) == (1, "")
    assert names(tmp_path / "a") == SHEETS


@pytest.mark.skipif(os.name != "posix", reason="a shell of POSIX closes the output")
def test_no_output_at_all(tmp_path: Path) -> None:
    command = shlex.join([sys.executable, "-m", "bias_drafting", WREATH, "--out", str(tmp_path / "a")])
    done = subprocess.run(
        ["sh", "-c", f"exec {command} >&-"], env=ENVIRONMENT, stderr=subprocess.PIPE, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (1, "")
    assert names(tmp_path / "a") == SHEETS


def test_a_terminal_that_cannot_show_a_name(tmp_path: Path) -> None:
    path = tmp_path / "böhnchen.svg"
    path.write_text(drawing(VINE.replace("vine", "豆-vine")), encoding="utf-8")
    ascii_only = {**ENVIRONMENT, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = program(str(path), "--out", str(tmp_path / "out"), env=ascii_only)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("b?hnchen.svg: ")
    assert "?-vine" in done.stdout


# --- how long it takes: that the benchmark runs, never how fast


def benchmark() -> ModuleType:
    path = ROOT / "tests" / "benchmarks" / "main_job.py"
    spec = importlib.util.spec_from_file_location("main_job", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["main_job"] = module
    spec.loader.exec_module(module)
    return module


def test_benchmark_runs_once(capsys: pytest.CaptureFixture[str]) -> None:
    main_job = benchmark()
    assert main_job.main(["--smoke"]) == 0
    said = capsys.readouterr().out
    assert "main job on bean-wreath.svg: " in said
    assert "(medians of 1)" in said


def test_benchmark_compares_medians() -> None:
    times = benchmark().Times((1.0, 9.0, 3.0), (1.0, 1.5, 2.0))
    assert times.ratio == 2
    assert str(times).endswith("ratio: 2.00 (medians of 3)")
