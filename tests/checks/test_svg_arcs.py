"""Elliptical arcs against SVG 2: the implementation notes on arcs (implnote.html), the figures of paths.html.

The lengths of the figures are those of the ellipses they name, recomputed here from the standard's own
equations 5.1 to 6.3 at 40 digits (mpmath): a route that shares nothing with the conversion to cubics.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bias_drafting.curve import bezier
from bias_drafting.curve.curve import Curve
from bias_drafting.curve.ellipses import ellipse, ellipse_arc
from bias_drafting.curve.path_data import read_path_data

if TYPE_CHECKING:
    from numpy.typing import NDArray

mp = mpmath.MPContext()
mp.dps = 40


class Centred:
    """An arc by its centre: SVG 2, implementation notes, equations 5.1 to 5.6 and 6.1 to 6.3."""

    def __init__(
        self, start: Any, rx: float, ry: float, phi: float, large: bool, sweep: bool, end: Any
    ) -> None:
        (x1, y1), (x2, y2) = (tuple(map(mp.mpf, p)) for p in (start, end))
        rx, ry, phi = abs(mp.mpf(rx)), abs(mp.mpf(ry)), mp.radians(mp.mpf(phi))
        c, s = mp.cos(phi), mp.sin(phi)
        self.x1p = c * (x1 - x2) / 2 + s * (y1 - y2) / 2
        self.y1p = -s * (x1 - x2) / 2 + c * (y1 - y2) / 2
        self.capital_lambda = (self.x1p / rx) ** 2 + (self.y1p / ry) ** 2
        if self.capital_lambda > 1:
            rx, ry = rx * mp.sqrt(self.capital_lambda), ry * mp.sqrt(self.capital_lambda)
        top = rx**2 * ry**2 - rx**2 * self.y1p**2 - ry**2 * self.x1p**2
        root = mp.sqrt(max(top, mp.mpf(0)) / (rx**2 * self.y1p**2 + ry**2 * self.x1p**2))
        if self.capital_lambda > 1:
            root = mp.mpf(0)
        root = root if large != sweep else -root
        cxp, cyp = root * rx * self.y1p / ry, -root * ry * self.x1p / rx
        self.rx, self.ry, self.phi = rx, ry, phi
        self.cx = c * cxp - s * cyp + (x1 + x2) / 2
        self.cy = s * cxp + c * cyp + (y1 + y2) / 2
        self.theta = mp.atan2((self.y1p - cyp) / ry, (self.x1p - cxp) / rx)
        last = mp.atan2((-self.y1p - cyp) / ry, (-self.x1p - cxp) / rx)
        self.delta = last - self.theta
        if sweep and self.delta < 0:
            self.delta += 2 * mp.pi
        if not sweep and self.delta > 0:
            self.delta -= 2 * mp.pi

    @property
    def length(self) -> float:
        def speed(t: Any) -> Any:
            return mp.hypot(self.rx * mp.sin(t), self.ry * mp.cos(t))

        steps = mp.linspace(self.theta, self.theta + self.delta, 9)
        return float(abs(mp.quad(speed, steps)))

    def points(self, angles: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the points at angles ``theta + angles``, to full float accuracy."""
        c, s = mp.cos(self.phi), mp.sin(self.phi)
        rows = []
        for angle in angles:
            t = self.theta + mp.mpf(float(angle))
            x, y = self.rx * mp.cos(t), self.ry * mp.sin(t)
            rows.append([float(c * x - s * y + self.cx), float(s * x + c * y + self.cy)])
        return np.array(rows)

    def angles_of(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where points lie: their angle from ``theta`` on, and their distance in radii."""
        z = (points[:, 0] - float(self.cx)) + 1j * (points[:, 1] - float(self.cy))
        z = z * np.exp(-1j * float(self.phi))
        w = (z.real / float(self.rx) + 1j * z.imag / float(self.ry)) * np.exp(-1j * float(self.theta))
        return np.unwrap(np.angle(w)), np.abs(w)


ARCS01 = (
    "M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 l 50,-25"
    " a25,75 -30 0,1 50,-25 l 50,-25 a25,100 -30 0,1 50,-25 l 50,-25"
)
# Start, radii, then by the standard's equations: Lambda, corrected radii, centre and length of the arc.
ARCS01_ROWS = [
    ((650, 325), 25, 25, 1.25, 27.9508497187, 27.9508497187, (675, 312.5), 87.8101841380),
    ((750, 275), 25, 50, 1.24663452642, 27.9131972195, 55.8263944389, (775, 262.5), 135.217782965),
    ((850, 225), 25, 75, 1.24601129057, 27.9062189593, 83.7186568780, (875, 212.5), 186.481818291),
    ((950, 175), 25, 100, 1.24579315802, 27.9037761560, 111.615104624, (975, 162.5), 239.370360986),
]


def test_figure_arcs01_radii_too_small() -> None:
    """SVG 2, figure arcs01.svg: every arc of the wave is given radii that cannot reach."""
    data = read_path_data(ARCS01)
    assert data.error is None
    (subpath,) = data.subpaths
    assert Curve(subpath.controls).length == pytest.approx(928.388643567, abs=2e-8)


@pytest.mark.parametrize(
    ("start", "rx", "ry", "capital_lambda", "rx2", "ry2", "centre", "length"), ARCS01_ROWS
)
def test_figure_arcs01_each_arc(
    start: tuple[float, float],
    rx: float,
    ry: float,
    capital_lambda: float,
    rx2: float,
    ry2: float,
    centre: tuple[float, float],
    length: float,
) -> None:
    end = (start[0] + 50, start[1] - 25)
    exact = Centred(start, rx, ry, -30, large=False, sweep=True, end=end)
    assert float(exact.capital_lambda) == pytest.approx(capital_lambda, rel=1e-11)
    assert [float(exact.rx), float(exact.ry)] == pytest.approx([rx2, ry2], rel=1e-11)
    assert [float(exact.cx), float(exact.cy)] == pytest.approx(centre, abs=1e-12)
    assert exact.length == pytest.approx(length, rel=1e-11)

    controls = ellipse_arc(start, rx, ry, -30, large_arc=False, sweep=True, end=end)
    assert Curve(controls).length == pytest.approx(length, rel=1e-10)
    angles, radii = exact.angles_of(controls[:, 0])
    assert np.ptp(np.append(angles, np.pi)) == pytest.approx(np.pi)
    assert radii == pytest.approx(1, abs=1e-13)


ARCS02_ROWS = [
    ("0,0", (225, 75), 180, -90, 121.105602756846),
    ("0,1", (125, 125), -90, 90, 121.105602756846),
    ("1,0", (125, 125), -90, -270, 363.316808270539),
    ("1,1", (225, 75), 180, 270, 363.316808270539),
]


@pytest.mark.parametrize(("flags", "centre", "theta", "delta", "length"), ARCS02_ROWS)
def test_figure_arcs02_four_arcs(
    flags: str, centre: tuple[float, float], theta: float, delta: float, length: float
) -> None:
    """SVG 2, figure arcs02.svg: the four arcs between two points."""
    controls = read_path_data(f"M125,75 a100,50 0 {flags} 100,50").subpaths[0].controls
    assert Curve(controls).length == pytest.approx(length, rel=1e-10)
    large, sweep = flags.split(",")
    exact = Centred((125, 75), 100, 50, 0, large == "1", sweep == "1", (225, 125))
    assert [float(exact.cx), float(exact.cy)] == pytest.approx(centre)
    assert float(mp.degrees(exact.theta)) % 360 == pytest.approx(theta % 360)
    assert float(mp.degrees(exact.delta)) == pytest.approx(delta)
    t = (controls[:, 0] - centre) / [100, 50]
    assert np.hypot(t[:, 0], t[:, 1]) == pytest.approx(1, abs=1e-14)
    turned = np.unwrap(np.angle(t[:, 0] + 1j * t[:, 1]))
    way = np.diff(turned)
    assert (np.sign(way) == np.sign(delta)).all()
    assert np.degrees(way.sum()) * len(controls) / (len(controls) - 1) == pytest.approx(delta)


@pytest.mark.parametrize(
    ("d", "length"),
    [
        ("M300,200 h-150 a150,150 0 1,0 150,-150 z", 300 + 225 * np.pi),
        ("M275,175 v-150 a150,150 0 0,0 -150,150 z", 300 + 75 * np.pi),
    ],
)
def test_figure_arcs01_pies(d: str, length: float) -> None:
    """SVG 2, figure arcs01.svg: three quarters of a circle, and the quarter taken out of it."""
    (subpath,) = read_path_data(d).subpaths
    assert subpath.closed
    assert Curve(subpath.controls, subpath.closed).length == pytest.approx(length, rel=1e-10)


def test_simplest_arc_with_a_radius_too_small() -> None:
    """SVG 2, equation 6.2: Lambda is 4, so the radius grows from 1 to 2, and the arc is half a circle."""
    controls = ellipse_arc((0, 0), 1, 1, 0, large_arc=False, sweep=True, end=(4, 0))
    assert Curve(controls).length == pytest.approx(2 * np.pi, rel=1e-10)
    assert np.hypot(controls[:, 0, 0] - 2, controls[:, 0, 1]) == pytest.approx(2, abs=1e-14)
    assert controls[:, 0, 1].min() == pytest.approx(-2, abs=1e-14)


coordinates = st.floats(-900, 900)
radii = st.floats(0.5, 900)


@given(
    start=st.tuples(coordinates, coordinates),
    end=st.tuples(coordinates, coordinates),
    rx=radii,
    ry=radii,
    phi=st.floats(-400, 400),
    large=st.booleans(),
    sweep=st.booleans(),
    a=st.floats(-2, 2),
    b=st.floats(-2, 2),
)
def test_any_arc_under_mirror_and_skew_against_dense_analytic_points(
    start: tuple[float, float],
    end: tuple[float, float],
    rx: float,
    ry: float,
    phi: float,
    large: bool,
    sweep: bool,
    a: float,
    b: float,
) -> None:
    """Cubics made first and mapped then lie within 1e-6 mm of the mapped ellipse, radii up to 900 mm."""
    if np.hypot(end[0] - start[0], end[1] - start[1]) < 0.01:
        return
    exact = Centred(start, rx, ry, phi, large, sweep, end)
    if abs(exact.capital_lambda - 1) < 1e-9:  # the diameter, or just not: which, the ends' rounding decides
        return
    controls = ellipse_arc(start, rx, ry, phi, large, sweep, end)
    assert tuple(controls[0, 0]) == start
    assert tuple(controls[-1, 3]) == end
    t = np.tile(np.linspace(0, 1, 9), len(controls))
    drawn = bezier.evaluate(np.repeat(controls, 9, axis=0), t)
    angles, _ = exact.angles_of(drawn)
    angles -= angles[0]
    assert (np.diff(angles) * (1 if sweep else -1) > -1e-9).all()
    assert angles[-1] == pytest.approx(float(exact.delta), abs=1e-7)

    mirror_and_skew = np.array([[-1.0, a], [b, 1.0]])
    radius = float(max(exact.rx, exact.ry))
    aim = 1e-6 * max(1.0, radius / 900) * 3  # the map lengthens by 3 at most
    some = slice(None, None, 7)
    far = (drawn[some] - exact.points(angles[some])) @ mirror_and_skew.T
    assert np.abs(far).max() < aim


@pytest.mark.parametrize("radius", [1.0, 12.7, 900.0])
def test_half_turns_are_half_turns_whatever_their_coordinates_round_to(radius: float) -> None:
    """Circles are mostly written as two half turns; the decimals of their ends are rarely exact floats."""
    for k in range(200):
        x = 0.1 * k + 37.3
        controls = ellipse_arc((x, 50.1), radius, radius, 0.0, False, True, (x + 2 * radius, 50.1))
        off = np.hypot(controls[:, 0, 0] - x - radius, controls[:, 0, 1] - 50.1) - radius
        assert np.abs(off).max() < 1e-11 * max(1.0, radius)


def test_nearly_straight_arc_of_a_huge_radius() -> None:
    """A chord of 100 mm on a radius of 1e9 mm rises by 1.25e-6 mm (c^2/8R); the centre's route loses this."""
    controls = ellipse_arc((0, 0), 1e9, 1e9, 0, large_arc=False, sweep=False, end=(100, 0))
    assert bezier.evaluate(controls, np.array([0.5]))[0] == pytest.approx([50, 1.25e-6], rel=1e-9)


def test_accuracy_of_a_circle_in_cubics() -> None:
    """The figures in the docstring: radius within 1.7e-11 and never inside, curvature within 4e-7."""
    controls = ellipse(0, 0, 1, 1)
    t = np.tile(np.linspace(0, 1, 101), len(controls))
    points = bezier.evaluate(np.repeat(controls, 101, axis=0), t)
    excess = np.hypot(points[:, 0], points[:, 1]) - 1
    assert excess.max() == pytest.approx(1.62e-11, rel=0.05)
    assert excess.min() > -1e-15
    curve = Curve(ellipse(0, 0, 50, 50), closed=True)
    bend = curve.curvature_at(np.linspace(0, curve.length, 5000))
    assert np.abs(50 * bend - 1).max() < 4e-7


def test_ellipse_perimeters() -> None:
    """DLMF 19.30.5 (from memory of the equation): the perimeter is 4 a E(1 - (b/a)^2)."""
    for a, b in [(2, 1), (3, 2), (5, 3), (10, 5)]:
        exact = float(4 * a * mp.ellipe(1 - mp.mpf(b) ** 2 / a**2))
        assert Curve(ellipse(1, -2, a, b), closed=True).length == pytest.approx(exact, rel=1e-10)
    tightest = Curve(ellipse(0, 0, 5, 3), closed=True).tightest()
    assert tightest.radius == pytest.approx(9 / 5, rel=1e-6)
