"""Values of an answer as text for reading: quantities with their band, brackets, lists, sources."""

from __future__ import annotations

import numbers
import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from service import spoken, units
from service.render.clean import visible
from service.render.numbers import bracket, number, span
from service.render.words import ABSENT, TRUTH, WORDED, capital, measured_unit, plain
from service.spoken import single

PARTS = ("value", "low", "high", "unit", "measure")
"""What belongs to a quantity; anything beside them in the same block is a further field."""

NUMBERED = re.compile(r"(?i)(table|tables|tab\.|eq|fig|clause|annex|section|chapter|page|p\.)")


def is_number(value: Any) -> bool:
    """Return whether a value is a number and not a truth value."""
    kind = type(value)
    if kind is float or kind is int:
        return True
    if kind is str or kind is dict or kind is list or value is None:
        return False
    return isinstance(value, numbers.Real) and not isinstance(value, bool | np.bool_)


def is_sequence(value: Any) -> bool:
    """Return whether a value is a list or an array."""
    kind = type(value)
    if kind is list or kind is tuple:
        return True
    if kind is str or kind is dict or kind is float or value is None:
        return False
    return isinstance(value, Sequence | np.ndarray) and not isinstance(value, str | bytes)


def is_quantity(value: Any) -> bool:
    """Return whether a block has at least one number, or a null that stands for one, and a unit or nothing else."""
    if not isinstance(value, Mapping) or "values" in value or not ("unit" in value or set(value) <= set(PARTS)):
        return False
    ends = [value[name] for name in PARTS[:3] if name in value]
    return bool(ends) and all(end is None or is_number(end) for end in ends)


def is_series(value: Any) -> bool:
    """Return whether a block is a column of numbers with a unit."""
    return isinstance(value, Mapping) and "unit" in value and is_sequence(value.get("values"))


def unit_of(quantity: Mapping[str, Any]) -> str:
    """Return the unit of a quantity or series, with the measure of a voltage."""
    return measured_unit(str(quantity.get("unit", "")), quantity.get("measure"))


def in_unit(quantity: Mapping[str, Any], unit: str = "") -> dict[str, Any]:
    """Return a quantity in the unit in which a person says it, or in another of its dimension.

    Parameters
    ----------
    quantity : mapping
        As answers hold it.
    unit : str
        By default the one that gives a number from 1 to 999.
    """
    own = str(quantity.get("unit", ""))
    dimension = spoken.dimension_of(own) if own else None
    ends = {name: float(quantity[name]) for name in PARTS[:3] if quantity.get(name) is not None}
    if dimension is None or not ends:
        return dict(quantity)
    inside = {name: units.to_si(end, own, dimension) for name, end in ends.items()}
    wanted = unit or spoken.unit_for(max(inside.values(), key=abs), dimension)
    if wanted == own:
        return dict(quantity)
    return {**quantity, "unit": wanted} | {name: units.shown(end, dimension, wanted) for name, end in inside.items()}


def shared_unit(quantities: Sequence[Mapping[str, Any]]) -> str:
    """Return the unit of a column: that of the answer, unless all its numbers are below one or beyond a thousand."""
    own = str(quantities[0].get("unit", ""))
    ends = [abs(float(one[name])) for one in quantities for name in PARTS[:3] if one.get(name) is not None]
    known = [end for end in ends if end]
    if not known or (max(known) >= spoken.LEAST.get(own, 1.0) and min(known) < 1000):
        return own
    dimension = spoken.dimension_of(own)
    return own if dimension is None else spoken.unit_for(units.to_si(max(known), own, dimension), dimension)


def amount(quantity: Mapping[str, Any], name: str = "", *, zeros: bool = False) -> str:
    """Return a quantity without its unit: ``25.8 (25.0 to 26.6)``, ``9.0 to 26``.

    Parameters
    ----------
    quantity : mapping
        As answers hold it.
    name : str
        Its field, which tells a safe end.
    zeros : bool
        Whether idle zeros stay, as in a column.
    """
    return _worded(quantity, "", name, spoken.OWN, zeros=zeros)


def quantity_text(quantity: Mapping[str, Any], name: str = "", *, given: bool = False) -> str:
    """Return a quantity with its unit and band; a bracket says that there is no single value.

    Parameters
    ----------
    quantity : mapping
        As answers hold it.
    name : str
        Its field, which tells a safe end.
    given : bool
        Whether it was asked, and has the digits that were typed.

    Examples
    --------
    >>> quantity_text({"value": 25.79, "low": 25.0, "high": 26.6, "unit": "kV", "measure": "peak"})
    '25.8 kV peak (25.0 to 26.6)'
    >>> quantity_text({"value": None, "low": 9.0, "high": 25.79, "unit": "kV", "measure": "peak"})
    '9.0 to 26 kV peak, no single value'
    >>> quantity_text({"value": 0.05, "unit": "kHz"})
    '50 Hz'
    """
    said = in_unit(quantity)
    own = spoken.CLEAN if given else spoken.OWN
    text = _worded(said, f" {visible(unit_of(said))}".rstrip(), name, own)
    bare = quantity.get("value", 0) is None and text != ABSENT
    return f"{text}, no single value" if bare else text


def _worded(quantity: Mapping[str, Any], unit: str, name: str, own: int, *, zeros: bool = False) -> str:
    value, low, high = (quantity.get(part) for part in PARTS[:3])

    def alone(end: Any, toward: str = "") -> str:
        if not unit_of(quantity) and not toward:
            return number(_number(end))
        return single(float(end), toward, own=own, zeros=zeros)

    match (value is not None, low is not None, high is not None):
        case (True, True, True):
            middle, first, last = span(float(value), float(low), float(high))  # type: ignore[arg-type]  # not None here
            return f"{middle}{unit}" + (f" ({first} to {last})" if first != last else "")
        case (True, False, False):
            return f"{alone(value, spoken.CAUTIOUS.get(name, ''))}{unit}"
        case (True, True, False):
            return f"{alone(value)}{unit} (at least {alone(low, 'down')})"
        case (True, False, True):
            return f"{alone(value)}{unit} (at most {alone(high, 'up')})"
        case (False, True, True):
            first, last = bracket(float(low), float(high))  # type: ignore[arg-type]  # not None here
            return f"{first} to {last}{unit}" if first != last else f"{first}{unit}"
        case (False, True, False):
            return f"at least {alone(low, 'down')}{unit}"
        case (False, False, True):
            return f"at most {alone(high, 'up')}{unit}"
    return ABSENT


def _number(value: Any) -> float | int:
    return int(value) if isinstance(value, numbers.Integral) else float(value)


def text_of(value: Any, name: str = "", *, given: bool = False) -> str:
    """Return any value of an answer as one line.

    Parameters
    ----------
    value : object
        Scalar, quantity, source, list or block of them.
    name : str
        Its field, which tells a safe end.
    given : bool
        Whether it was asked, and has the digits that were typed.
    """
    if isinstance(value, bool | np.bool_ | None):
        return TRUTH[None if value is None else bool(value)]
    if is_number(value):
        return number(_number(value))
    if isinstance(value, Mapping):
        return _block_text(value, name, given=given)
    if is_sequence(value):
        return _list_text(value, name, given=given)
    if name in WORDED:
        return visible(value).replace("-", " ")
    return visible(value)


def _list_text(values: Sequence[Any], name: str, *, given: bool) -> str:
    blocks = any(isinstance(value, Mapping) for value in values)
    return ("; " if blocks else ", ").join(text_of(value, name, given=given) for value in values) or "none"


def _block_text(block: Mapping[str, Any], name: str, *, given: bool) -> str:
    if is_quantity(block):
        further = [text_of(block[key]) for key in block if key not in PARTS and isinstance(block[key], str)]
        return ", ".join([quantity_text(block, name, given=given), *further])
    if "citation" in block:
        return source_text(block)
    if set(block) <= {"key", "text"} and "text" in block:
        return visible(block["text"])
    called = next((visible(block[key]) for key in ("title", "name", "key") if isinstance(block.get(key), str)), None)
    return called or "; ".join(
        f"{plain(str(key))} {text_of(value, str(key), given=given)}" for key, value in block.items()
    )


def source_text(source: Mapping[str, Any]) -> str:
    """Return a source in one line: citation, edition, table.

    Parameters
    ----------
    source : mapping
        With ``citation`` and possibly ``edition`` and ``table``; else its key.

    Examples
    --------
    >>> source_text({"key": "a", "citation": "A. Author, Title", "edition": "2nd ed.", "table": "5.3"})
    'A. Author, Title, 2nd ed., table 5.3'
    """
    citation = visible(source.get("citation") or source.get("key") or "")
    edition, table = (visible(source.get(name) or "") for name in ("edition", "table"))
    parts = [citation.rstrip(".")]
    if edition and edition not in citation:
        parts.append(edition)
    if table and table not in citation:
        parts.append(table if NUMBERED.match(table) else f"table {table}")
    return capital(", ".join(part for part in parts if part))
