"""Cloth: how far a strip of it stretches and eases, and so how tightly it bends and still lies flat.

**The net.** Woven cloth is taken as a net of threads that keep their length and turn freely where they cross.
A short step at angle ``a`` to the warp is ``cos a`` along the warp and ``sin a`` along the weft. When the
threads, square at first, close up by the shear ``g``, its length changes by the ratio

    sqrt(cos(a)^2 + sin(a)^2 + 2 cos(a) sin(a) cos(90 - g)) = sqrt(1 + sin(2a) sin(g)),

and by ``sqrt(1 - sin(2a) sin(g))`` when they open instead. So a strip on the true bias (a = 45 degrees) that
stretches by the share ``e`` shears by ``sin(g) = (1 + e)^2 - 1``, and one that eases by ``c`` by ``sin(g) = 1
- (1 - c)^2``. At g = 90 degrees the net is closed: no stretch reaches sqrt(2) - 1, no ease reaches 1. Along
the threads (a = 0 or 90) nothing gives.

**The bend.** A strip bent in its plane lies in arcs round one centre. The line that keeps its length has
radius R0, and a line at radius R the length ratio ``R/R0``; at the limit the edges lie at ``R0 (1 +
stretch)`` and ``R0 (1 - ease)``. For a strip w wide as it lies, its centreline at radius R, that is ``(R +
w/2)/(R - w/2) = rho``, ``rho = (1 + stretch)/(1 - ease)``, so the least radius is ``(w/2)(rho + 1)/(rho -
1)``: exact for the net, on and off the bias, because only the ratios at the edges enter. The width is that on
the quilt, for a bend narrows the strip. The net keeps area in the ratio ``cos(g)``, which on the true bias
gives ``dR/dt = sqrt(2 - (R/R0)^2)`` for the thread at rest distance t from the line that keeps its length,
hence ``R = sqrt2 R0 sin(pi/4 + t/R0)``. At the limit of 0.20 and 0.08 a strip lies 0.918 as wide as it was
pressed.

Sources: the same net in K. Weissenberg, J. Textile Inst. 40 (1949) T89, and C. Mack and H. M. Taylor, J.
Textile Inst. 47 (1956) T477 (both from memory); the derivation above is our own. Cloth gives most at 45
degrees to its threads: US Army TM 5-1940-321-13&P, page F-3. The net knows no friction, thickness or
buckling: how far a cloth really goes is measured with a scrap (:meth:`Cloth.swatch_instructions`).

Examples
--------
>>> from bias_drafting.cloth.cloth import Cloth
>>> round(Cloth().least_radius("1/4 in") / 25.4, 3)  # inches
0.946
"""

from __future__ import annotations

import math
import numbers
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Self

from bias_drafting.cloth.bent_strip import BentStrip, bent
from bias_drafting.cloth.swatch import mean_and_doubt, swatch_tries
from bias_drafting.errors import ClothError, LengthError
from bias_drafting.units import format_width, positive_mm, to_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["Cloth"]

_STRETCH_LIMIT: Final = math.sqrt(2) - 1  # here the net is closed and no width is left
_EASE_LIMIT: Final = 1.0  # here it is closed the other way and no length is left

# Common practice, from memory: no published figure for quilting cotton was found.
_STRETCH: Final = 0.20
_EASE: Final = 0.08

_SWATCH_INSTRUCTIONS: Final = """\
How far does this cloth go? Test it with a scrap of the very cloth, washed or not as it will be sewn.

1. Cut a strip on the true bias (45 degrees to the selvage), 2 in wide and about 16 in long. Press it
   without pulling.
2. Draw two lines across it, 10 in apart, each 3 in from an end. This is "marked".
3. Stretch: hold the ends and pull gently and evenly until the strip gives no more without force. It
   grows narrower; that is right. Measure between the lines while you hold it. This is "stretched".
4. Ease: let it rest, lay it on the ironing board and push the lines towards each other a little at a
   time, steaming the fullness flat. Stop before a pleat stays in. This is "eased".
5. Do it twice and keep the smaller stretch and the smaller ease.

Or bend it: draw rings of several sizes, press a strip cut on the true bias as you would for a stem, and
steam it round them, the middle of the strip on the ring. Find the tightest ring on which all of it still
lies flat when it has cooled. From the centre of that ring to the middle of the strip is "radius"; the
width of the strip as it lies there is "width".

Iron and steam burn. Try the heat on a corner first, keep hands and faces out of the steam, keep children
away, and switch the iron off when you leave it. The instructions of the makers of the cloth and of the
iron, and the safety rules where you work, come first.
"""


def _number(value: object, fits: Callable[[float], bool], wanted: str) -> float:
    """Give a number as a float if it fits; `wanted` says what does. NaN must not fit."""
    if not isinstance(value, bool) and isinstance(value, numbers.Real) and fits(float(value)):
        return float(value)
    message = f"{wanted}; not {value!r}"
    raise ClothError(message)


def _limit(value: object, what: str, below: float, why: str) -> float:
    """Give a stretch or an ease, from 0 to less than `below`."""
    wanted = f"{what} must be a share of the length (20 per cent is 0.20), 0 to less than {below:.4g}: {why}"
    return _number(value, lambda share: 0 <= share < below, wanted)


def part_used(share: float) -> float:
    """Give the part of a limit that is used, more than 0 and at most 1; else ClothError."""
    wanted = "share must be more than 0 and at most 1, the part of the limit that is used"
    return _number(share, lambda part: 0 < part <= 1, wanted)


def radius_mm(radius: str | float) -> float:
    """Give the radius of a bend in mm: 0 at a sharp corner, infinite on a straight line; else LengthError."""
    if not isinstance(radius, str) and radius == math.inf:
        return math.inf
    try:
        return to_mm(radius)
    except LengthError as error:
        message = f"the radius of the bend: {error}"
        raise LengthError(message) from error


def _check_name(name: object) -> None:
    """Refuse a name that is not text, or says nothing."""
    if not isinstance(name, str) or not name.strip():
        message = f"a cloth needs a name, such as 'quilting cotton'; not {name!r}"
        raise ClothError(message)


def _twice_angle_sine(off_bias: float) -> float:
    """Give sin(2a) for a strip at angle a to the warp, `off_bias` degrees off the true bias."""
    wanted = "off_bias must be from 0 (true bias) to 45 degrees (straight grain), to either side"
    off = _number(off_bias, lambda degrees: abs(degrees) <= 45, wanted)
    # Written with 90 - 2d, the sine is exactly 1 on the true bias and exactly 0 on the straight grain.
    return math.sin(math.radians(90 - 2 * abs(off)))


@dataclass(frozen=True, slots=True)
class Cloth:
    """A cloth: how far a strip of it, cut on the true bias, can be stretched and eased.

    Attributes
    ----------
    name
        What the cloth is called.
    stretch
        The share by which a strip can be lengthened and still lies flat, 0 to less than 0.4142.
    ease
        The share by which it can be shortened flat, with steam and patience, 0 to less than 1.
    stretch_doubt, ease_doubt
        How far either may be off, as measured; 0 where nothing is known of it. See :meth:`cautious`.

    Raises
    ------
    ClothError
        If a figure is out of its range or no number, or the name is empty.

    Notes
    -----
    The defaults, 0.20 and 0.08, are common practice, from memory. For the model, its sources and limits see
    the module. Widths are those of the strip as it lies on the quilt, radii those of its centreline.

    Examples
    --------
    >>> from bias_drafting.cloth.cloth import Cloth
    >>> cloth = Cloth("quilting cotton", stretch=0.20, ease=0.08)
    >>> round(cloth.least_radius(1), 6)
    3.785714
    >>> Cloth("homespun", stretch=20)
    Traceback (most recent call last):
    ...
    bias_drafting.errors.ClothError: stretch must be a share of the length (20 per cent is 0.20), 0 to less
    than 0.4142: threads keep their length, so no strip grows to the square root of 2; not 20
    """

    name: str = "quilting cotton"
    stretch: float = _STRETCH
    ease: float = _EASE
    stretch_doubt: float = 0.0
    ease_doubt: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no cloth can do."""
        why = "threads keep their length, so no strip grows to the square root of 2"
        object.__setattr__(self, "stretch", _limit(self.stretch, "stretch", _STRETCH_LIMIT, why))
        why = "no strip can be eased away to nothing"
        object.__setattr__(self, "ease", _limit(self.ease, "ease", _EASE_LIMIT, why))
        _check_name(self.name)
        for what in ("stretch_doubt", "ease_doubt"):
            wanted = f"{what} must be a share of the length, 0 or more"
            object.__setattr__(self, what, _number(getattr(self, what), lambda x: 0 <= x < math.inf, wanted))

    def cautious(self) -> Self:
        """Return the cloth with the least that its measurements leave room for.

        Examples
        --------
        >>> lawn = Cloth("lawn", stretch=0.18, ease=0.08, stretch_doubt=0.02, ease_doubt=0.01)
        >>> lawn.cautious()
        Cloth(name='lawn', stretch=0.16, ease=0.07, stretch_doubt=0.0, ease_doubt=0.0)
        """
        least = (self.stretch - self.stretch_doubt, self.ease - self.ease_doubt)
        stretch, ease = (max(round(share, 12), 0.0) for share in least)
        return type(self)(self.name, stretch, ease)

    def limits(self, off_bias: float = 0.0) -> tuple[float, float]:
        """Give the stretch and the ease of a strip cut off the true bias.

        Parameters
        ----------
        off_bias
            Degrees off the true bias, to either side (the sign does not matter), at most 45 (straight grain).

        Returns
        -------
        tuple of float
            Stretch and ease, shares of the length, at the same shear as on the true bias.

        Raises
        ------
        ClothError
            If `off_bias` is not such a number.

        Examples
        --------
        >>> [round(share, 4) for share in Cloth().limits(off_bias=10)]
        [0.1889, 0.075]
        >>> Cloth().limits(off_bias=45)
        (0.0, 0.0)
        """
        k = _twice_angle_sine(off_bias)
        s, c = self.stretch, self.ease
        # sqrt(1 + x) - 1 = x / (1 + sqrt(1 + x)): without the loss of digits for small x.
        stretch = s * (k * (2 + s) / (1 + math.sqrt(1 + k * s * (2 + s))))
        ease = c * (k * (2 - c) / (1 + math.sqrt(1 - k * c * (2 - c))))
        return stretch, ease

    def shear_angles(self) -> tuple[float, float]:
        """Give how far the threads turn against each other at the full stretch and at the full ease.

        Returns
        -------
        tuple of float
            Degrees from square, for the stretch and for the ease; 0 to 90.

        Examples
        --------
        >>> [round(angle, 3) for angle in Cloth().shear_angles()]
        [26.104, 8.836]
        """
        closing = self.stretch * (2 + self.stretch)
        opening = self.ease * (2 - self.ease)
        return math.degrees(math.asin(closing)), math.degrees(math.asin(opening))

    def least_radius(self, width: str | float, off_bias: float = 0.0, share: float = 1.0) -> float:
        """Give the tightest bend, at the centreline, round which a strip lies flat.

        Parameters
        ----------
        width
            The finished width on the quilt: mm or text.
        off_bias
            Degrees off the true bias, as in :meth:`limits`.
        share
            The part of the stretch and of the ease that is used, more than 0 and at most 1; with 0.5 a
            bend lies flat without trouble.

        Returns
        -------
        float
            Radius in mm; infinite if such a strip does not bend at all.

        Raises
        ------
        ClothError, LengthError
            If `off_bias` or `share` is out of range; if the width is not a length more than 0.

        Examples
        --------
        >>> round(Cloth().least_radius("1/2 in"), 2), round(Cloth().least_radius("1/2 in", share=0.5), 2)
        (48.08, 93.44)
        >>> Cloth().least_radius("1/2 in", off_bias=45)
        inf
        """
        return positive_mm(width, "the finished width") * self._widths_to_radius(off_bias, share)

    def widest(self, radius: str | float, off_bias: float = 0.0, share: float = 1.0) -> float:
        """Give the widest strip that lies flat round a bend; the inverse of :meth:`least_radius`.

        Parameters
        ----------
        radius
            Radius of the centreline: mm or text; 0 for a sharp corner, ``math.inf`` for a straight line.
        off_bias, share
            As in :meth:`least_radius`.

        Returns
        -------
        float
            Finished width on the quilt in mm: 0 where no strip passes, infinite on a straight line.

        Raises
        ------
        ClothError, LengthError
            If `off_bias` or `share` is out of range; if the radius is negative or cannot be read.

        Examples
        --------
        >>> round(Cloth().widest("2 in") / 25.4, 3)  # inches
        0.528
        """
        widths = self._widths_to_radius(off_bias, share)
        mm = radius_mm(radius)
        return mm if mm == math.inf else mm / widths

    def bent(self, width: str | float, radius: str | float, off_bias: float = 0.0) -> BentStrip:
        """Tell what a bend asks of a strip: how far its edges stretch and ease, and how it narrows.

        Parameters
        ----------
        width
            The finished width on the quilt: mm or text.
        radius
            Radius of the centreline, as in :meth:`widest`.
        off_bias
            As in :meth:`limits`.

        Raises
        ------
        ClothError, LengthError
            If `off_bias` is out of range, a length cannot be read, or the radius is below half the width.

        Examples
        --------
        >>> ring = Cloth().bent("1/2 in", "2 in")
        >>> round(ring.share, 3), round(ring.stretched, 3), round(ring.eased, 3)
        (0.943, 0.189, 0.075)
        >>> round(ring.narrowed, 3)  # at the tightest, 0.918
        0.924
        """
        stretch, ease = self.limits(off_bias)
        w = positive_mm(width, "the finished width")
        return bent(w, radius_mm(radius), stretch, ease, _twice_angle_sine(off_bias))

    def _widths_to_radius(self, off_bias: float, share: float) -> float:
        """Give the least radius in finished widths: (rho + 1) / (rho - 1) / 2."""
        part = part_used(share)
        stretch, ease = (part * limit for limit in self.limits(off_bias))
        # rho multiplied out, so that nothing is lost when the strip hardly bends.
        give = stretch + ease
        return (2 + stretch - ease) / (2 * give) if give > 0 else math.inf

    @classmethod
    def from_swatch(
        cls,
        name: str,
        *,
        marked: str | float | Sequence[str | float],
        stretched: str | float | Sequence[str | float],
        eased: str | float | Sequence[str | float],
    ) -> Self:
        """Make a cloth from a swatch test on the true bias, done once or several times.

        The test is in :meth:`swatch_instructions`.

        Parameters
        ----------
        name
            What the cloth is called.
        marked, stretched, eased
            The length between the two lines at rest, fully stretched and fully eased: mm or text; or lists of them,
            one for each time it was done. What was the same each time need be given once.

        Returns
        -------
        Cloth
            With stretch ``stretched / marked - 1`` and ease ``1 - eased / marked``: the means if there are several,
            and their doubts, which are Student's t for 95 % times the standard error of the mean.

        Raises
        ------
        ClothError, LengthError
            If the lengths are in the wrong order or further apart than threads allow, one cannot be read, or there
            are not as many of one as of another.

        Examples
        --------
        >>> lawn = Cloth.from_swatch("lawn", marked="10 in", stretched="11 3/4 in", eased="9 1/4 in")
        >>> round(lawn.stretch, 6), round(lawn.ease, 6)
        (0.175, 0.075)
        >>> thrice = Cloth.from_swatch("lawn", marked=250, stretched=[294, 291, 296], eased=[230, 232, 231])
        >>> f"{thrice.stretch:.3f} +- {thrice.stretch_doubt:.3f}, {thrice.ease:.3f} +- {thrice.ease_doubt:.3f}"
        '0.175 +- 0.025, 0.076 +- 0.010'
        """
        tries = swatch_tries(marked, stretched, eased)
        for rest, longest, shortest in tries:
            if not shortest <= rest <= longest:
                given = ", ".join(format_width(mm, "mm") for mm in (shortest, rest, longest))
                message = f"a swatch goes from eased over marked to stretched, shortest first; not {given}"
                raise ClothError(message)
            # Each must be possible by itself, not only their mean.
            cls(name, stretch=(longest - rest) / rest, ease=(rest - shortest) / rest)
        stretch = mean_and_doubt([(longest - rest) / rest for rest, longest, _ in tries])
        ease = mean_and_doubt([(rest - shortest) / rest for rest, _, shortest in tries])
        return cls(name, stretch[0], ease[0], stretch[1], ease[1])

    @classmethod
    def from_bend_test(cls, name: str, *, width: str | float, radius: str | float) -> Self:
        """Make a cloth from the tightest ring on which a strip lay flat (see :meth:`swatch_instructions`).

        Parameters
        ----------
        name
            What the cloth is called.
        width, radius
            The width of the strip, cut on the true bias, as it lay on the ring, and the radius to its middle:
            mm or text.

        Returns
        -------
        Cloth
            One whose ``least_radius(width)`` is `radius`.

        Raises
        ------
        ClothError, LengthError
            If no strip lies flat on so tight a ring, or a length is not more than 0.

        Notes
        -----
        One ring gives ``rho = (R + w/2)/(R - w/2)``, which cannot tell stretch from ease. We split it as the
        default cloth does, 0.20 to 0.08 (common practice, from memory): ``(1 + 0.20 k)/(1 - 0.08 k) = rho``,
        solved exactly. On the true bias at full share every split gives the same radii; off the bias or at a
        part share it does not. So split, a ring under 1.94 widths asks for more than the net can stretch.
        :meth:`from_swatch` measures both.

        Examples
        --------
        >>> linen = Cloth.from_bend_test("linen", width="1/2 in", radius="2 in")
        >>> round(linen.stretch, 4), round(linen.ease, 4), round(linen.least_radius("1/2 in") / 25.4, 9)
        (0.1887, 0.0755, 2.0)
        """
        w = positive_mm(width, "the width of the strip")
        r = positive_mm(radius, "the radius of the ring")
        # Below, the two forms of rho are solved for k; here for the radius at which the stretch is too much.
        least = w * (_STRETCH / _STRETCH_LIMIT + (_STRETCH - _EASE) / 2) / (_STRETCH + _EASE)
        if r <= least:
            strip, ring, possible = (format_width(mm, "mm") for mm in (w, r, least))
            message = (
                f"no strip {strip} wide lies flat on a ring of radius {ring}: its threads ask for more than"
                f" {possible}; measure from the centre of the ring to the middle of the strip"
            )
            raise ClothError(message)
        k = w / (_STRETCH * (r - w / 2) + _EASE * (r + w / 2))
        return cls(name, stretch=_STRETCH * k, ease=_EASE * k)

    @staticmethod
    def swatch_instructions() -> str:
        """Give both tests in plain words; the words in quotes are the arguments to measure.

        Notes
        -----
        The lines stay clear of the hands by more than the width of the strip: only there does a pulled strip
        shear fully (bias extension test, Aridhi et al., Composites Part B 166 (2019) 773-784, section 5.1, at
        second hand). The rest is common practice.

        Examples
        --------
        >>> print(Cloth.swatch_instructions().splitlines()[0])
        How far does this cloth go? Test it with a scrap of the very cloth, washed or not as it will be sewn.
        """
        return _SWATCH_INSTRUCTIONS
