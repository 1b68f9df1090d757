"""How far a negative is enlarged to lie on a sheet, and what of it the sheet leaves out."""

import math
from dataclasses import dataclass, replace

from printlore.core.figure import Figure
from printlore.core.paper.sizes import refuse_no_negative, refuse_no_sheet
from printlore.core.plain import says_what_fits
from printlore.errors import ValueOutOfRange

SMALL_FORMAT = (36.0, 24.0)
"""[mm] Picture of small-format film: the usual negative if nothing is said (from memory)."""
_SAME = 5e-3
"""A difference of shape below this share is the film holder's, not the printer's (from memory)."""


@says_what_fits
@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet and how a negative is to lie on it.

    Attributes
    ----------
    size : (float, float)
        Of the sheet [mm]; which side is named first does not matter, the negative is turned to it.
    negative : (float, float)
        Of the picture on the film [mm].
    whole : bool
        The whole picture is to be on the sheet, with a border where the shapes differ; otherwise it fills the sheet,
        and what reaches beyond is cropped.

    Raises
    ------
    ValueOutOfRange
        If a side is not above 0, or a size is none that paper or film has.
    """

    size: tuple[float, float]
    negative: tuple[float, float] = SMALL_FORMAT
    whole: bool = False

    def __post_init__(self) -> None:
        for what, sides in (("sheet", self.size), ("negative", self.negative)):
            for side in sides:
                if not (math.isfinite(side) and side > 0):
                    raise ValueOutOfRange(f"A side of the {what} is {Figure(side):g} mm; it must be above 0.")
        refuse_no_sheet(*self.size)
        refuse_no_negative(*self.negative)


@dataclass(frozen=True, slots=True, kw_only=True)
class Enlargement:
    """Magnification of a negative on a sheet, and what the different shapes of both cost.

    Attributes
    ----------
    magnification : float
        Image length over negative length [1].
    long_side : bool
        The long side is the one that does not fit.
    cropped : float
        Share of that side of the negative that falls beside the sheet [1]; 0 if the picture is whole.
    free : float
        Of the sheet's side that stays white, both borders together [mm]; 0 if the sheet is filled.
    """

    magnification: float
    long_side: bool
    cropped: float
    free: float

    @property
    def words(self) -> str:
        """How far, what was assumed, and what it costs."""
        side = "long" if self.long_side else "short"
        times = f"Enlarged {Figure(self.magnification):.3g} times, so that"
        if self.cropped:
            share = f"{100 * self.cropped:.0f} %"
            return f"{times} the negative fills the sheet: {share} of the negative's {side} side is cropped."
        if self.free:
            free = f"{self.free:.0f} mm"
            return f"{times} the whole negative is on the sheet: {free} of the sheet's {side} side stay free."
        return f"{times} the negative fills the sheet; both are of one shape."


def enlargement(sheet: Sheet) -> Enlargement:
    """Magnification by which a negative fills a sheet, or lies whole inside it.

    Long side lies along long side. Each pair of sides asks for a magnification of its own, sheet over negative. To fill
    the sheet the larger one is taken, and the other side of the image reaches beyond its edge; for the whole picture
    the smaller one, and the other side stops short of it. 36 x 24 mm on 200 x 250 mm:

        long sides     250 / 36 = 6.944
        short sides    200 / 24 = 8.333
        fill           8.333 times: the image is 300 x 200 mm; 50 of 300 mm, 1/6 of the long side, are cropped
        whole          6.944 times: the image is 250 x 166.7 mm; 33.3 mm of the sheet's short side stay free

    Light on the paper falls as (magnification + 1) squared, so the two are (9.333 / 7.944)^2 = 1.38 apart, 0.46 stop.
    """
    (short, long), (narrow, wide) = sorted(sheet.size), sorted(sheet.negative)
    by_long, by_short = long / wide, short / narrow
    magnification = min(by_long, by_short) if sheet.whole else max(by_long, by_short)
    one_shape = abs(by_long / by_short - 1) < _SAME
    # filling by the short sides, the long one reaches beyond; whole by the long sides, the short one stops short
    long_side = (by_long < by_short) != sheet.whole
    side, image = (long, wide * magnification) if long_side else (short, narrow * magnification)
    return Enlargement(
        magnification=magnification,
        long_side=long_side,
        cropped=0.0 if one_shape or sheet.whole else 1 - side / image,
        free=side - image if sheet.whole and not one_shape else 0.0,
    )


def enlarged_as(sheet: Sheet, size: tuple[float, float], magnification: float) -> float:
    """Magnification on a sheet for a negative that was printed on another sheet before.

    The earlier print says how it was really laid on its sheet: cropped a little more, or less, than reckoned. So what
    it was enlarged by is moved to the new sheet by the ratio of the two reckoned alike: enlarged 8.5 times on 200 x
    250 mm (8.333 by the short sides), a negative is enlarged 8.5 x 12.5 / 8.333 = 12.75 times on 300 x 400 mm.

    Parameters
    ----------
    sheet : Sheet
        Asked for now.
    size : (float, float)
        Of the earlier sheet [mm].
    magnification : float
        Of the earlier print [1].
    """
    return magnification * enlargement(sheet).magnification / enlargement(replace(sheet, size=size)).magnification
