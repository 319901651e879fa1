"""The pin-jointed net of threads, checked by routes that do not use the library's formulas.

Sources
-------
- Bias extension test, angle from displacement and the worked specimen of 70 x 210 mm: Aridhi et al.,
  Composites Part B 166 (2019) 773-784, equation 21 and section 5.1 (at second hand).
- The tables of bias identities are derived from the geometry of one rhombus of rigid threads, the model of
  K. Weissenberg, J. Textile Inst. 40 (1949) T89, and C. Mack and H. M. Taylor, J. Textile Inst. 47 (1956)
  T477 (both from memory). Each row is worked out again here, to 30 digits, from that rhombus.
- The bent net is built here rod by rod, and solved off the bias from its first fundamental form.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import mpmath
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from bias_drafting.cloth.cloth import Cloth
from bias_drafting.errors import ClothError
from bias_drafting.units import to_mm

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray


@pytest.fixture(autouse=True)
def _thirty_digits() -> Iterator[None]:
    with mpmath.workdps(30):
        yield


def rhombus(stretch: mpmath.mpf) -> tuple[mpmath.mpf, mpmath.mpf, mpmath.mpf]:
    """Shear in degrees, width factor and area factor of one mesh of unit threads whose long diagonal grew."""
    long = mpmath.sqrt(2) * (1 + stretch)
    short = mpmath.sqrt(4 - long**2)  # the diagonals of a rhombus of side 1 halve each other at right angles
    shear = 90 - mpmath.degrees(2 * mpmath.acos(long / 2))
    return shear, short / mpmath.sqrt(2), long * short / 2


def diagonals(shear: mpmath.mpf) -> tuple[mpmath.mpf, mpmath.mpf]:
    """Lengthwise stretch of the long and shortening of the short diagonal at a shear in degrees."""
    half = mpmath.radians(90 - shear) / 2
    return mpmath.sqrt(2) * mpmath.cos(half) - 1, 1 - mpmath.sqrt(2) * mpmath.sin(half)


# --- bias extension: displacement to shear ------------------------------------------------------------------


def test_the_published_bias_extension_specimen_shears_by_57_degrees() -> None:
    gauge = 210 - 70
    cloth = Cloth.from_swatch("specimen", marked=gauge, stretched=gauge + 50, eased=gauge)
    assert cloth.shear_angles()[0] == pytest.approx(57, abs=0.5)  # published to the degree


@pytest.mark.parametrize(
    ("displacement", "degrees"),
    [(10, 8.508677), (20, 17.825706), (30, 28.326136), (40, 40.772805), (50, 57.3345855378)],
)
def test_shear_follows_the_formula_of_the_bias_extension_test(displacement: int, degrees: float) -> None:
    gauge = mpmath.mpf(140)
    formula = mpmath.pi / 2 - 2 * mpmath.acos((gauge + displacement) / (mpmath.sqrt(2) * gauge))
    assert float(mpmath.degrees(formula)) == pytest.approx(degrees, abs=1e-6)
    cloth = Cloth.from_swatch("specimen", marked=140, stretched=140 + displacement, eased=140)
    assert cloth.shear_angles()[0] == pytest.approx(float(mpmath.degrees(formula)), rel=1e-12)


# --- identities of a strip at 45 degrees --------------------------------------------------------------------

# stretch, shear in degrees, width factor, area factor
IDENTITIES = [
    ("0.01", "1.15172272834", "0.989898984745", "0.999797974593"),
    ("0.02", "2.31537962884", "0.979591751701", "0.999183586735"),
    ("0.03", "3.49147344652", "0.969071720772", "0.998143872395"),
    ("0.05", "5.88314987298", "0.947364766075", "0.994733004379"),
    ("0.075", "8.95304599230", "0.918898797474", "0.987816207285"),
    ("0.10", "12.1223522448", "0.888819441732", "0.977701385905"),
    ("0.125", "15.4040936987", "0.856956825050", "0.964076428181"),
    ("0.15", "18.8141818525", "0.823103881658", "0.946569463906"),
    ("0.20", "26.1038811373", "0.748331477355", "0.897997772826"),
    ("0.25", "34.2288663278", "0.661437827766", "0.826797284708"),
    ("0.30", "43.6301088679", "0.556776436283", "0.723809367168"),
    ("0.40", "73.7397952917", "0.2", "0.28"),
]


@pytest.mark.parametrize(("stretch", "degrees", "width", "area"), IDENTITIES)
def test_identities_of_a_bias_strip(stretch: str, degrees: str, width: str, area: str) -> None:
    exact = [float(value) for value in rhombus(mpmath.mpf(stretch))]
    assert exact == pytest.approx([float(degrees), float(width), float(area)], rel=2e-11)
    # One mesh at one shear: stretched along its long diagonal, eased along its short one.
    closing, opening = Cloth("mesh", stretch=float(stretch), ease=1 - exact[1]).shear_angles()
    assert closing == pytest.approx(exact[0], rel=1e-12)
    assert opening == pytest.approx(exact[0], rel=1e-12)
    assert math.cos(math.radians(closing)) == pytest.approx(exact[2], rel=1e-12)


def test_the_net_closes_at_the_square_root_of_2() -> None:
    almost = rhombus(mpmath.sqrt(2) - 1 - mpmath.mpf("1e-24"))
    assert [float(value) for value in almost] == pytest.approx([90, 0, 0], abs=1e-9)
    assert Cloth("nearly closed", stretch=0.4142135).shear_angles()[0] == pytest.approx(90, abs=0.04)
    with pytest.raises(ClothError, match="square root of 2"):
        Cloth("closed", stretch=0.4142136)


# --- the tightest curve when the middle of the strip keeps its length ---------------------------------------

# limit of shear in degrees, stretch of the outer edge, least radius in widths by the outer edge
OUTER = [
    (5, 0.0426676089472, 11.7184912006),
    (10, 0.0833504408394, 5.99876851238),
    (15, 0.121971053594, 4.09933328661),
    (20, 0.158455930679, 3.15545147384),
    (30, 0.224744871392, 2.22474487139),
    (40, 0.281712764112, 1.77485745659),
    (45, 0.306562964876, 1.63098631370),
    (50, 0.328926048777, 1.52009852019),
    (60, 0.366025403784, 1.36602540378),
]


@pytest.mark.parametrize(("shear", "stretch", "radius"), OUTER)
def test_least_radius_by_the_outer_edge(shear: int, stretch: float, radius: float) -> None:
    exact = float(diagonals(mpmath.mpf(shear))[0])
    assert exact == pytest.approx(stretch, rel=1e-11)
    # The middle keeps its length when the inner edge is eased by as much as the outer is stretched.
    cloth = Cloth("outer edge", stretch=exact, ease=exact)
    assert cloth.least_radius(1) == pytest.approx(radius, rel=1e-11)
    assert cloth.least_radius(1) == pytest.approx(1 / (2 * exact), rel=1e-13)
    assert cloth.shear_angles()[0] == pytest.approx(shear, rel=1e-12)


def test_least_radius_by_the_outer_edge_at_the_limit_of_the_net() -> None:
    almost = math.sqrt(2) - 1 - 1e-10
    assert Cloth("outer edge", stretch=almost, ease=almost).least_radius(1) == pytest.approx(1.20710678119)


@pytest.mark.parametrize(
    ("shear", "radius"), [(10, 5.4968586), (20, 2.6477382), (30, 1.7071068), (40, 1.2427686)]
)
def test_least_radius_by_the_inner_edge(shear: int, radius: float) -> None:
    ease = float(diagonals(mpmath.mpf(shear))[1])
    cloth = Cloth("inner edge", stretch=ease, ease=ease)
    assert cloth.least_radius(1) == pytest.approx(radius, abs=6e-8)
    assert cloth.shear_angles()[1] == pytest.approx(shear, rel=1e-12)


@pytest.mark.parametrize(
    ("width", "radius", "strain", "shear"),
    [
        ("1/4 in", "1 in", 0.125, 15.404094),
        ("1/4 in", "1/2 in", 0.25, 34.228866),
        ("1/4 in", "2 in", 0.0625, 7.406393),
        ("1/2 in", "1 in", 0.25, 34.228866),
        ("1/2 in", "4 in", 0.0625, 7.406393),
        ("1 in", "4 in", 0.125, 15.404094),
    ],
)
def test_edge_strain_examples(width: str, radius: str, strain: float, shear: float) -> None:
    cloth = Cloth("examples", stretch=strain, ease=strain)
    assert cloth.least_radius(width) == pytest.approx(to_mm(radius), rel=1e-14)
    assert cloth.widest(radius) == pytest.approx(to_mm(width), rel=1e-14)
    assert cloth.shear_angles()[0] == pytest.approx(shear, abs=1e-6)


def test_a_strip_whose_inner_edge_keeps_its_length() -> None:
    # Inner radius 1 in, width 1/4 in: the outer edge grows by w / R_inner = 0.25.
    assert Cloth("pulled only", stretch=0.25, ease=0).least_radius("1/4 in") == pytest.approx(1.125 * 25.4)
    with pytest.raises(ClothError, match=r"0\.4142.*; not 0\.5"):  # width 1/2 in would need 0.5
        Cloth("pulled only", stretch=0.5, ease=0)


# --- the design's own figures -------------------------------------------------------------------------------


def test_the_default_cloth_on_the_true_bias() -> None:
    rho = mpmath.mpf("1.20") / mpmath.mpf("0.92")
    assert float(rho) == pytest.approx(1.304348, abs=5e-7)
    exact = float((rho + 1) / (rho - 1) / 2)
    assert exact == pytest.approx(3.785714, abs=5e-7)
    assert Cloth().least_radius(1) == pytest.approx(exact, rel=1e-14)


def test_the_default_cloth_ten_degrees_off_the_bias() -> None:
    assert Cloth().limits(10) == pytest.approx((0.1889, 0.0750), abs=5e-5)
    assert Cloth().least_radius(1, off_bias=10) == pytest.approx(4.006, abs=5e-4)


@pytest.mark.parametrize("off_bias", [0, 3, 10, 22.5, 30, 44, 44.99])
@pytest.mark.parametrize(("stretch", "ease"), [(0.20, 0.08), (0.05, 0.0), (0.0, 0.3), (0.41, 0.9)])
def test_limits_off_the_bias_by_turning_the_threads(off_bias: float, stretch: float, ease: float) -> None:
    cloth = Cloth("turned threads", stretch=stretch, ease=ease)
    angle = mpmath.radians(45 + off_bias)
    ratios = []
    for share in (stretch, -ease):
        # Both threads turn by half the shear: towards the strip as it stretches, away from it as it is eased.
        closing = mpmath.radians(rhombus(mpmath.mpf(share))[0]) / 2
        warp = mpmath.matrix([mpmath.cos(closing), mpmath.sin(closing)])
        weft = mpmath.matrix([mpmath.sin(closing), mpmath.cos(closing)])
        ratios.append(mpmath.norm(mpmath.cos(angle) * warp + mpmath.sin(angle) * weft))
    exact = (float(ratios[0] - 1), float(1 - ratios[1]))
    assert cloth.limits(off_bias) == pytest.approx(exact, rel=1e-11, abs=1e-15)


def test_the_straight_grain_does_not_bend() -> None:
    assert Cloth().limits(45) == (0, 0)
    assert Cloth().least_radius("1/4 in", off_bias=45) == math.inf
    assert Cloth().widest("10 in", off_bias=45) == 0


# --- a net bent round a ring --------------------------------------------------------------------------------


def rows_to(limit: float, step: float) -> float:
    """Rest distance, in radii of the row that keeps its length, to the row whose length ratio is `limit`.

    A net of rigid rods, its meshes on the diagonal, lies round a ring with every row a circle of joints
    `step` radians apart and the next row half a step on. One row of radius 1 keeps its length; each further
    radius follows from the rods alone, by the law of cosines. At rest the rows lie rod / sqrt2 apart.
    """
    half = step / 2
    rod = math.sqrt(2) * math.sin(half)  # the first row has its length at rest: chord = sqrt2 rods
    outwards = 1 if limit > 1 else -1
    radius, last, rows = 1.0, 1.0, 0
    while (radius - limit) * outwards < 0:
        last, rows = radius, rows + 1
        radius = last * math.cos(half) + outwards * math.sqrt(rod**2 - (last * math.sin(half)) ** 2)
    part = (limit - last) / (radius - last)
    return outwards * (rows - 1 + part) * rod / math.sqrt(2)


def pressed_width(stretch: float, ease: float, step: float) -> float:
    return rows_to(1 + stretch, step) - rows_to(1 - ease, step)


@pytest.mark.parametrize(("stretch", "ease"), [(0.20, 0.08), (0.05, 0.10), (0.35, 0.25), (0.10, 0.0001)])
def test_a_net_of_rods_round_a_ring_narrows_as_the_exact_solution_says(stretch: float, ease: float) -> None:
    exact = math.asin((1 + stretch) / math.sqrt(2)) - math.asin((1 - ease) / math.sqrt(2))
    errors = [abs(pressed_width(stretch, ease, step) / exact - 1) for step in (0.02, 0.002, 0.0002)]
    assert errors[2] < errors[1] < errors[0]
    assert errors[2] < 2e-4
    # The exact solution puts a thread at rest distance t from the row of radius 1 at sqrt2 sin(pi/4 + t).
    edges = [
        math.sqrt(2) * math.sin(math.pi / 4 + rows_to(limit, 0.0002)) for limit in (1 - ease, 1 + stretch)
    ]
    width, middle = edges[1] - edges[0], (edges[1] + edges[0]) / 2
    assert Cloth("rods", stretch=stretch, ease=ease).least_radius(width) == pytest.approx(middle, rel=1e-3)


def test_how_much_a_strip_of_the_default_cloth_narrows() -> None:
    pressed = pressed_width(0.20, 0.08, 0.0002)
    assert 1 / pressed == pytest.approx(3.2797, abs=5e-4)
    assert 0.28 / pressed == pytest.approx(0.918, abs=5e-4)


def bent_net(off_bias: float, shear_sine: float) -> tuple[float, Any]:
    """Bend a net off the bias round a ring, from the thread that keeps its length to the one at this shear.

    With x along and t across the strip at rest, a point lies at radius R(t) and angle x + f(t) on the quilt,
    in radii of the thread that keeps its length. No thread changes length, so for a strip at angle a to the
    warp the first fundamental form is E = 1 + sin(2a) sin(g) = R^2, F = cos(2a) sin(g) = R^2 f',
    E G - F^2 = cos(g)^2 = R^2 R'^2. Gives the rest distance to the edge, and (R, f) as a function of t.
    """
    twice = math.radians(90 + 2 * off_bias)

    def sine(radius: float) -> float:
        return (radius**2 - 1) / math.sin(twice)

    def slopes(_t: float, state: NDArray[np.float64]) -> list[float]:
        g = sine(state[0])
        return [math.sqrt(1 - g**2) / state[0], math.cos(twice) * g / state[0] ** 2]

    def at_the_edge(_t: float, state: NDArray[np.float64]) -> float:
        return sine(float(state[0])) - shear_sine

    at_the_edge.terminal = True  # type: ignore[attr-defined]
    span = (0, math.copysign(1, shear_sine))
    bent = solve_ivp(slopes, span, [1, 0], events=at_the_edge, dense_output=True, rtol=1e-11, atol=1e-12)
    assert bent.t_events is not None
    return float(bent.t_events[0][0]), bent.sol


@pytest.mark.parametrize("off_bias", [0, 10, 25, 40])
def test_a_net_off_the_bias_lies_round_a_ring_between_the_edges_of_the_closed_form(off_bias: float) -> None:
    cloth = Cloth()
    closing, opening = (math.sin(math.radians(angle)) for angle in cloth.shear_angles())
    edges = []
    for shear_sine in (closing, -opening):
        edge, place = bent_net(off_bias, shear_sine)
        edges.append(float(place(edge)[0]))
        # Bent so, the warp and the weft have kept their length: measured on the quilt over short pieces.
        for thread in (math.radians(-45 - off_bias), math.radians(45 - off_bias)):
            for t in np.linspace(0.1, 0.9, 5) * edge:
                x, across = 1e-4 * math.cos(thread), 1e-4 * math.sin(thread)
                (r0, f0), (r1, f1) = place(t - across), place(t + across)
                piece = r1 * np.exp(1j * (f1 + x)) - r0 * np.exp(1j * (f0 - x))
                assert abs(piece) == pytest.approx(2e-4, rel=1e-6)
    width, middle = edges[0] - edges[1], (edges[0] + edges[1]) / 2
    assert cloth.least_radius(width, off_bias) == pytest.approx(middle, rel=1e-9)
