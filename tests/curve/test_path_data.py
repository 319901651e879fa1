"""The grammar of path data (SVG 2, section 9.3), and the curves against svgpathtools read whole."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svgpathtools import parse_path

from bias_drafting.curve import bezier
from bias_drafting.curve.path_data import PathData, read_path_data


def knots(d: str) -> list[list[list[float]]]:
    """Return the start and the ends of the cubics of each subpath."""
    data = read_path_data(d)
    assert data.error is None
    return [[s.controls[0, 0].tolist(), *s.controls[:, 3].tolist()] for s in data.subpaths]


@pytest.mark.parametrize(
    ("d", "expected"),
    [
        ("M 100-200 0 0", [[[100, -200], [0, 0]]]),
        ("M 0.6.5 1 1", [[[0.6, 0.5], [1, 1]]]),
        ("M1e2-2E-1 1 1", [[[100, -0.2], [1, 1]]]),
        ("M+1+2l+3-4", [[[1, 2], [4, -2]]]),
        ("M.5.5.25.25", [[[0.5, 0.5], [0.25, 0.25]]]),
        ("M1,2 3 , 4\n\t5\r\f6", [[[1, 2], [3, 4], [5, 6]]]),
        ("m1 2 3 4 5 6", [[[1, 2], [4, 6], [9, 12]]]),
        ("  M0 0H1V2h3v4 ", [[[0, 0], [1, 0], [1, 2], [4, 2], [4, 6]]]),
        ("M0 0H1 2 3", [[[0, 0], [1, 0], [2, 0], [3, 0]]]),
        ("M0,0 H1 M1,0 V1", [[[0, 0], [1, 0]], [[1, 0], [1, 1]]]),
        ("M5 5l1 0m1 1l1 0", [[[5, 5], [6, 5]], [[7, 6], [8, 6]]]),
        # After Z the next subpath starts where the last one did.
        ("M5 5h1v1zl0 3", [[[5, 5], [6, 5], [6, 6], [5, 5]], [[5, 5], [5, 8]]]),
        ("M5 5h1v1zm1 0h9", [[[5, 5], [6, 5], [6, 6], [5, 5]], [[6, 5], [15, 5]]]),
        ("M0 0A5 5 0 0 1 0 0h1", [[[0, 0], [1, 0]]]),
        ("M0 0A0 5 0 0 1 7 0", [[[0, 0], [7, 0]]]),
        ("", []),
        (" \n ", []),
        ("M3 4", []),
    ],
)
def test_grammar(d: str, expected: list[list[list[float]]]) -> None:
    assert knots(d) == expected


def test_packed_flags_are_single_characters() -> None:
    packed = read_path_data("M0 0a5 3 20 0110 2a5 3 20 10-4.5.5")
    spaced = read_path_data("M0 0 a 5,3 20 0 1 10,2 a 5,3 20 1 0 -4.5 0.5")
    assert packed.error is spaced.error is None
    np.testing.assert_array_equal(packed.subpaths[0].controls, spaced.subpaths[0].controls)


def test_negative_radii_count_as_positive() -> None:
    one, other = read_path_data("M0 0A-5-3 20 0 1 4 2"), read_path_data("M0 0A5 3 20 0 1 4 2")
    np.testing.assert_array_equal(one.subpaths[0].controls, other.subpaths[0].controls)


@pytest.mark.parametrize(
    ("d", "drawn_to", "error"),
    [
        ("M 10,10 L 20,20,30", (20, 20), "the data end where a number is wanted at character 19"),
        ("M0 0 23. 5", None, "a number is wanted, not '. 5', at character 8"),
        ("M0 0 L1 1,,2 2", (1, 1), "a number is wanted, not ',2 2', at character 11"),
        ("M0 0 L1 1,", (1, 1), "the data end where a number is wanted at character 11"),
        ("M,0 0", None, "a number is wanted, not ',0 0', at character 2"),
        ("M0 0 H1 z, H2", (0, 0), "a command or a number is wanted, not ', H2', at character 10"),
        ("M0 0 H1 z 2 3", (0, 0), "a command or a number is wanted, not '2 3', at character 11"),
        ("L1 1", None, "path data begin with M or m, not 'L', at character 1"),
        ("10 10", None, "a command or a number is wanted, not '10 10', at character 1"),
        ("M0 0 H1 B2", (1, 0), "a command or a number is wanted, not 'B2', at character 9"),
        ("M0 0 H1 L1e", (1, 0), "a number is wanted, not 'e', at character 11"),
        ("M0 0 A5 5 0 2 1 9 9", None, "a flag, 0 or 1, is wanted, not '2 1 9 9', at character 13"),
        ("M0 0 A5 5 0 0.5 1 9 9", None, "a flag, 0 or 1, is wanted, not '.5 1 9 9', at character 14"),
        ("M0 0 H1 C1 2 3 4 5", (1, 0), "the data end where a number is wanted at character 19"),
        ("M0 0 H1 L٣ 4", (1, 0), "a number is wanted, not '٣ 4', at character 10"),
    ],
)
def test_broken_data_are_drawn_up_to_the_last_good_segment(
    d: str, drawn_to: tuple[float, float] | None, error: str
) -> None:
    """SVG 2, section 9.5.4: the path is drawn up to, not including, the segment with the error."""
    data = read_path_data(d)
    assert data.error == error
    assert not data.not_finite
    ends = [tuple(s.controls[-1, 3]) for s in data.subpaths]
    assert ends == ([] if drawn_to is None else [drawn_to])


@pytest.mark.parametrize(
    ("d", "at"),
    [
        ("M0 0 L nan 5", 8),
        ("M0 0 L 5,-Infinity", 10),
        ("M0 0 NaN 3", 6),
        ("M0 0 L 5 inf", 10),
        ("M0 0 L 1e400 3", 8),
        ("M0 0 h1e308 h1e308 L x", 13),
        ("M1e308 0 m1e308 0 h1", 10),
        ("M-1e308 0 L0 1 1e308 0 z", 24),
        ("M0 0 A1e308 1e-3 30 1 1 10 0", 6),
        ("M0 0 a5 5 0 0 1 1e308 0 5 5 0 0 1 1e308 0", 25),
        ("M1e308 0 C0 0 -1e308 0 1e308 0 S 0 0 1 1", 32),
    ],
)
def test_numbers_that_are_not_finite(d: str, at: int) -> None:
    data = read_path_data(d)
    assert data.not_finite
    assert data.error is not None
    assert data.error.endswith(f"not a finite number, at character {at}")
    assert all(np.isfinite(s.controls).all() for s in data.subpaths)


def test_closing() -> None:
    added = read_path_data("M0 0H4V3Z").subpaths[0]
    assert added.closed
    np.testing.assert_allclose(added.controls[-1], np.array([[4, 3], [8 / 3, 2], [4 / 3, 1], [0, 0]]))
    back_already = read_path_data("M0 0H4V3L0 0Z").subpaths[0]
    assert back_already.closed
    assert len(back_already.controls) == 3
    assert not read_path_data("M0 0H4V3L0 0").subpaths[0].closed


def test_rounding_noise_is_no_closing_segment() -> None:
    """0.1 + 0.2 - 0.2 is 2.8e-17 off 0.1: a closing line that short has no direction."""
    square = read_path_data("m.1.1l.2 0 0 .2-.2 0 0-.2z").subpaths[0]
    assert len(square.controls) == 4
    assert square.controls[-1, 3].tolist() == square.controls[0, 0].tolist() == [0.1, 0.1]


@pytest.mark.parametrize(
    ("d", "count", "drawn"),
    [
        ("M5 5", 0, 0),
        ("M5 5z", 1, 0),
        ("M5 5l0 0", 1, 0),
        ("M1 1M2 2h1", 0, 1),
        ("M1 1h1zM7 7", 0, 1),
        ("M1 1h1zz", 1, 1),
        ("M1 1h1", 0, 1),
    ],
)
def test_subpaths_without_length_are_counted(d: str, count: int, drawn: int) -> None:
    data = read_path_data(d)
    assert (data.without_length, len(data.subpaths)) == (count, drawn)


def test_smooth_commands_reflect_only_their_own_kind() -> None:
    """SVG 2, section 9.3.6: S after anything but C or S takes the current point as its first handle."""
    after_cubic = read_path_data("M0 0C0 1 2 3 4 3S8 0 8 4").subpaths[0].controls
    np.testing.assert_allclose(after_cubic[1, 1], [6, 3])
    for before in ("L4 3", "Q1 1 4 3", "A5 5 0 0 1 4 3"):
        controls = read_path_data(f"M0 0{before}S8 0 8 4").subpaths[0].controls
        np.testing.assert_allclose(controls[-1, 1], [4, 3])
    after_arc = read_path_data("M0 0A5 5 0 0 1 4 3T8 4").subpaths[0].controls
    np.testing.assert_allclose(after_arc[-1, 1:3], np.array([[4, 3], [4 + 4 / 3, 3 + 1 / 3]]))


def test_results_cannot_be_changed() -> None:
    data = read_path_data("M0 0H4V3Z")
    with pytest.raises(ValueError, match="read-only"):
        data.subpaths[0].controls[0, 0, 0] = 1
    with pytest.raises(AttributeError):
        data.error = "none"  # type: ignore[misc]


number = st.floats(-1e4, 1e4).map(repr) | st.integers(-999, 999).map(str)
step = st.one_of(
    st.builds(
        lambda c, n: c + " ".join(n), st.sampled_from("LlTt"), st.lists(number, min_size=2, max_size=2)
    ),
    st.builds(
        lambda c, n: c + ",".join(n), st.sampled_from("HhVv"), st.lists(number, min_size=1, max_size=4)
    ),
    st.builds(
        lambda c, n: c + " ".join(n), st.sampled_from("SsQq"), st.lists(number, min_size=4, max_size=4)
    ),
    st.builds(
        lambda c, n: c + " ".join(n), st.sampled_from("Cc"), st.lists(number, min_size=12, max_size=12)
    ),
)


@given(st.tuples(number, number), st.lists(step, min_size=1, max_size=12))
def test_every_segment_against_svgpathtools(start: tuple[str, str], steps: list[str]) -> None:
    d = "M" + " ".join(start) + "".join(steps)
    data = read_path_data(d)
    assert data.error is None
    theirs = [s for s in parse_path(d) if len(set(s.bpoints())) > 1]
    ours = np.concatenate([np.empty((0, 4, 2)), *(s.controls for s in data.subpaths)])
    assert len(ours) == len(theirs)
    size = max(1.0, np.abs(ours).max(initial=0))
    for t in (0.0, 0.3, 0.5, 1.0):
        points = bezier.evaluate(ours, np.full(len(ours), t))
        expected = np.array([s.point(t) for s in theirs], dtype=complex)
        assert np.abs(points[:, 0] + 1j * points[:, 1] - expected).max(initial=0) < 1e-13 * size


@given(st.text(alphabet="MmZzLlHhCcSsQqTtAa0123456789.,-+eE \n#naif", max_size=60))
def test_any_text_is_read_without_an_error_of_python(text: str) -> None:
    data = read_path_data("M0 0" + text)
    assert isinstance(data, PathData)
    for subpath in data.subpaths:
        assert np.isfinite(subpath.controls).all()
        np.testing.assert_array_equal(subpath.controls[:-1, 3], subpath.controls[1:, 0])
        if subpath.closed:
            np.testing.assert_array_equal(subpath.controls[-1, 3], subpath.controls[0, 0])


@pytest.mark.parametrize("unit", ["c1 2 3 4 5 6", "-", "1" * 50, " ", "a5 3 0 1 0 1 1", ",", "z"])
def test_the_work_grows_with_the_length(unit: str) -> None:
    def seconds(repeats: int) -> float:
        start = time.perf_counter()
        read_path_data("M0 0L1 1" + unit * repeats)
        return time.perf_counter() - start

    seconds(1)
    small = min(seconds(400) for _ in range(3))
    large = min(seconds(4000) for _ in range(2))
    assert large < 40 * small + 0.05  # ten times the text; a square law would take a hundred times


def test_huge_radius_does_not_stop_the_rest() -> None:
    data = read_path_data("M0 0A1e300 1e300 0 0 1 10 0H20")
    assert data.error is None
    assert data.subpaths[0].controls[-1, 3].tolist() == [20, 0]
    assert math.isclose(data.subpaths[0].controls[0, 3, 0], 10)
