"""Fields of a table: what a column is called, its unit and quantity, and which cells it takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from service.reference.conversion import Converter, converter, converter_of_row, is_number

NUMERIC = ("number", "integer")
TYPES = (*NUMERIC, "string")

PROVENANCE_WORDS = ("reproduction+memory", "reproduction", "computed", "derived", "memory")
"""How a number came here, the best supported first; a column ``note`` holds what else is to be said."""


def weakest(words: Iterable[str]) -> str:
    """Return the least supported of several provenance words, which is what a number made of several rows has.

    Examples
    --------
    >>> weakest(["reproduction", "memory", "computed"])
    'memory'
    """
    return max(words, key=PROVENANCE_WORDS.index)


@dataclass(frozen=True)
class Field:
    """One column of a table.

    Parameters
    ----------
    name : str
        Header in the CSV file, with the printed unit.
    title : str
        In words.
    type : str
        ``number``, ``integer`` or ``string``.
    quantity : str
        Name by which programs ask for the column.
    unit : str or None
        Printed unit of a numeric column.
    dimension : str or None
        Key of `service.units.DIMENSIONS`, or ``number``, ``compound``, ``by-row``; of a numeric column.
    description : str or None
        What else is to be known, for instance that the column is derived from a printed cell.
    unit_in : str or None
        Definition of a compound unit that has a name of its own.
    unit_field : str or None
        Header of the column that holds the unit of each row.
    constraints : mapping
        Table Schema constraints: ``required``, ``minimum``, ``maximum``, ``enum``, ``pattern``.
    missing : tuple of str
        Printed marks that mean an empty cell.
    """

    name: str
    title: str
    type: str
    quantity: str
    unit: str | None
    dimension: str | None
    description: str | None
    unit_in: str | None
    unit_field: str | None
    constraints: Mapping[str, Any]
    missing: tuple[str, ...]

    @property
    def numeric(self) -> bool:
        """Whether the column is served as numbers."""
        return self.type in NUMERIC

    @property
    def required(self) -> bool:
        """Whether an empty cell is a fault."""
        return bool(self.constraints.get("required", False))

    def converter(self) -> Converter | None:
        """Return the function from cell to SI, or ``None`` where the unit stands in each row."""
        if self.dimension == "by-row":
            return None
        return converter(self.unit or "", self.dimension or "number", self.unit_in)

    def fault(self, cell: str) -> str | None:
        """Return what is wrong with a cell, or ``None``.

        Parameters
        ----------
        cell : str
            As it stands in the file.
        """
        if cell in self.missing:
            return f"{self.name} is empty, but required" if self.required else None
        if self.quantity == "provenance" and cell not in PROVENANCE_WORDS:
            return f"'{cell}' is no provenance word; the words are {', '.join(PROVENANCE_WORDS)}; a remark is a note"
        if self.numeric and not is_number(cell):
            return f"{self.name} is '{cell}', not a number"
        if self.type == "integer" and not re.fullmatch(r"[+-]?[0-9]+", cell, re.ASCII):
            return f"{self.name} is '{cell}', not a whole number"
        broken = (name for name, limit in self.constraints.items() if not _CHECKS[name](cell, limit))
        return next((f"{self.name} is '{cell}', against its constraint {name}" for name in broken), None)

    def fault_of_unit(self, unit: str) -> str | None:
        """Return what is wrong with the unit that a row states, or ``None``.

        Parameters
        ----------
        unit : str
            Cell of the unit column.
        """
        try:
            converter_of_row(unit)
        except ValueError as fault:
            return f"{self.name}: {fault}"
        return None


_CHECKS: Mapping[str, Callable[[str, Any], bool]] = {
    "required": lambda _cell, _limit: True,
    "minimum": lambda cell, limit: float(cell) >= limit,
    "maximum": lambda cell, limit: float(cell) <= limit,
    "enum": lambda cell, limit: cell in [str(choice) for choice in limit],
    "pattern": lambda cell, limit: re.fullmatch(limit, cell) is not None,
}
"""Table Schema constraints that are checked; another one is refused, so that none is ignored in silence."""


def read_field(descriptor: Mapping[str, Any], missing: tuple[str, ...]) -> Field:
    """Return the field that a Table Schema descriptor states.

    Parameters
    ----------
    descriptor : mapping
        Table Schema field with the further properties ``quantity``, ``unit``, ``dimension``.
    missing : tuple of str
        The schema's ``missingValues``.

    Raises
    ------
    ValueError
        When a property is missing, or the unit is not known.
    """
    absent = [name for name in ("name", "title", "type", "quantity") if not isinstance(descriptor.get(name), str)]
    if absent:
        raise ValueError(f"field {descriptor.get('name', '?')} states no {' and no '.join(absent)}")
    optional = {name: descriptor.get(name) for name in ("unit", "dimension", "description", "unit_in", "unit_field")}
    field = Field(
        name=descriptor["name"],
        title=descriptor["title"],
        type=descriptor["type"],
        quantity=descriptor["quantity"],
        constraints=descriptor.get("constraints", {}),
        missing=missing,
        **optional,
    )
    _check(field)
    return field


def _check(field: Field) -> None:
    if field.type not in TYPES:
        raise ValueError(f"field {field.name} is of type '{field.type}'; the types are {', '.join(TYPES)}")
    unknown = sorted(set(field.constraints) - set(_CHECKS))
    if unknown:
        raise ValueError(f"field {field.name} has the constraint '{unknown[0]}', which is not checked")
    if not field.numeric:
        return
    if field.dimension is None:
        raise ValueError(f"field {field.name} is numeric and states no dimension")
    if field.dimension == "by-row" and not field.unit_field:
        raise ValueError(f"field {field.name} takes its unit from each row and names no unit_field")
    field.converter()
