"""The README says what is so: its notebook lines run, and the table it quotes is the one that is printed."""

from __future__ import annotations

import doctest
import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import bias_drafting as bd

if TYPE_CHECKING:
    import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)


def test_the_notebook_lines_run_as_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(ROOT / "samples", tmp_path / "samples")
    monkeypatch.chdir(tmp_path)
    lines = "\n".join(blocks("pycon"))
    test = doctest.DocTestParser().get_doctest(lines, {}, "README", "README.md", 0)
    result = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test)
    assert result.attempted >= 8
    assert result.failed == 0
    assert {path.name for path in (tmp_path / "bean-wreath-sheets").iterdir()} == {
        "pattern.svg",
        "pattern.csv",
        "pattern.json",
    }


def test_the_quoted_table_is_the_printed_one() -> None:
    printed = bd.draft_pattern(bd.read_sample("bean-wreath"), "1/4 in").table().splitlines()
    (quoted,) = blocks("text")
    assert len(quoted.splitlines()) >= 3
    for line in quoted.splitlines():
        assert line in printed


def test_there_are_two_shell_commands_and_both_name_what_exists() -> None:
    commands = [line for block in blocks("sh") for line in block.splitlines()]
    assert len(commands) == 2
    assert "samples/bean-wreath.svg" in commands[0]
    assert (ROOT / "samples" / "bean-wreath.svg").is_file()
    assert "[test]" in commands[1]
    assert "pytest" in commands[1]


def test_the_picture_is_the_sheet_as_it_is_written_now(tmp_path: Path) -> None:
    pattern = bd.draft_pattern(bd.read_sample("bean-wreath"), "1/4 in")
    (path,) = bd.write_sheets(pattern, tmp_path, formats=["svg"])
    now = path.read_text(encoding="utf-8")
    shown = (ROOT / "samples" / "pictures" / "bean-wreath-pattern.svg").read_text(encoding="utf-8")
    # Another machine may round the last digit otherwise.
    number = re.compile(r"-?\d+(?:\.\d+)?")
    assert number.sub("#", now) == number.sub("#", shown)
    pairs = zip(number.findall(now), number.findall(shown), strict=True)
    assert max(abs(float(a) - float(b)) for a, b in pairs) <= 0.002
