"""A printed table: frozen columns in SI, the printed cells beside them, and where they come from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from service.errors import UnknownName
from service.reference.conversion import converter_of_row
from service.reference.descriptor import PROVENANCE_WORDS, Field, Resource, Rules
from service.units import ROUNDING

NO_DATA = ("doubtful", "edition_from", "edition_to")
"""Numeric columns that say something of a row and were not read as a number."""


@dataclass(frozen=True, eq=False)
class Table(Resource):
    """One printed table: what its descriptor states, and its cells.

    ``table["spacing"]`` is a column in SI, ``table.rows`` are the cells as printed.

    Parameters
    ----------
    package : str
        Name of the data package that holds it.
    cells : tuple of tuple of str
        As printed.
    fingerprint : str
        Hash of the printed cells and of everything stated about them.
    """

    package: str
    cells: tuple[tuple[str, ...], ...]
    fingerprint: str
    _columns: dict[str, NDArray[np.float64]] = field(default_factory=dict, repr=False)
    _texts: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False)

    def __len__(self) -> int:
        return len(self.cells)

    def __getitem__(self, quantity: str) -> NDArray[np.float64]:
        """Return a numeric column in SI, read-only; ``NaN`` where a cell that is not required is empty.

        Parameters
        ----------
        quantity : str
            The column.

        Raises
        ------
        UnknownName
            When the table has no numeric column of that quantity.
        """
        if quantity not in self._columns:
            numeric = [each.quantity for each in self.fields if each.numeric]
            if quantity not in numeric:
                raise UnknownName.among(f"table {self.key}", quantity, numeric)
            self._columns[quantity] = self._converted(self._positions[quantity])
        return self._columns[quantity]

    @property
    def file(self) -> str:
        """Where it stands, as a fault names it."""
        return f"{self.package}/{self.path}"

    def __contains__(self, quantity: str) -> bool:
        return quantity in self._positions

    @cached_property
    def _positions(self) -> Mapping[str, int]:
        return {each.quantity: place for place, each in enumerate(self.fields)}

    @cached_property
    def rows(self) -> tuple[Mapping[str, str], ...]:
        """The cells as printed, by header."""
        names = [each.name for each in self.fields]
        return tuple(MappingProxyType(dict(zip(names, cells, strict=True))) for cells in self.cells)

    @property
    def provenance(self) -> tuple[str, ...]:
        """How each row came here, one of the five words."""
        return self.text("provenance")

    @property
    def provenance_words(self) -> tuple[str, ...]:
        """The distinct provenance words of the rows, the best supported first."""
        return tuple(word for word in PROVENANCE_WORDS if word in self.provenance)

    @cached_property
    def cells_by_provenance(self) -> Mapping[str, int]:
        """How many filled numbers are of which provenance, the best supported first; rows where there are none."""
        counted = [each for each in self.fields if each.numeric and each.quantity not in NO_DATA]
        counts = dict.fromkeys(PROVENANCE_WORDS, 0)
        for place, word in enumerate(self.provenance):
            filled = [self.text(each.quantity)[place] not in each.missing for each in counted]
            counts[word] += sum(filled) if counted else 1
        return MappingProxyType({word: count for word, count in counts.items() if count})

    @property
    def doubtful(self) -> NDArray[np.bool_]:
        """Which rows the collector doubted; none where the table has no such column."""
        return self.flag("doubtful") if "doubtful" in self else np.zeros(len(self), dtype=np.bool_)

    def flag(self, quantity: str) -> NDArray[np.bool_]:
        """Return a column of 0 and 1 as truth values.

        Parameters
        ----------
        quantity : str
            The column.
        """
        return np.asarray(self[quantity] == 1.0, dtype=np.bool_)

    def text(self, quantity: str) -> tuple[str, ...]:
        """Return a column as printed.

        Parameters
        ----------
        quantity : str
            The column, numeric or not.

        Raises
        ------
        UnknownName
            When the table has no such column.
        """
        if quantity not in self._texts:
            if quantity not in self._positions:
                raise UnknownName.among(f"table {self.key}", quantity, self._positions)
            place = self._positions[quantity]
            self._texts[quantity] = tuple(cells[place] for cells in self.cells)
        return self._texts[quantity]

    def where(self, **conditions: float | str) -> Table:
        """Return the rows that meet every condition, possibly none.

        Parameters
        ----------
        **conditions : float or str
            Quantity and wanted value: a text is compared with the printed cell, a number with the SI value.

        Raises
        ------
        UnknownName
            When the table has no such column.
        """
        chosen = np.ones(len(self), dtype=np.bool_)
        for quantity, wanted in conditions.items():
            chosen &= self._matches(quantity, wanted)
        return self._only(chosen)

    def as_of(self, year: int | None = None) -> Table:
        """Return the rows of the editions in force in a year, the newest where none is asked.

        Parameters
        ----------
        year : int, optional
            Between the columns ``edition_from`` and ``edition_to``, both included.

        Raises
        ------
        UnknownName
            When the table does not tell editions apart.
        """
        first, last = self["edition_from"], self["edition_to"]
        return self._only(np.isnan(last) if year is None else (first <= year) & ~(last < year))

    def _only(self, chosen: NDArray[np.bool_]) -> Table:
        cells = tuple(row for row, keep in zip(self.cells, chosen, strict=True) if keep)
        return replace(self, cells=cells, _columns={}, _texts={})

    def faults(self, rules: Rules) -> Iterator[tuple[int, str, str]]:
        """Yield the place of a row, the header and the reason wherever rules between cells are broken.

        References to other tables are checked where all tables are known.
        """
        if self.primary_key is not None:
            yield from self._twice((self.quantity_of(self.primary_key),))
        for names in rules.unique:
            yield from self._twice(names)
        for low, high in rules.pairs:
            for place in np.flatnonzero(self[low] > self[high] * (1 + ROUNDING)):
                headers = [self.header_of(name) for name in (low, high)]
                texts = [self.text(name)[place] for name in (low, high)]
                yield int(place), headers[0], f"{headers[0]} is {texts[0]}, above {headers[1]}, {texts[1]}"
        for name in rules.rises:
            yield from self._not_rising(name, rules.within)

    def _twice(self, names: tuple[str, ...]) -> Iterator[tuple[int, str, str]]:
        seen: set[tuple[str, ...]] = set()
        headers = [self.header_of(name) for name in names]
        for place, key in enumerate(zip(*(self.text(name) for name in names), strict=True)):
            if key in seen or not all(key):
                yield place, headers[0], f"{', '.join(headers)} '{', '.join(key)}' is empty or stands there twice"
            seen.add(key)

    def _not_rising(self, name: str, within: tuple[str, ...]) -> Iterator[tuple[int, str, str]]:
        header = self.header_of(name)
        cells, column = self.text(name), self[name]
        last: dict[tuple[str, ...], float] = {}
        for place, group in enumerate(
            zip(*(self.text(each) for each in within), strict=True) if within else [()] * len(self)
        ):
            number = float(column[place])
            if np.isnan(number):
                continue
            if number <= last.get(group, -np.inf):
                yield place, header, f"{header} is {cells[place]} and does not rise above the row before"
            last[group] = number

    def header_of(self, quantity: str) -> str:
        """Return the header of the column of a quantity."""
        return self.fields[self._positions[quantity]].name

    def quantity_of(self, header: str) -> str:
        """Return the quantity of the column with a header."""
        return next(each.quantity for each in self.fields if each.name == header)

    def row(self, name: str) -> Mapping[str, str]:
        """Return the printed cells of the row with a name.

        Parameters
        ----------
        name : str
            Cell of the primary-key column.

        Raises
        ------
        UnknownName
            When no row has that name, or the rows of this table have none.
        """
        return self.rows[self._row_number(name)]

    def constant(self, name: str) -> float:
        """Return the SI value of a table of named constants.

        Parameters
        ----------
        name : str
            Cell of the primary-key column.

        Raises
        ------
        UnknownName
            When no row has that name.
        """
        return float(self["value"][self._row_number(name)])

    def _row_number(self, name: str) -> int:
        names = [cells[self.primary_key] for cells in self.rows] if self.primary_key else []
        if name not in names:
            raise UnknownName.among(f"table {self.key}", name, names)
        return names.index(name)

    def _matches(self, quantity: str, wanted: float | str) -> NDArray[np.bool_]:
        if isinstance(wanted, str):
            return np.array([cell == wanted for cell in self.text(quantity)], dtype=np.bool_)
        return np.isclose(self[quantity], wanted, rtol=ROUNDING, atol=0.0)

    def _converted(self, place: int) -> NDArray[np.float64]:
        column = self.fields[place]
        fixed = column.converter()
        units = self._units_of_rows(column)
        values = [
            np.nan if cells[place] in column.missing else (fixed or converter_of_row(unit))(cells[place])
            for cells, unit in zip(self.cells, units, strict=True)
        ]
        array = np.array(values, dtype=np.float64)
        array.flags.writeable = False
        return array

    def _units_of_rows(self, column: Field) -> tuple[str, ...]:
        if column.unit_field is None:
            return ("",) * len(self)
        place = [each.name for each in self.fields].index(column.unit_field)
        return tuple(cells[place] for cells in self.cells)
