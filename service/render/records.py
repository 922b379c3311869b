"""Blocks of an answer as flat records: field to value, nested names joined by a point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeGuard

import orjson

from service.render.quantities import PARTS, is_mapping, is_quantity, is_sequence, is_series

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
