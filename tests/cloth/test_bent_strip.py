"""What a bend asks of a strip: against the net's closed forms, quadrature, and a net of stiff threads relaxed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import least_squares

import bias_drafting as bd

CLOTH = bd.Cloth("quilting cotton", stretch=0.20, ease=0.08)


def relaxed(stretch: float, ease: float, rows: int = 41) -> tuple[np.ndarray, np.ndarray]:
    """Return rest distances and relaxed length ratios of the rows of crossings of a rhombic net bent round a ring.

    Stiff threads of unit length at 45 degrees to the strip; every other row is set off by half a pitch. Every column
    is the one before it, turned by a pitch; but for that all crossings are free, and one row is told to keep its
    length. They begin as if the strip kept its width. The ring is chosen so that the edges come near these limits.
    """
    rest = np.arange(rows) / math.sqrt(2)
    radius = net_radius(rest[-1], stretch, ease)
    kept = int(np.argmin(np.abs(rest - radius * (math.pi / 4 - math.asin((1 - ease) / math.sqrt(2))))))
    pitch = math.sqrt(2) / radius

    def misfit(unknown: np.ndarray) -> np.ndarray:
        z = unknown[:rows] + 1j * unknown[rows:]
        # From each crossing a thread runs to the one before it and to the one after it in the next row.
        set_off = np.arange(rows - 1) % 2
        forward, back = np.exp(1j * pitch * set_off), np.exp(1j * pitch * (set_off - 1))
        threads = [np.abs(z[1:] * turn - z[:-1]) - 1 for turn in (forward, back)]
        return np.concatenate([*threads, [abs(z[kept]) - radius, z[0].imag]])

    z = (radius + rest - rest[kept]) * np.exp(0.5j * pitch * (np.arange(rows) % 2))
    found = least_squares(misfit, np.concatenate([z.real, z.imag]), xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert np.abs(found.fun).max() < 1e-8  # no thread changes its length
    return rest - rest[kept], np.hypot(found.x[:rows], found.x[rows:]) / radius


def net_radius(width: float, stretch: float, ease: float) -> float:
    """The radius of the line that keeps its length, at these limits."""
    return width / (math.asin((1 + stretch) / math.sqrt(2)) - math.asin((1 - ease) / math.sqrt(2)))


@pytest.mark.parametrize(("stretch", "ease"), [(0.20, 0.08), (0.10, 0.05), (0.30, 0.15)])
def test_a_net_of_stiff_threads_bends_as_the_closed_form_says(stretch: float, ease: float) -> None:
    t, ratio = relaxed(stretch, ease)
    width = t[-1] - t[0]
    radius = net_radius(width, stretch, ease)
    assert ratio == pytest.approx(np.cos(t / radius) + np.sin(t / radius), rel=0.01)
    # A strip that kept its width would lie elsewhere, by much more.
    off = np.abs(ratio - (np.cos(t / radius) + np.sin(t / radius))).max()
    assert np.abs(ratio - (1 + t / radius)).max() > 5 * off
    # And the strip is as narrow as the library says.
    inner, outer = radius * ratio[0], radius * ratio[-1]
    lain = bd.Cloth("net", stretch=ratio[-1] - 1, ease=1 - ratio[0]).bent(outer - inner, (outer + inner) / 2)
    assert lain.pressed_width == pytest.approx(width, rel=0.01)


def test_the_worked_figures() -> None:
    # Published with the design: at the limit R0 is 3.2797 pressed widths, and the strip is 0.918 of them wide.
    at_limit = CLOTH.bent(1.0, CLOTH.least_radius(1.0))
    assert at_limit.share == pytest.approx(1, abs=1e-12)
    assert (at_limit.stretched, at_limit.eased) == pytest.approx((0.20, 0.08))
    assert at_limit.narrowed == pytest.approx(0.918, abs=5e-4)
    kept_radius = CLOTH.least_radius(1.0) - 0.5 + at_limit.kept
    assert kept_radius / at_limit.pressed_width == pytest.approx(3.2797, abs=5e-5)


@given(st.floats(0.02, 0.4), st.floats(0.02, 0.4), st.floats(-40, 40), st.floats(0.05, 1), st.floats(0.5, 50))
def test_edges_shares_and_widths(stretch: float, ease: float, off: float, share: float, width: float) -> None:
    cloth = bd.Cloth("any", stretch=stretch, ease=ease)
    radius = cloth.least_radius(width, off, share)
    bent = cloth.bent(width, radius, off)
    assert bent.share == pytest.approx(share, rel=1e-9)
    assert (bent.stretched, bent.eased) == pytest.approx([share * limit for limit in cloth.limits(off)])
    # The line that keeps its length lies where the lengths say.
    kept = radius - width / 2 + bent.kept
    assert (radius + width / 2) / kept - 1 == pytest.approx(bent.stretched)
    assert 1 - (radius - width / 2) / kept == pytest.approx(bent.eased)
    # The pressed width by quadrature over the shear of the net.
    sine = math.cos(2 * math.radians(off))

    def across(r: float) -> float:
        q = r / kept
        return q / math.sqrt(max(1 - ((q * q - 1) / sine) ** 2, 1e-300))

    before, _ = quad(across, radius - width / 2, radius + width / 2)
    assert bent.pressed_width == pytest.approx(before, rel=1e-5)
    # Where it is eased more than stretched it grows wider.
    assert bent.narrowed <= 1 or ease > stretch


def test_a_gentle_bend_narrows_with_the_square_of_the_strain() -> None:
    """From the series of the closed form: t^2 / 2 R0 on either side cancels to second order but for the kept line."""
    even = bd.Cloth("even", stretch=0.1, ease=0.1)
    bent = [even.bent(1.0, radius) for radius in (50.0, 100.0)]
    assert (1 - bent[0].narrowed) / (1 - bent[1].narrowed) == pytest.approx(4, rel=0.05)
    assert bent[0].kept == pytest.approx(0.5, abs=1e-9)


def test_straight_tight_and_along_the_threads() -> None:
    straight = CLOTH.bent("1/4 in", math.inf)
    assert (straight.share, straight.stretched, straight.eased, straight.narrowed) == (0, 0, 0, 1)
    assert straight.kept == 3.175
    too_tight = CLOTH.bent(6, 12)
    assert too_tight.share > 1
    assert not too_tight.passes
    assert math.isnan(too_tight.pressed_width)
    assert CLOTH.bent(6, 600).passes
    along = CLOTH.bent(6, 60, off_bias=45)
    assert along.share == math.inf
    assert not along.passes
    with pytest.raises(bd.ClothError, match=r"6 mm wide has no inner edge on a radius of 2\.9 mm"):
        CLOTH.bent(6, 2.9)
