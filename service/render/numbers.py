"""Numbers for reading, without a unit: an estimate has as many digits as its band bears."""

from __future__ import annotations

import math

from service.spoken import aligned, digits_of, single

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


def span(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return value, low and high of an estimate with the same digits after the point; the ends are rounded outward.

    Parameters
    ----------
    value, low, high : float
        Finite.

    Examples
    --------
    >>> span(25.79, 25.0, 26.6), span(338.1, 300.3, 371.9)
    (('25.8', '25.0', '26.6'), ('340', '300', '380'))
    """
    if low == value == high:
        return (single(value),) * 3
    digits, ends = digits_of(value, low, high), ((value, ""), (low, "down"), (high, "up"))
    middle, first, last = (_unsigned_zero(aligned(one, digits, way, value or high)) for one, way in ends)
    return middle, first, last


def bracket(low: float, high: float) -> tuple[str, str]:
    """Return the ends of a bracket, rounded away from each other: the smaller has two digits of its own.

    Parameters
    ----------
    low, high : float
        Finite.

    Examples
    --------
    >>> bracket(9.03, 25.79), bracket(0.0421, 25.79)
    (('9.0', '26'), ('0.042', '26'))
    """
    if low == high:
        return (single(low),) * 2
    digits, most = digits_of(None, low, high), max((low, high), key=abs)
    first, last = (
        _unsigned_zero(aligned(one, digits, way, most, own=True)) for one, way in ((low, "down"), (high, "up"))
    )
    return first, last
