"""Printed numbers to SI, by the unit that a column states.

A column in a unit that questions use is converted by `service.units`. Printed tables also use compound units, as
``1/(cm Torr)``: their factor is composed of the same spellings. A unit that is not composed of them is defined in the
data package beside its name (``"unit": "Td", "unit_in": "1e-21 V m2"``). No conversion factor stands here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache

from service.units import DIMENSIONS, NUMBER, PLAIN_NUMBER

Converter = Callable[[str], float]

NO_UNIT = ("", "-", "1")
"""Printed marks of a number without a unit."""

COMPOUND = re.compile(rf"(?:(?P<number>{NUMBER}) )?(?P<above>[^/]+)(?:/(?P<below>[^/]+))?", re.ASCII)
GROUP = re.compile(r"\((?P<inside>[^()]+)\)(?:\^(?P<power>[0-9.]+))?", re.ASCII)
FACTOR = re.compile(r"(?P<name>g_m3|[A-Za-z_%]+)(?:\^?(?P<power>[0-9.]+))?", re.ASCII)

_SCALES: dict[str, Decimal] = {
    name: unit.scale
    for kind in reversed(list(DIMENSIONS.values()))
    for name, unit in kind.spellings.items()
    if not unit.offset
}


def is_numeral(text: str) -> bool:
    """Return whether a cell is a decimal numeral; ``nan``, ``inf`` and ``1_000`` are not."""
    return PLAIN_NUMBER.fullmatch(text) is not None


@lru_cache(maxsize=1024)
def scale(unit: str) -> Decimal:
    """Return how many SI units are in one compound unit.

    Parameters
    ----------
    unit : str
        Spellings of `service.units.DIMENSIONS`, side by side, with powers; one solidus; ``1`` stands for no unit.

    Raises
    ------
    ValueError
        When a name in it is not a unit of the service.

    Examples
    --------
    >>> float(scale("kV/(cm bar)"))
    1.0
    >>> float(scale("1e-21 V m2"))
    1e-21
    """
    match = COMPOUND.fullmatch(unit)
    if match is None:
        raise ValueError(f"'{unit}' is not a unit")
    above, below = _product(match["above"]), _product(match["below"] or "1")
    return Decimal(match["number"] or 1) * above / below


def _product(text: str) -> Decimal:
    if text.strip() in NO_UNIT:
        return Decimal(1)
    group = GROUP.fullmatch(text)
    factors = (group["inside"] if group else text).split()
    product = Decimal(1)
    for factor in factors:
        match = FACTOR.fullmatch(factor)
        if match is None or match["name"] not in _SCALES:
            raise ValueError(f"'{factor}' is not a unit of the service")
        product *= _SCALES[match["name"]] ** Decimal(match["power"] or 1)
    return product ** Decimal((group["power"] if group else None) or 1)


def converter(unit: str, dimension: str, definition: str | None = None) -> Converter:
    """Return the function that turns a printed cell into SI.

    Parameters
    ----------
    unit : str
        As printed.
    dimension : str
        Key of `service.units.DIMENSIONS`; ``number`` leaves the cell as it is; ``compound`` composes the factor.
    definition : str, optional
        The compound unit in terms of the service's units, where ``unit`` is a name of its own.

    Raises
    ------
    ValueError
        When the dimension does not know the unit.
    """
    if dimension == "number":
        return float
    if dimension == "compound":
        factor = scale(definition or unit)
        return lambda text: float(Decimal(text) * factor)
    kind = DIMENSIONS.get(dimension)
    if kind is None or unit not in kind.spellings:
        raise ValueError(f"'{unit}' is not a unit of the dimension '{dimension}'")
    return kind.spellings[unit].to_si


@lru_cache(maxsize=1024)
def converter_of_row(unit: str) -> Converter:
    """Return the converter for a unit that stands in the row itself.

    Parameters
    ----------
    unit : str
        As printed in the row: a spelling of any dimension, or a compound unit.

    Raises
    ------
    ValueError
        When no dimension knows the unit and it cannot be composed, or two dimensions spell it alike (``C``).

    Examples
    --------
    >>> converter_of_row("degC")("20")
    293.15
    >>> converter_of_row("kV/mm")("0.534")
    534000.0
    """
    if unit in NO_UNIT:
        return float
    known = {kind.spellings[unit]: name for name, kind in DIMENSIONS.items() if unit in kind.spellings}
    if len(known) > 1:
        raise ValueError(f"'{unit}' is a unit of {' and of '.join(known.values())}; write another spelling")
    return converter(unit, next(iter(known.values()), "compound"))
