"""Numbers as a printer reads them: one place, for the page and the terminal."""

import math
from collections.abc import Sequence

from printlore.core.calendar import day as day
from printlore.core.calendar import moment as moment
from printlore.core.estimate import Estimate
from printlore.core.figure import Figure
from printlore.core.light.filters import FilterPack
from printlore.core.light.setting import Setting
from printlore.core.light.three_lights import Lights
from printlore.core.quantities import MM_PER_UNIT

MINUS = "−"
_FRACTIONS = (
    (1 / 10, "1/10"),
    (1 / 6, "1/6"),
    (1 / 4, "1/4"),
    (1 / 3, "1/3"),
    (1 / 2, "1/2"),
    (2 / 3, "2/3"),
    (3 / 4, "3/4"),
    (1.0, "1"),
)


def number(value: float, decimals: int = 0, *, signed: bool = False) -> str:
    """A number with a true minus sign; never a minus zero."""
    size = abs(value)
    sign = "" if float(f"{size:.{decimals}f}") == 0 else MINUS if value < 0 else "+" if signed else ""
    return f"{sign}{Figure(size):.{decimals}f}"


def shortest(value: float, decimals: int = 1) -> str:
    """A number without trailing zeros."""
    text = number(value, decimals)
    return text.rstrip("0").rstrip(".,") if decimals else text


def counted(count: int, thing: str) -> str:
    """So many of a thing."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def figures(value: float, count: int = 2) -> str:
    """As many figures as an uncertain value deserves."""
    if value == 0:
        return "0"
    decimals = count - 1 - math.floor(math.log10(abs(value)))
    return shortest(round(value, decimals), max(decimals, 0))


def span(days: float) -> str:
    """A stretch of time as people say it: days, then weeks, then months."""
    size, name = (1.0, "day") if days < 28 else (7.0, "week") if days < 120 else (30.4, "month")
    many = round(days / size)
    return f"{number(many)} {name}{'' if many == 1 else 's'}"


def seconds(time: float) -> str:
    """Exposure time [s] as it is dialled: tenths, above 20 s only where there are any."""
    return f"{number(time, 0 if time >= 20 and abs(time - round(time)) < 0.05 else 1)} s"


def density(value: float) -> str:
    """Density [1] to two decimals."""
    return number(value, 2)


def densities(value: Sequence[float]) -> str:
    """Red, green and blue densities."""
    return " ".join(density(one) for one in value)


def tone(lab: Sequence[float]) -> str:
    """CIELAB."""
    return ", ".join(f"{name} {shortest(value)}" for name, value in zip(("L*", "a*", "b*"), lab, strict=True))


def pack(value: FilterPack) -> str:
    """Dials, cyan magenta yellow, the unused ones left out."""
    parts = [f"{shortest(strength)} {letter}" for letter, strength in zip("CMY", value.as_tuple(), strict=True)]
    used = [part for part, strength in zip(parts, value.as_tuple(), strict=True) if strength]
    return " ".join(used) or "no filters"


def lights_typed(each: tuple[float, float, float]) -> str:
    """Red, green and blue as they are typed in the place of a pack."""
    red, green, blue = (f"{Figure(value):.4g}" for value in each)
    return f"{red}R {green}G {blue}B"


def lights(value: Lights) -> str:
    """Three lights as they are set one by one."""
    named = zip(("red", "green", "blue"), value.as_tuple(), strict=True)
    return ", ".join(f"{name} {number(strength, 1)} {value.unit}" for name, strength in named)


def setting(value: Setting) -> str:
    """A setting as it is read aloud at the enlarger."""
    return f"{pack(value.pack)}, {seconds(value.time)}, f/{shortest(value.f_number)}"


def stops(value: float) -> str:
    """How far a print is from right in lightness [stop; above 0 is too dark], as said at the viewing light."""
    if abs(value) < 1 / 12:
        return "lightness right"
    way = "too dark" if value > 0 else "too light"
    size = abs(value)
    if size > 1.25:
        return f"{shortest(round(size * 2) / 2)} stops {way}"
    _, text = min(_FRACTIONS, key=lambda pair: abs(pair[0] - size))
    return f"{text} stop {way}"


def six(value: Setting) -> str:
    """A setting as six plain numbers, for a form to send back: cyan, magenta, yellow, time, f-number, magnification."""
    return " ".join(f"{one:g}" for one in (*value.pack.as_tuple(), value.time, value.f_number, value.magnification))


def about_seconds(value: float) -> str:
    """A wait as people say it: "5 s", "40 s", "3 minutes"."""
    if value >= 100:
        return f"{round(value / 60)} minutes"
    return f"{max(round(value / 5) * 5, 5) if value >= 10 else max(round(value), 1)} s"


def out_of_ten(probability: float) -> str:
    """A probability as people say it."""
    if probability >= 0.97:
        return "nearly certain"
    if probability <= 0.03:
        return "hardly any chance"
    tenths = min(max(round(probability * 10), 1), 9)
    return f"{tenths} in 10"


def estimate(value: Estimate, decimals: int = 2, *, signed: bool = False) -> str:
    """Value and standard error, the error left out where none is known."""
    text = number(value.value, decimals, signed=signed)
    if value.standard_error is None:
        return f"{text} (error not known)"
    return f"{text} ± {number(value.standard_error, decimals)}"


def factor(log_exposure: float) -> str:
    """Change of log exposure [log10] as a bare factor."""
    return f"×{number(10**log_exposure, 2)}"


def length(millimetres: float, unit: str = "cm") -> str:
    """A length [mm] without its unit, in the studio's."""
    return shortest(millimetres / MM_PER_UNIT[unit], 1 if unit == "cm" else 2)


def is_finite(value: float) -> bool:
    """False for what must not be shown as a number."""
    return math.isfinite(value)
