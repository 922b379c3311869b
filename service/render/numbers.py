"""Numbers for reading: at most four significant digits, an estimate with as many as its band bears."""

from __future__ import annotations

import math

DIGITS = 4
"""Most significant digits of a number for reading; JSON and CSV keep all."""

FIXED = (1e-4, 1e6)
"""Range that is written without a power of ten."""


def magnitude(value: float) -> int:
    """Return the power of ten of the first digit."""
    return math.floor(math.log10(abs(value))) if value else 0


def number(value: float, decimals: int | None = None) -> str:
    """Return a number for reading.

    Parameters
    ----------
    value : float
        Finite.
    decimals : int, optional
        Digits after the point; by default what four significant digits need, without trailing zeros.

    Examples
    --------
    >>> number(25.7912), number(101.3), number(0.00004217), number(1234567.0), number(8.0)
    ('25.79', '101.3', '4.217e-5', '1.235e6', '8')
    """
    if isinstance(value, int) and abs(value) < FIXED[1]:
        return str(value)
    if value and not FIXED[0] <= abs(value) < FIXED[1]:
        mantissa, power = f"{value:.{DIGITS - 1}e}".split("e")
        return f"{_trimmed(mantissa)}e{int(power)}"
    if decimals is not None:
        return _unsigned_zero(f"{round(value, decimals):.{max(decimals, 0)}f}")
    places = DIGITS - 1 - magnitude(value)
    return _unsigned_zero(_trimmed(f"{round(value, places):.{max(places, 0)}f}"))


def _trimmed(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _unsigned_zero(text: str) -> str:
    return text.lstrip("-") if not text.strip("-0.") else text


def estimate_decimals(value: float, low: float, high: float) -> int:
    """Return the digits after the point that the band of an estimate bears.

    The band is then a few units of the last digit wide. The value has at least two digits and every digit before the
    point, so that it reads as the same number where it stands alone, and at most four.

    Parameters
    ----------
    value, low, high : float
        Finite.

    Examples
    --------
    >>> estimate_decimals(25.79, 25.0, 26.6), estimate_decimals(8.0, 8.0, 8.0), estimate_decimals(338.1, 304.3, 371.9)
    (1, 3, 0)
    """
    half = max(value - low, high - value)
    most = DIGITS - 1 - magnitude(value)
    if half <= 0:
        return most
    return min(most, max(math.ceil(-math.log10(half / 3.0)), 1 - magnitude(value), 0))


def span(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return value, low and high of an estimate with the same digits after the point.

    Parameters
    ----------
    value, low, high : float
        Finite.

    Examples
    --------
    >>> span(25.79, 25.0, 26.6)
    ('25.8', '25.0', '26.6')
    """
    if low == value == high:
        return (number(value),) * 3
    decimals = estimate_decimals(value, low, high)
    return number(value, decimals), number(low, decimals), number(high, decimals)


def bracket(low: float, high: float) -> tuple[str, str]:
    """Return the ends of a bracket: three digits of the larger, the smaller alike with at least two of its own.

    Ends that would read alike have four digits.

    Parameters
    ----------
    low, high : float
        Finite.

    Examples
    --------
    >>> bracket(9.03, 25.79), bracket(0.0421, 25.79), bracket(3.7, 12.37)
    (('9.0', '25.8'), ('0.042', '25.8'), ('3.7', '12.4'))
    """
    decimals = 2 - magnitude(max(abs(low), abs(high)))
    ends = number(low, max(decimals, 1 - magnitude(low)) if low else 0), number(high, decimals)
    return ends if ends[0] != ends[1] or low == high else (number(low, decimals + 1), number(high, decimals + 1))
