"""A printed table: frozen columns in SI, the printed cells beside them, their sources, and reading between its rows."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.errors import BadReferenceData, OutsideValidity, UnknownName
from service.reference.descriptor import PROVENANCE_WORDS, Field, Resource, Rules, converter_of_row
from service.units import ROUNDING


def interpolate(x: ArrayLike, y: ArrayLike, at: ArrayLike) -> NDArray[np.float64]:
    """Return the values between tabulated points, on straight lines.

    Parameters
    ----------
    x : array_like
        Tabulated arguments, rising strictly.
    y : array_like
        Tabulated values.
    at : array_like
        Where to read; within the ends of ``x``, both included, and `READ_BEYOND` beyond.

    Returns
    -------
    ndarray
        Of the shape of ``at``; at a tabulated argument exactly the tabulated value.

    Raises
    ------
    OutsideValidity
        When any ``at`` lies beyond an end, or is not a number.
    ValueError
        When the tabulated arguments do not rise or there are none.

    Examples
    --------
    The sphere gap of 2 cm between 0.40 cm (14.4 kV) and 0.50 cm (17.4 kV), IEC 60052 Table 2:

    >>> round(float(interpolate([0.40, 0.50], [14.4, 17.4], 0.45)), 6)
    15.9
    """
    return np.asarray(Tabulated.of(x, y)(at), dtype=np.float64)


READ_BEYOND = 2 * ROUNDING
"""Relative distance beyond an end that is rounding, and reads the end: what a limit lets through, and its rounding."""


@dataclass(frozen=True, eq=False)
class Tabulated:
    """A table of two columns that is read straight between its points; checked when it is made.

    Parameters
    ----------
    arguments : ndarray
        Rising strictly.
    values : ndarray

    Raises
    ------
    ValueError
        When the arguments do not rise, there are none, or a value is no number.
    """

    arguments: NDArray[np.float64]
    values: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Check the table."""
        if self.arguments.ndim != 1 or self.arguments.shape != self.values.shape or not self.arguments.size:
            raise ValueError("tabulated arguments and values must be two lists of the same length")
        if not np.all(np.diff(self.arguments) > 0.0) or not np.all(np.isfinite(self.values)):
            raise ValueError("tabulated arguments must rise and tabulated values must be numbers")

    @classmethod
    def of(cls, arguments: ArrayLike, values: ArrayLike) -> Tabulated:
        """Return the curve of two lists."""
        return cls(np.asarray(arguments, dtype=np.float64), np.asarray(values, dtype=np.float64))

    @cached_property
    def span(self) -> tuple[float, float]:
        """First and last argument."""
        return float(self.arguments[0]), float(self.arguments[-1])

    @cached_property
    def last(self) -> float:
        """Last value."""
        return float(self.values[-1])

    @cached_property
    def ends(self) -> tuple[float, float]:
        """First and last argument, with the rounding that reads them."""
        low, high = self.span
        return low - READ_BEYOND * abs(low), high + READ_BEYOND * abs(high)

    @cached_property
    def _points(self) -> tuple[list[float], list[float]]:
        return self.arguments.tolist(), self.values.tolist()

    def _at_one(self, at: float) -> float:
        """Return the value at one argument inside the ends, as NumPy has it, without the cost of an array."""
        x, y = self._points
        place = bisect_right(x, at)
        if place in (0, len(x)):
            return y[min(place, len(x) - 1)]
        slope = (y[place] - y[place - 1]) / (x[place] - x[place - 1])
        return slope * (at - x[place - 1]) + y[place - 1]

    def __call__(self, at: Any) -> Any:
        """Return the values at arguments; `OutsideValidity` beyond the ends, or where one is not a number.

        Of a plain number the value is a plain number.
        """
        low, high = self.ends
        if isinstance(at, float) and low <= at <= high:
            return self._at_one(at)
        wanted = np.asarray(at, dtype=np.float64)
        inside = low <= wanted.item() <= high if wanted.size == 1 else np.all((wanted >= low) & (wanted <= high))
        if not inside:
            first, last = self.span
            raise OutsideValidity(
                f"The table reaches from {first:g} to {last:g} (SI units); nothing is read beyond its ends."
            )
        return np.asarray(np.interp(wanted, self.arguments, self.values), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class TableGrid:
    """The rows of a table as a complete grid over some of its columns.

    Parameters
    ----------
    axes : list of ndarray
        Values of each of these columns, rising.
    places : tuple of ndarray
        Where each row stands on each axis.
    """

    axes: list[NDArray[np.float64]]
    places: tuple[NDArray[np.intp], ...]

    @classmethod
    def of(cls, table: Table, names: Sequence[str], least: int) -> TableGrid:
        """Return the grid of a table over named columns, each of so many values at least.

        Raises
        ------
        BadReferenceData
            When rows are missing or given twice.
        """
        columns = [table[name] for name in names]
        axes = [np.unique(column) for column in columns]
        rows = set(zip(*(column.tolist() for column in columns), strict=True))
        whole = int(np.prod([axis.size for axis in axes]))
        finite = all(np.isfinite(column).all() for column in columns)
        if not (finite and len(rows) == len(table) == whole and min(axis.size for axis in axes) >= least):
            reason = f"the rows are no complete grid of at least {least} values each of {', '.join(names)}"
            raise BadReferenceData(table.file, None, reason)
        pairs = zip(axes, columns, strict=True)
        return cls(axes, tuple(np.searchsorted(axis, column) for axis, column in pairs))

    def filled(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what belongs to the rows, one or several numbers each, on the grid."""
        grid = np.empty((*(axis.size for axis in self.axes), *values.shape[1:]))
        grid[self.places] = values
        return grid

    def read_by(self, weights: Callable[[NDArray[np.float64]], Weights], values: NDArray[np.float64]) -> GridReader:
        """Return what reads the values that belong to the rows between the points of the grid.

        Parameters
        ----------
        weights : callable
            `straight` or `cubic`.
        values : ndarray
            One or several numbers for each row.
        """
        return GridReader(tuple(map(weights, self.axes)), self.filled(values))


Weights = Callable[[NDArray[np.float64]], NDArray[np.float64]]
"""Places on an axis to the weights of all of its points, one row for each place."""


@dataclass(frozen=True, eq=False)
class GridReader:
    """Values over a grid, read axis by axis.

    Parameters
    ----------
    weights : tuple of callable
        See `Weights`; one for each axis.
    values : ndarray
        On the grid; further axes hold several numbers for each point.
    """

    weights: tuple[Weights, ...]
    values: NDArray[np.float64]

    def __call__(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the values at places inside the grid.

        Parameters
        ----------
        places : ndarray, shape (n, axes)

        Returns
        -------
        ndarray, shape (n, ...)
        """
        pieces = [self._read(places[start : start + PIECE]) for start in range(0, len(places), PIECE)]
        return np.concatenate(pieces)

    def _read(self, places: NDArray[np.float64]) -> NDArray[np.float64]:
        first, *others = (weight(places[:, k]) for k, weight in enumerate(self.weights))
        found = first @ self.values.reshape(first.shape[1], -1)
        for weight in others:
            found = np.einsum("nj,njx->nx", weight, found.reshape(*weight.shape, -1))
        return found.reshape(len(places), *self.values.shape[len(self.weights) :])


PIECE = 256
"""Places that are read at a time, which bounds the memory."""


def _steps(axis: NDArray[np.float64], places: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the step of an axis that each place lies on, and its share of it."""
    step = np.minimum(np.maximum(np.searchsorted(axis, places, side="right") - 1, 0), axis.size - 2)
    return step, (places - axis[step]) / (axis[step + 1] - axis[step])


def straight(axis: NDArray[np.float64]) -> Weights:
    """Return the weights of straight lines between the points of an axis, which rises strictly."""
    points = np.eye(axis.size)

    def weights(places: NDArray[np.float64]) -> NDArray[np.float64]:
        step, share = _steps(axis, places)
        return np.asarray((1 - share)[:, None] * points[step] + share[:, None] * points[step + 1])

    return weights


def cubic(axis: NDArray[np.float64]) -> Weights:
    """Return the weights of the cubic spline through four or more points of an axis, which rises strictly.

    At the second point and at the last but one the third derivative is steady (de Boor, A Practical Guide to Splines,
    1978: no knot there).
    """
    points, width = np.eye(axis.size), np.diff(axis)
    slopes = np.diff(points, axis=0) / width[:, None]
    bends, right = np.zeros_like(points), np.zeros_like(points)
    for i in range(1, axis.size - 1):
        bends[i, i - 1 : i + 2] = width[i - 1], 2 * (width[i - 1] + width[i]), width[i]
        right[i] = 6 * (slopes[i] - slopes[i - 1])
    bends[0, :3] = width[1], -width[0] - width[1], width[0]
    bends[-1, -3:] = width[-1], -width[-2] - width[-1], width[-2]
    second = np.linalg.solve(bends, right)

    def weights(places: NDArray[np.float64]) -> NDArray[np.float64]:
        step, share = _steps(axis, places)
        after, part = share[:, None], (width[step] ** 2 / 6)[:, None]
        before = 1 - after
        bent = (before**3 - before) * second[step] + (after**3 - after) * second[step + 1]
        return np.asarray(before * points[step] + after * points[step + 1] + part * bent)

    return weights


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
