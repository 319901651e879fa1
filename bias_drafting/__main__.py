"""The command: read a drawing, check and draft every stem, write the sheets, print the table."""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import bias_drafting as bd
from bias_drafting.errors import DraftingError, SheetError

if TYPE_CHECKING:
    from collections.abc import Sequence

_EXAMPLE = """\
example:
  python -m bias_drafting samples/bean-wreath.svg --width "1/4 in" --out bean-wreath-sheets

  reads the drawing at true size, prints a table of its stems, and writes to the folder
  bean-wreath-sheets: pattern.svg (true size), pattern.csv and pattern.json.
  One tendril of this sample is too tight for a stem 1/4 in wide, so the exit code is 1.

exit code:
  0  every stem goes round its bends
  1  at least one stem is too tight; the sheets are written and say which
  2  bad input: one line says what is wrong, and nothing is written
"""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command in one line, like any other bad input."""
        self.exit(2, f"{_one_line(message)}; see --help\n")


def _one_line(message: object) -> str:
    return f"bias_drafting: {' '.join(str(message).split())}"


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="python -m bias_drafting",
        description="From a drawing of curved stems to a checked, true-size pattern cut on the bias.",
        epilog=_EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    add = parser.add_argument
    add("drawing", metavar="DRAWING", help="the drawing: an SVG file")
    add("--out", required=True, metavar="FOLDER", help="folder for the sheets; made if it is not there")
    add(
        "--width",
        default="1/4 in",
        help='finished width of the stems, such as "1/4 in" or "6 mm" (%(default)s)',
    )
    add(
        "--making",
        default="folded-strip",
        help="folded-strip, sewn-tube, rolled-strip or turned-template (%(default)s)",
    )
    add(
        "--units",
        choices=("in", "mm"),
        default="in",
        help="what the table and the sheet are written in (%(default)s)",
    )
    _add_cloth(parser)
    add("--tuck", default="1/4 in", help="how far a covered end reaches under (%(default)s)")
    add("--end-allowance", default="1/4 in", help="what a free end takes to be turned under (%(default)s)")
    add("--scale", type=float, default=None, metavar="FACTOR", help="multiplies the size that is read")
    add(
        "--block-size",
        default=None,
        metavar="LENGTH",
        help='how large the frame is in truth, such as "12 in"; the drawing is scaled to it',
    )
    add("--version", action="version", version=f"bias_drafting {bd.__version__}")
    return parser


def _add_cloth(parser: argparse.ArgumentParser) -> None:
    """Add the options for the cloth and how it is cut."""
    cloth = bd.Cloth()
    add = parser.add_argument
    add(
        "--cloth-stretch",
        type=float,
        default=cloth.stretch,
        metavar="SHARE",
        help="how far the cloth stretches on the bias (%(default)s)",
    )
    add(
        "--cloth-ease",
        type=float,
        default=cloth.ease,
        metavar="SHARE",
        help="how far it eases, shortened flat (%(default)s)",
    )
    add(
        "--off-bias",
        type=float,
        default=0.0,
        metavar="DEGREES",
        help="how far off the true bias strips are cut (%(default)s)",
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code: 0 all pass, 1 a stem is too tight, 2 bad input."""
    options = _parser().parse_args(arguments)
    try:
        _check_out(options.drawing, options.out)
        cloth = bd.Cloth(bd.Cloth().name, options.cloth_stretch, options.cloth_ease)
        drawing = bd.read_drawing(options.drawing, scale=options.scale, block_size=options.block_size)
        pattern = bd.draft_pattern(
            drawing,
            width=options.width,
            making=options.making,
            cloth=cloth,
            tuck=options.tuck,
            end_allowance=options.end_allowance,
            off_bias=options.off_bias,
        )
        table = pattern.table(options.units)
        written = bd.write_sheets(pattern, options.out, unit=options.units)
    except DraftingError as error:
        print(_one_line(error), file=sys.stderr)
        return 2
    _print(f"{table}\n\nWritten: {', '.join(map(str, written))}")
    return 0 if pattern.passes else 1


def _print(words: str) -> None:
    """Print, and let neither a pager that is closed nor a full disk make a failure of sheets that are written."""
    try:
        print(words, flush=True)
    except OSError as error:
        # Nothing more can be said there; what is left in the buffer must not be tried again at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            message = f"the sheets are written, but the table cannot be printed ({error.strerror})"
            print(_one_line(message), file=sys.stderr)


def _check_out(drawing: str, folder: str) -> None:
    """Refuse to write the sheet over the very drawing it is made from."""
    sheet = Path(folder) / "pattern.svg"
    same = False
    with contextlib.suppress(
        OSError, ValueError
    ):  # what is not there, or cannot be, is told where it is read
        same = sheet.samefile(drawing)
    if same:
        msg = f"{sheet}: the sheet would replace the drawing; give another folder as --out"
        raise SheetError(msg)


def run() -> None:
    """Run the command as a program."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # not every terminal can show every name
    sys.exit(main())


if __name__ == "__main__":
    run()
