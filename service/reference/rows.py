"""Checks of the rows of a table: every cell, unique names, columns that must rise."""

from __future__ import annotations

from collections.abc import Sequence

from service.errors import BadReferenceData
from service.reference.descriptor import Resource

NumberedRows = Sequence[tuple[int, tuple[str, ...]]]
"""Line number in the file and cells of each row."""


def check_rows(file: str, resource: Resource, rows: NumberedRows) -> None:
    """Raise at the first row that does not fit the resource.

    Parameters
    ----------
    file : str
        For the error.
    resource : Resource
        Fields, primary key and the columns that must rise.
    rows : sequence of (int, tuple of str)
        Line number and cells.

    Raises
    ------
    BadReferenceData
        With the file, the line and the reason.
    """
    for line, cells in rows:
        fault = _fault(resource, cells)
        if fault is not None:
            raise BadReferenceData(file, line, fault)
    _check_names(file, resource, rows)
    _check_order(file, resource, rows)


def _fault(resource: Resource, cells: Sequence[str]) -> str | None:
    if len(cells) != len(resource.fields):
        return f"has {len(cells)} cells; the schema states {len(resource.fields)}"
    by_name = {field.name: cell for field, cell in zip(resource.fields, cells, strict=True)}
    for field in resource.fields:
        cell = by_name[field.name]
        fault = field.fault(cell)
        if fault is None and field.unit_field and cell not in field.missing:
            fault = field.fault_of_unit(by_name[field.unit_field])
        if fault is not None:
            return fault
    return None


def _check_names(file: str, resource: Resource, rows: NumberedRows) -> None:
    if resource.primary_key is None:
        return
    place = _place(resource, resource.primary_key)
    seen: set[str] = set()
    for line, cells in rows:
        if cells[place] in seen or cells[place] in resource.fields[place].missing:
            raise BadReferenceData(
                file, line, f"{resource.primary_key} '{cells[place]}' is empty or stands there twice"
            )
        seen.add(cells[place])


def _check_order(file: str, resource: Resource, rows: NumberedRows) -> None:
    groups = [_place(resource, name) for name in resource.within]
    for name in resource.rises:
        place = _place(resource, name)
        last: dict[tuple[str, ...], float] = {}
        for line, cells in rows:
            if cells[place] in resource.fields[place].missing:
                continue
            group = tuple(cells[each] for each in groups)
            number = float(cells[place])
            if number <= last.get(group, float("-inf")):
                raise BadReferenceData(file, line, f"{name} is {cells[place]} and does not rise above the row before")
            last[group] = number


def _place(resource: Resource, name: str) -> int:
    return [field.name for field in resource.fields].index(name)
