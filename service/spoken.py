"""Quantities as a person says them: as many digits as their band bears, a safe end rounded towards caution, and the
unit that was asked with, or else the one that gives a number from 1 to 999.

JSON carries one unit per dimension and all its digits; everything that a person reads goes through here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from types import MappingProxyType

from service import units
from service.units import ROUNDING, Quantity

FEW, SEVERAL = 2, 3
"""Significant digits of what is known to 10 % or worse, and of everything else."""
WIDE = 0.1
"""Half width of a band, over its middle, from which two digits are all that it bears."""
OWN = 4
"""Most digits that a number has of its own, not computed: it is shown as it stands in its row."""
CLEAN = 12
"""Digits that are kept before a rounding with a direction, so that the noise of floats does not carry a digit."""

ROUNDED: Mapping[str, str] = MappingProxyType({"up": ROUND_CEILING, "down": ROUND_FLOOR, "": ROUND_HALF_EVEN})

CAUTIOUS: Mapping[str, str] = MappingProxyType(
    {
        "low": "down",
        "high": "up",
        "holds_above": "up",
        "keeps_apart_above": "up",
        "sparks_below": "down",
        "jumps_below": "down",
        "withstand_estimate": "down",
    }
)
"""Which way the ends that people rely on are rounded, by the name of their field."""

PRINTED: Mapping[str, str] = MappingProxyType(
    {
        "um": "µm",
        "degC": "°C",
        "degF": "°F",
        "Pa_m": "Pa·m",
        "Torr_cm": "Torr·cm",
        "bar_mm": "bar·mm",
        "bar_cm": "bar·cm",
        "g_m3": "g/m³",
        "g/m3": "g/m³",
        "kV_mm": "kV/mm",
        "percent": "%",
        "uV": "µV",
        "uF": "µF",
        "uC": "µC",
        "uA": "µA",
        "uJ": "µJ",
        "us": "µs",
        "ohm": "Ω",
        "kohm": "kΩ",
        "Mohm": "MΩ",
        "Gohm": "GΩ",
        "deg": "°",
    }
)
"""Units whose printed form is not their spelling in a question."""

LADDERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "length": ("um", "mm", "m", "km"),
        "altitude": ("m",),
        "pressure": ("Pa", "kPa", "MPa"),
        "temperature": ("degC",),
        "pd": ("Pa_m",),
        "voltage": ("mV", "V", "kV", "MV"),
        "humidity": ("g/m3",),
        "fraction": ("percent",),
        "frequency": ("Hz", "kHz", "MHz"),
        "field": ("kV/mm",),
        "capacitance": ("pF", "nF", "uF", "F"),
        "charge": ("nC", "uC", "mC", "C"),
        "energy": ("uJ", "mJ", "J", "kJ"),
        "current": ("uA", "mA", "A", "kA"),
        "power": ("mW", "W", "kW"),
        "resistance": ("ohm", "kohm", "Mohm", "Gohm"),
        "time": ("ns", "us", "ms", "s"),
        "angle": ("deg",),
    }
)
"""Units that are spoken of each dimension, smallest first."""


LEAST: Mapping[str, float] = MappingProxyType({"mm": 0.0995})
"""Least number that is said with a unit, where it is not one: a fifth of a millimetre is 0.2 mm."""


@dataclass(frozen=True)
class Spoken:
    """A number and its unit, ready to be read.

    Parameters
    ----------
    number, unit : str
    """

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number}{'' if self.unit == '°' else ' '}{self.unit}".rstrip()


def printed(unit: str) -> str:
    """Return a unit as it is printed."""
    return PRINTED.get(unit, unit)


def rounded(value: float, digits: int = SEVERAL, toward: str = "") -> Decimal:
    """Return a number with so many significant digits.

    Parameters
    ----------
    value : float
        Finite.
    digits : int
    toward : str
        ``up``, ``down``, or empty for the nearest.

    Examples
    --------
    >>> rounded(14.8013, 3, "up"), rounded(7.8439, 2, "down"), rounded(3.0000000000000004, 2, "up")
    (Decimal('14.9'), Decimal('7.8'), Decimal('3.0'))
    """
    if not value:
        return Decimal(0)
    clean = Decimal(f"{value:.{CLEAN - 1}e}")
    return clean.quantize(Decimal(1).scaleb(clean.adjusted() - digits + 1), rounding=ROUNDED[toward])


def digits_of(value: float | None, low: float | None, high: float | None) -> int:
    """Return how many digits a band bears."""
    if low is None or high is None or low == high:
        return SEVERAL
    middle = value if value else (low + high) / 2
    return FEW if middle and (high - low) / 2 / abs(middle) >= WIDE * (1 - ROUNDING) else SEVERAL


def single(value: float, toward: str = "", *, own: int = OWN, zeros: bool = False) -> str:
    """Return a number without a band: three digits, or all of its own where those are few, as of a printed row.

    Parameters
    ----------
    value : float
        Finite.
    toward : str
        ``up`` or ``down`` for a safe end, which always has three digits.
    own : int
        Most digits of its own that are kept.
    zeros : bool
        Whether idle zeros stay, as in a column.

    Examples
    --------
    >>> single(25.7912), single(1.294), single(14.8421, "up"), single(2.0, zeros=True), single(500000.0)
    ('25.8', '1.294', '14.9', '2.00', '500000')
    """
    if not value:
        return "0"
    clean = Decimal(f"{value:.{CLEAN - 1}e}").normalize()
    few = len(clean.as_tuple().digits)
    digits = few if not toward and SEVERAL < few <= own else SEVERAL
    return plain(rounded(value, digits, toward), zeros=zeros)


def plain(number: Decimal, *, zeros: bool = True) -> str:
    """Return a rounded number without a power of ten; idle zeros behind the point may be dropped."""
    text = f"{number:f}"
    return text if zeros or "." not in text else text.rstrip("0").rstrip(".")


def unit_for(value: float, dimension: str) -> str:
    """Return the spoken unit that gives a number from 1 to 999, else the nearest one."""
    ladder = LADDERS.get(dimension)
    if ladder is None:
        return units.DIMENSIONS[dimension].shown
    if not value:
        return units.DIMENSIONS[dimension].shown
    fitting = (name for name in reversed(ladder) if abs(units.shown(value, dimension, name)) >= LEAST.get(name, 0.9995))
    return next(fitting, ladder[0])


def speak(
    value: float, dimension: str, *, digits: int = SEVERAL, toward: str = "", unit: str = "", zeros: bool = True
) -> Spoken:
    """Return one quantity in words.

    Parameters
    ----------
    value : float
        SI.
    dimension : str
        Key of `units.DIMENSIONS`.
    digits : int
    toward : str
        ``up`` or ``down`` for a safe end.
    unit : str
        The unit wanted; by default the one that gives a number from 1 to 999.
    zeros : bool
        Whether idle zeros stay; they do in an estimate, not in what was given.

    Examples
    --------
    >>> str(speak(0.014803, "length", digits=2, toward="up")), str(speak(24.0, "voltage", zeros=False))
    ('15 mm', '24 V')
    """
    name = unit or unit_for(value, dimension)
    number = rounded(units.shown(value, dimension, name), digits, toward)
    return Spoken(plain(number, zeros=zeros), printed(name))


def said(value: float, dimension: str, *, unit: str = "", digits: int = OWN) -> str:
    """Return a given quantity in words, without idle zeros: what was typed, or a row of a table."""
    return str(speak(value, dimension, digits=digits, unit=unit, zeros=False))


def between(low: float, high: float, dimension: str, *, unit: str = "", digits: int = OWN) -> str:
    """Return a given range in words; a unit that both ends have is said once.

    Examples
    --------
    >>> between(97e3, 104e3, "pressure"), between(8e-4, 2.0, "length"), between(0.05, 0.05, "length")
    ('97 to 104 kPa', '0.8 mm to 2 m', '50 mm')
    """
    first, last = (said(end, dimension, unit=unit, digits=digits) for end in (low, high))
    (number, _, word), other = first.partition(" "), last.partition(" ")[2]
    return last if first == last else f"{number if word == other else first} to {last}"


@lru_cache(maxsize=256)
def dimension_of(unit: str) -> str | None:
    """Return the dimension whose answers have a unit, or else the first that reads it."""
    own = (key for key, one in units.DIMENSIONS.items() if one.shown == unit)
    return next(own, next((key for key, one in units.DIMENSIONS.items() if unit in one.spellings), None))


def told(quantity: Quantity, end: str = "value", *, digits: int = SEVERAL, toward: str = "", zeros: bool = True) -> str:
    """Return one number of a quantity in words, with the measure of a voltage.

    Examples
    --------
    >>> told(Quantity(0.0148013, "length"), toward="up"), told(Quantity(None, "pressure", low=23.6), "low", digits=2)
    ('14.9 mm', '24 Pa')
    """
    value = {"value": quantity.value, "low": quantity.low, "high": quantity.high}[end]
    if value is None:
        raise ValueError(f"there is no {end} to tell")
    return f"{speak(value, quantity.dimension, digits=digits, toward=toward, zeros=zeros)} {quantity.stated}".rstrip()


def span_of(quantity: Quantity) -> str:
    """Return a quantity, an estimate or a bracket, in words.

    Examples
    --------
    >>> span_of(Quantity(None, "voltage", low=9.03e3, high=25.79e3))
    '9.0 to 26 kV peak'
    """
    return span(quantity.low, quantity.value, quantity.high, quantity.dimension, measure=quantity.stated)


def span(
    low: float | None,
    value: float | None,
    high: float | None,
    dimension: str,
    *,
    unit: str = "",
    measure: str = "",
) -> str:
    """Return an estimate or a bracket in words.

    Parameters
    ----------
    low, value, high : float or None
        SI; a bracket has no value, an open end is ``None``.
    dimension : str
    unit : str
    measure : str
        Of a voltage, said behind its unit.

    Examples
    --------
    >>> span(25.0e3, 25.79e3, 26.6e3, "voltage"), span(8.6192e3, None, 26.56e3, "voltage")
    ('25.8 kV (25.0 to 26.6)', '8.6 to 27 kV')
    >>> span(8.6192e3, None, None, "voltage")
    'at least 8.61 kV'
    """
    largest = max((end for end in (low, value, high) if end is not None), key=abs, default=None)
    if largest is None:
        return ABSENT
    name = unit or unit_for(largest, dimension)
    first, middle, last = (None if end is None else units.shown(end, dimension, name) for end in (low, value, high))
    word = f" {printed(name)} {measure}".rstrip()
    return in_words(first, middle, last, word, lambda end, toward: single(end, toward, own=SEVERAL, zeros=True))


ABSENT = "–"
"""Said where there is nothing."""


def in_words(
    low: float | None, value: float | None, high: float | None, unit: str, alone: Callable[[float, str], str]
) -> str:
    """Return an estimate or a bracket of numbers in words, those of a band with the digits that it bears.

    Parameters
    ----------
    low, value, high : float or None
        In one unit; a bracket has no value, an open end is ``None``.
    unit : str
        Said behind the number that counts, with the space before it.
    alone : callable
        Says a number that has no band, rounded ``up``, ``down`` or to the nearest.

    Examples
    --------
    >>> in_words(25.0, 25.79, 26.6, " kV", single), in_words(9.03, None, 25.79, " kV", single)
    ('25.8 kV (25.0 to 26.6)', '9.0 to 26 kV')
    >>> in_words(9.03, 25.79, None, "", single), in_words(None, None, 8.6192, " kV", single)
    ('25.79 (at least 9.03)', 'at most 8.62 kV')
    """
    match (value, low, high):
        case (None, None, None):
            return ABSENT
        case (None, None, _) if high is not None:
            return f"at most {alone(high, 'up')}{unit}"
        case (None, _, None) if low is not None:
            return f"at least {alone(low, 'down')}{unit}"
        case (None, _, _) if low is not None and high is not None:
            first, last = bracket(low, high)
            return f"{first} to {last}{unit}" if first != last else f"{first}{unit}"
    assert value is not None
    if low is not None and high is not None:
        middle, first, last = estimate(value, low, high)
        return f"{middle}{unit}" + (f" ({first} to {last})" if first != last else "")
    bound = "" if low is None else f" (at least {alone(low, 'down')})"
    bound += "" if high is None else f" (at most {alone(high, 'up')})"
    return f"{alone(value, '')}{unit}{bound}"


def estimate(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return value, low and high of an estimate with the same digits after the point; the ends are rounded outward.

    Examples
    --------
    >>> estimate(25.79, 25.0, 26.6), estimate(338.1, 300.3, 371.9)
    (('25.8', '25.0', '26.6'), ('340', '300', '380'))
    """
    if low == value == high:
        return (single(value),) * 3
    digits, ends = digits_of(value, low, high), ((value, ""), (low, "down"), (high, "up"))
    middle, first, last = (unsigned(aligned(one, digits, way, value or high)) for one, way in ends)
    return middle, first, last


def bracket(low: float, high: float) -> tuple[str, str]:
    """Return the ends of a bracket, rounded away from each other: the smaller has two digits of its own.

    Examples
    --------
    >>> bracket(9.03, 25.79), bracket(0.0421, 25.79)
    (('9.0', '26'), ('0.042', '26'))
    """
    if low == high:
        return (single(low),) * 2
    digits, most = digits_of(None, low, high), max((low, high), key=abs)
    first, last = (unsigned(aligned(one, digits, way, most, own=True)) for one, way in ((low, "down"), (high, "up")))
    return first, last


def unsigned(text: str) -> str:
    """Return a number whose zero has no sign."""
    return text.lstrip("-") if not text.strip("-0.") else text


def aligned(value: float, digits: int, toward: str, leading: float, *, own: bool = False) -> str:
    """Return a number of a span with as many decimals as the leading one; with two digits of its own at least.

    Parameters
    ----------
    value : float
    digits : int
        Of the leading number: the value of an estimate, the larger end of a bracket.
    toward : str
        ``up``, ``down`` or empty.
    leading : float
    own : bool
        Whether it has two digits of its own at least.
    """
    if not value:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(leading)))
    if own:
        decimals = max(decimals, FEW - 1 - math.floor(math.log10(abs(value))))
    clean = Decimal(f"{value:.{CLEAN - 1}e}")
    return f"{clean.quantize(Decimal(1).scaleb(-decimals), rounding=ROUNDED[toward]):f}"
