"""What a person reads in place of keys, units and quantities, and blocks of an answer as flat records of it.

An estimate has as many digits as its band bears; a field is called by its words.
"""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeGuard

import numpy as np
import orjson

from service import spoken, units
from service.render.layout import visible
from service.spoken import ABSENT, printed, single, unsigned

SPELLED: Mapping[str, str] = {
    "ac": "AC",
    "also": "other methods",
    "cti": "CTI",
    "dc": "DC",
    "pd": "pressure times distance",
    "pd_from": "pressure times distance from",
    "pd_to": "pressure times distance to",
    "jumps_at": "even flat plates jump up to",
    "inside_band_percent": "inside the stated band",
    "row": "read at",
    "surface_flashover": "flashover figures for the voltage asked",
    "p95_percent": "95th percentile (%)",
    "uncertainty_percent": "uncertainty (± %)",
    "within_3_percent": "within 3 %",
    "within_5_percent": "within 5 %",
}
"""Fields whose name in words is not their key with spaces."""

SINGULAR: Mapping[str, str] = {"gaps": "gap", "pressures": "pressure", "distances": "distance"}
"""Lists whose elements are themselves quantities, and what one is called."""

TRUTH: Mapping[bool | None, str] = {True: "yes", False: "no", None: "–"}

WORDED = ("electrodes", "verdict", "state", "output_current_is", "governed_by", "place")
"""Fields whose value is a key that reads as words, with a space for each hyphen."""

MEASURES: Mapping[str, str] = {"unknown": ", measure unknown"}
"""Measures of a voltage that do not simply follow its unit."""

PROVENANCE: Mapping[str, str] = {
    "reproduction": "read in a public reproduction",
    "reproduction+memory": "read in a public reproduction, and equal to memory",
    "memory": "from memory, not compared with the printed source",
    "computed": "computed",
    "derived": "derived",
    "mixed": "rows of several provenances",
}
"""How numbers came here, as it is said."""


def measured_unit(name: str, measure: str | None) -> str:
    """Return a unit with the measure of a voltage: ``kV peak``."""
    return printed(name) + MEASURES.get(measure, f" {measure}") if measure else printed(name)


def plain(key: str) -> str:
    """Return a key in words, in lower case.

    Examples
    --------
    >>> plain("breakdown_voltage"), plain("ratio_error_percent"), plain("uniform-field")
    ('breakdown voltage', 'ratio error (%)', 'uniform-field')
    """
    if key in SPELLED:
        return SPELLED[key]
    words = re.sub(r"_percent$", " (%)", key).replace("_", " ").strip()
    return " ".join(SPELLED.get(word, word) for word in words.split(" "))


def label(key: str) -> str:
    """Return a key in words, with a capital.

    Examples
    --------
    >>> label("breakdown_voltage")
    'Breakdown voltage'
    """
    return capital(plain(key))


def capital(text: str) -> str:
    """Return a text with its first letter as a capital."""
    return text[:1].upper() + text[1:]


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
        return f"{trimmed(mantissa)}e{int(power)}"
    if decimals is not None:
        return unsigned(f"{round(value, decimals):.{max(decimals, 0)}f}")
    places = DIGITS - 1 - magnitude(value)
    return unsigned(trimmed(f"{round(value, places):.{max(places, 0)}f}"))


def trimmed(text: str) -> str:
    """Return a number without idle zeros after its point."""
    return text.rstrip("0").rstrip(".") if "." in text else text


PLAIN = frozenset({str, int, float, bool, list, tuple, type(None)})
"""Types of values that are no block."""

PARTS = ("value", "low", "high", "unit", "measure")
"""What belongs to a quantity; anything beside them in the same block is a further field."""

ALONE = frozenset(PARTS)
"""Fields of a block that is a quantity and nothing else."""

NUMBERED = re.compile(r"(?i)(table|tables|tab\.|eq|fig|clause|annex|section|chapter|page|p\.)")


def is_number(value: object) -> TypeGuard[float]:
    """Return whether a value is a number and not a truth value."""
    kind = type(value)
    if kind is float or kind is int:
        return True
    if kind is str or kind is dict or kind is list or value is None:
        return False
    return isinstance(value, numbers.Real) and not isinstance(value, bool | np.bool_)


def is_sequence(value: object) -> TypeGuard[Sequence[Any]]:
    """Return whether a value is a list or an array."""
    kind = type(value)
    if kind is list or kind is tuple:
        return True
    if kind is str or kind is dict or kind is float or value is None:
        return False
    return isinstance(value, Sequence | np.ndarray) and not isinstance(value, str | bytes)


def is_mapping(value: object) -> TypeGuard[Mapping[str, object]]:
    """Return whether a value is a block; what it mostly is, is told by its type alone."""
    kind = type(value)
    return kind is dict or (kind not in PLAIN and isinstance(value, Mapping))


def is_quantity(value: object) -> TypeGuard[Mapping[str, object]]:
    """Return whether a block has at least one number, or a null that stands for one, and a unit or nothing else."""
    if not is_mapping(value) or "values" in value or not ("unit" in value or value.keys() <= ALONE):
        return False
    some = False
    for name in PARTS[:3]:
        if name in value:
            end, some = value[name], True
            if end is not None and not is_number(end):
                return False
    return some


def is_series(value: object) -> TypeGuard[Mapping[str, Any]]:
    """Return whether a block is a column of numbers with a unit."""
    return is_mapping(value) and "unit" in value and is_sequence(value.get("values"))


def unit_of(quantity: Mapping[str, Any]) -> str:
    """Return the unit of a quantity or series, with the measure of a voltage."""
    return measured_unit(str(quantity.get("unit", "")), quantity.get("measure"))


def in_unit(quantity: Mapping[str, Any], unit: str = "") -> dict[str, object]:
    """Return a quantity in the unit in which a person says it, or in another of its dimension.

    Parameters
    ----------
    quantity : mapping
        As answers hold it.
    unit : str
        By default the one that gives a number from 1 to 999.
    """
    own = str(quantity.get("unit", ""))
    if unit == own:
        return dict(quantity)
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


def amount(quantity: Mapping[str, object], name: str = "", *, zeros: bool = False) -> str:
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


def quantity_text(quantity: Mapping[str, object], name: str = "", *, given: bool = False) -> str:
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
    safe = spoken.CAUTIOUS.get(name, "") if low is None and high is None else ""

    def alone(end: float, toward: str) -> str:
        toward = toward or safe
        return single(float(end), toward, own=own, zeros=zeros) if unit_of(quantity) or toward else number(_exact(end))

    return spoken.in_words(low, value, high, unit, alone)


def _exact(value: Any) -> float | int:
    return int(value) if isinstance(value, numbers.Integral) else float(value)


def text_of(value: object, name: str = "", *, given: bool = False) -> str:
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
        return number(_exact(value))
    if isinstance(value, Mapping):
        return _block_text(value, name, given=given)
    if is_sequence(value):
        return _list_text(value, name, given=given)
    if name in WORDED:
        return visible(value).replace("-", " ")
    return visible(value)


def _list_text(values: Sequence[object], name: str, *, given: bool) -> str:
    blocks = any(isinstance(value, Mapping) for value in values)
    return ("; " if blocks else ", ").join(text_of(value, name, given=given) for value in values) or "none"


def _block_text(block: Mapping[str, object], name: str, *, given: bool) -> str:
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


def source_text(source: Mapping[str, object]) -> str:
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


Record = dict[str, Any]

OWN = ""
"""Field under which an element that is itself a quantity holds it."""

INHERITING = ("sparks_below", "holds_above")
"""Plain numbers beside a quantity that share its unit."""


def is_block_list(value: object) -> TypeGuard[Sequence[Mapping[str, object]]]:
    """Return whether a value is a list of blocks, and not empty."""
    return is_sequence(value) and len(value) > 0 and all(is_mapping(one) for one in value)


def flat(block: Mapping[str, object], prefix: str = "") -> Record:
    """Return a block as one record; lists stay as they are.

    Parameters
    ----------
    block : mapping
        A result block; where it is a quantity with further fields, the quantity itself stands under `OWN`.
    prefix : str
        Name of the block within its parent.
    """
    record: Record = {}
    own = is_quantity(block)
    if own:
        record[prefix] = {part: block[part] for part in PARTS if part in block}
    for key, value in block.items():
        if own and key in PARTS:
            continue
        name = f"{prefix}.{key}" if prefix else str(key)
        if own and key in INHERITING and not is_mapping(value):
            record[name] = {"value": value, "unit": block.get("unit", "")}
        elif is_mapping(value) and not is_series(value) and "citation" not in value:
            if value.keys() <= ALONE and is_quantity(value):
                record[name] = value
            else:
                record |= flat(value, name)
        else:
            record[name] = value
    return record


def has_series(block: Mapping[str, object]) -> bool:
    """Return whether a block holds columns of numbers."""
    return any(is_series(value) for value in block.values())


def rows_of(block: Mapping[str, object]) -> int:
    """Return how many rows a block of columns has."""
    return max(len(value["values"]) for value in block.values() if is_series(value))


def series_records(block: Mapping[str, object], places: Sequence[int] | None = None) -> list[Record]:
    """Return a block of columns as one record per row; its other fields are left out.

    Parameters
    ----------
    block : mapping
        Columns with units, and lists as long as they are.
    places : sequence of int, optional
        The rows wanted; all where none are given.
    """
    count = rows_of(block)
    wanted = range(count) if places is None else places
    columns = {key: cells for key, value in block.items() if (cells := _cells(value, count, wanted)) is not None}
    return [{key: cells[row] for key, cells in columns.items()} for row in range(len(wanted))]


def _cells(value: object, count: int, places: Sequence[int]) -> Sequence[object] | None:
    if is_series(value):
        rest = {part: value[part] for part in ("unit", "measure") if part in value}
        bounds = {part: value[part] for part in ("low", "high") if is_sequence(value.get(part))}
        values = value["values"] if len(value["values"]) == count else [value["values"][0]] * count
        return [
            {"value": values[place], **_present({part: column[place] for part, column in bounds.items()}), **rest}
            for place in places
        ]
    return [value[place] for place in places] if is_sequence(value) and len(value) == count else None


def _present(parts: Record) -> Record:
    return {key: value for key, value in parts.items() if value is not None}


def expanded(block: Mapping[str, object]) -> list[Record]:
    """Return a block as records, one per element of the lists of blocks and columns inside it.

    Parameters
    ----------
    block : mapping
        A result block.
    """
    record = flat(block)
    lists = {name: value for name, value in record.items() if is_block_list(value)}
    rest = {name: value for name, value in record.items() if name not in lists and not is_series(value)}
    if has_series(block):
        rows = series_records(block)
        fixed = {name: value for name, value in rest.items() if name not in rows[0]} if rows else rest
        return [{**fixed, **row} for row in rows]
    if not lists:
        return [rest]
    inner = [(name, row) for name, elements in lists.items() for one in elements for row in expanded(one)]
    return [{**rest, **_prefixed(name, row)} for name, row in inner]


def _prefixed(name: str, record: Record) -> Record:
    return {f"{name}.{key}" if key else name: value for key, value in record.items()}


def different(values: Sequence[Any]) -> tuple[list[Any], list[int]]:
    """Return the different ones of some values, and which of them stands in each place: a long list repeats much.

    Examples
    --------
    >>> different([{"value": 8.0}, None, 1, True, {"value": 8.0}])
    ([{'value': 8.0}, None, 1, True], [0, 1, 2, 3, 0])
    """
    known: dict[bytes, int] = {}
    places = [
        known.setdefault(orjson.dumps(value, option=orjson.OPT_SERIALIZE_NUMPY, default=repr), len(known))
        for value in values
    ]
    first: dict[int, Any] = dict(zip(reversed(places), reversed(values), strict=True))
    return [first[place] for place in range(len(known))], places


def union(records: Sequence[Record]) -> list[str]:
    """Return every field of several records; one that earlier records lack follows what it follows in its own.

    Examples
    --------
    >>> union([{"title": "a", "exceeded": None}, {"title": "b", "asked": 2.0, "exceeded": True}])
    ['title', 'asked', 'exceeded']
    """
    names: list[str] = []
    for record in records:
        place = len(names)
        for name in record:
            if name in names:
                place = names.index(name) + 1
            else:
                names.insert(place, name)
                place += 1
    return names
