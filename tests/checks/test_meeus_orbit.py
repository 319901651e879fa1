"""A published length of an ellipse: J. Meeus, Astronomical Algorithms, example 33.d, page 239.

The orbit of comet Halley, a = 17.9400782 and e = 0.96727426 astronomical units, is 77.07 long by integration (the
two approximations given beside it are 77.06 and 77.09). Read in the public tests of a library that follows the
book, not in the book itself.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from reference_curves import ellipse

A, E = 17.9400782, 0.96727426


def test_orbit_of_halley() -> None:
    b = A * float(np.sqrt(1 - E * E))
    curve = ellipse(A, b, pieces=6000)
    assert round(curve.length, 2) == 77.07
    assert curve.length == pytest.approx(float(4 * A * mpmath.ellipe(mpmath.mpf(E) ** 2)), rel=1e-11)
    # The approximations stand on either side, as printed: the check could not tell 77.07 from them otherwise.
    ramanujan = np.pi * (3 * (A + b) - np.sqrt((3 * A + b) * (A + 3 * b)))
    means = np.pi / 8 * (21 * (A + b) / 2 - 2 * np.sqrt(A * b) - 3 * 2 * A * b / (A + b))
    assert (round(ramanujan, 2), round(means, 2)) == (77.06, 77.09)
    assert curve.tightest().radius == pytest.approx(b * b / A, rel=1e-6)
