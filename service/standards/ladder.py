"""How a table of a standard is read, once or at many points: the next row up, or a line between rows; no further.

A rule reads tables, reckons, compares and decides as for one number. Where its numbers are those of many points, it
reckons with all of them at once; where it decides by a comparison, points that agree go on together, and where they do
not they part, and each part is asked alone. So what holds at many points is what the rule itself says, and the points
of a part went one way through it: they are of one kind and get the same sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from service.errors import OutsideValidity
from service.methods import FloatArray
from service.methods.method import BoolArray
from service.physics.numbers import Numbers, functions_for
from service.reference import Reference, Table, weakest
from service.units import ROUNDING, Quantity

Found = TypeVar("Found")
Rows = NDArray[np.intp]
VARIES = "..."
"""In place of a number in words, where it is another from point to point: such sentences are compared, and not told."""


class Parted(Exception):
    """A rule decides one way at some points and the other way at others.

    Parameters
    ----------
    holds : ndarray of bool
        Where its condition holds.
    """

    def __init__(self, holds: BoolArray) -> None:
        super().__init__("the points part here")
        self.holds = holds


class AtPoints(np.ndarray[Any, Any]):
    """A number, or whether something holds, at many points: as an array, but that a decision by it parts the points."""

    def __bool__(self) -> bool:
        if self.dtype != np.bool_:
            raise TypeError("a number at many points decides nothing")
        count = np.count_nonzero(self)
        if 0 < count < self.size:
            raise Parted(self.view(np.ndarray))
        return bool(count)

    def __format__(self, form: str) -> str:
        return VARIES

    def __round__(self, digits: int = 0) -> Numbers:
        return np.round(self, digits)


def at_points(values: NDArray[Any]) -> Numbers:
    """Return an array as a number at many points."""
    return values.view(AtPoints)


def vary(value: object) -> bool:
    """Return whether a number is another from point to point."""
    return isinstance(value, AtPoints)


def read(column: FloatArray, place: Numbers) -> Numbers:
    """Return a column at a position, or at those of many points."""
    return at_points(column[place]) if vary(place) else float(column[place])


def first_from(rising: FloatArray, value: Numbers, side: Literal["left", "right"] = "left") -> Numbers:
    """Return the position of the first of rising numbers that is not below a value, or that is above it (right)."""
    found: Any = np.searchsorted(rising, value, side)
    return at_points(found) if vary(value) else int(found)


def chosen(holds: Any, yes: Numbers, no: Numbers) -> Numbers:
    """Return one of two numbers, point by point: where a rule goes one way and only its number differs."""
    if not vary(holds):
        return yes if holds else no
    found: Any = np.where(holds, yes, no)
    return at_points(found)


def relation(function: Callable[[Any], Any], holds: Callable[[Any], BoolArray], value: Numbers) -> Numbers:
    """Return a relation of physics, which takes all of its arguments or none: points where it does not hold part.

    Parameters
    ----------
    holds : callable
        Where the relation does.
    """
    if not vary(value):
        return float(function(value))
    numbers = value.view(np.ndarray)
    bool(at_points(holds(numbers)))
    return at_points(function(numbers))


def parts(asked: Callable[[Rows], Found], points: Rows) -> Iterator[tuple[Rows, Found]]:
    """Yield points that go one way through a rule, and what it says of them.

    Parameters
    ----------
    asked : callable
        From points to what a rule says of all of them.
    """
    left = [points]
    while left:
        some = left.pop()
        try:
            found = asked(some)
        except Parted as apart:
            left += [some[~apart.holds], some[apart.holds]]
        else:
            yield some, found


DOUBTFUL = "; doubtful"
"""Said after the provenance of a row that its collector doubted."""
FINEST = 1e-6
"""Step to which a calculated distance is rounded up [m]; below every printed digit."""


@dataclass(frozen=True)
class ReadValue:
    """A value read from a table.

    Parameters
    ----------
    value : float
        In SI.
    row : str
        The row or rows, for a person.
    rule : str
        How it was read.
    provenance : str
        Of the rows.
    """

    value: float
    row: str
    rule: str
    provenance: str


@dataclass(frozen=True, eq=False)
class Ladder:
    """Two columns of a table, the first rising, read the way that the standard allows.

    Parameters
    ----------
    table : Table
        Where they stand.
    arguments, values : ndarray
        In SI; rows without a value are left out.
    words : callable
        An argument in words.
    provenances : tuple of str
        Per row.
    """

    table: Table
    arguments: FloatArray
    values: FloatArray
    words: Callable[[float], str]
    provenances: tuple[str, ...]

    @classmethod
    def of(cls, table: Table, argument: str, value: str, words: Callable[[float], str]) -> Ladder:
        """Return the ladder of two columns of a table.

        Parameters
        ----------
        argument, value : str
            Quantities of the columns.
        words : callable
            An argument in words.
        """
        filled = np.flatnonzero(np.isfinite(table[value]) & np.isfinite(table[argument]))
        order = filled[np.argsort(table[argument][filled], kind="stable")]
        origins = tuple(origin(table, int(row)) for row in order)
        return cls(table, table[argument][order], table[value][order], words, origins)

    @property
    def last(self) -> float:
        """The last argument."""
        return float(self.arguments[-1])

    @cached_property
    def _reach(self) -> FloatArray:
        """Up to where each row is the first at or above an argument, a rounding error apart."""
        return self.arguments * (1 + ROUNDING)

    @cached_property
    def _slopes(self) -> FloatArray:
        """Of the straight line that ends at each row; nought at the first."""
        return np.concatenate([[0.0], np.diff(self.values) / np.diff(self.arguments)])

    @cached_property
    def _told_apart(self) -> tuple[int, ...]:
        """Positions at which a row is read that its collector doubted, or one beside it: such a row is told by name."""
        doubted = [place for place, phrase in enumerate(self.provenances) if phrase.endswith(DOUBTFUL)]
        return tuple(sorted({beside for place in doubted for beside in (place, place + 1)}))

    def covers(self, at: float) -> bool:
        """Return whether an argument lies at or below the last row."""
        return at <= self.last * (1 + ROUNDING)

    def place(self, at: float) -> int:
        """Return the position of the first row at or above an argument that the ladder covers."""
        found: int = first_from(self._reach, at)
        return next((place for place in self._told_apart if found == place), found) if vary(found) else found

    def has_row(self, at: float) -> bool:
        """Return whether a row stands at an argument, whether or not the ladder covers it."""
        place = first_from(self._reach[:-1], at)
        holds: bool = self._is_row(at, place) & (at <= read(self._reach, place))
        return holds

    def step_up(self, at: float) -> ReadValue:
        """Return the value of the first row at or above an argument."""
        place = self.place(at)
        value = read(self.values, place)
        if vary(place):
            return ReadValue(value, VARIES, VARIES, self._undoubted)
        rule = "row of exactly this value" if self._is_row(at, place) else "next row up, no interpolation"
        return ReadValue(value, self.words(read(self.arguments, place)), rule, self._origin(place))

    def interpolated(self, at: float, finest: float = FINEST) -> ReadValue:
        """Return the value at an argument on the straight line between rows, rounded up.

        Parameters
        ----------
        at : float
            An argument that the ladder covers; below the first row the value of the first row is taken.
        finest : float
            Step to which it is rounded up, but never above the row above.
        """
        place = self.place(at)
        if vary(place):
            value = chosen(self._is_row(at, place), read(self.values, place), self._between(at, place, finest))
            return ReadValue(value, VARIES, VARIES, self._undoubted)
        if self._is_row(at, place):
            return self.step_up(at)
        if place == 0:
            first = self.step_up(at)
            return ReadValue(
                first.value, first.row, "below the first row: the value of the first row", first.provenance
            )
        below, above = (self.words(read(self.arguments, end)) for end in (place - 1, place))
        value = self._between(at, place, finest)
        row = f"between {below} and {above}"
        return ReadValue(value, row, "linear interpolation, rounded up", self._origin(place - 1, place))

    def _between(self, at: float, place: int, finest: float) -> float:
        """Return the value on the straight line below a row; below the first row that of the first row."""
        of = functions_for(at)
        start = of.maximum(place - 1, 0)
        line = read(self._slopes, place) * (at - read(self.arguments, start)) + read(self.values, start)
        return cast("float", of.minimum(round_up(line, finest), read(self.values, place)))

    def _is_row(self, at: float, place: int) -> bool:
        holds: bool = read(self.arguments, place) <= at * (1 + ROUNDING)
        return holds

    def _origin(self, *places: int) -> str:
        return together(self.provenances[place] for place in places)

    @cached_property
    def _undoubted(self) -> str:
        """Provenance of rows of which none was doubted."""
        return together(phrase for phrase in self.provenances if not phrase.endswith(DOUBTFUL))


def origin(table: Table, row: int) -> str:
    """Return the provenance of a row, and whether its collector doubted it."""
    return table.provenance[row] + (DOUBTFUL if bool(table.doubtful[row]) else "")


def together(provenances: Iterable[str]) -> str:
    """Return the provenance of what several rows were needed for: the weakest word, and whether one was doubted."""
    phrases = [part for one in provenances for part in one.split(" / ")]
    doubtful = any(one.endswith(DOUBTFUL) for one in phrases)
    return weakest(one.removesuffix(DOUBTFUL) for one in phrases) + (DOUBTFUL if doubtful else "")


def origin_word(phrase: str) -> str:
    """Return the one word of a provenance, without whether a row was doubted."""
    return phrase.removesuffix(DOUBTFUL)


def provenance_block(phrase: str) -> dict[str, str | bool]:
    """Return a provenance as answers show it: one of the five words, and whether a row was doubted.

    Examples
    --------
    >>> provenance_block("memory; doubtful")
    {'provenance': 'memory', 'doubtful': True}
    """
    word = origin_word(phrase)
    return {"provenance": word} | ({"doubtful": True} if word != phrase else {})


def round_up(value: float, finest: float) -> float:
    """Return a length [m] rounded up to a step, a rounding error of binary numbers apart.

    Examples
    --------
    >>> round_up(0.00444, 1e-6), round_up(0.00231, 1e-4)
    (0.00444, 0.0024)
    """
    of = functions_for(value)
    steps = of.ceil(value / finest - 1e-6)
    return cast("float", of.rint(steps * finest * 1e12) / 1e12)


def table_ends(
    parameter: str, detail: str, dimension: str, high: float, measure: str | None = None, design: str = ""
) -> OutsideValidity:
    """Return the error that a table ends, with its last argument; a smaller voltage is never suggested in its place.

    Parameters
    ----------
    parameter : str
        What was too large.
    detail : str
        A sentence.
    dimension : str
        Of the parameter.
    high : float
        The largest value that the table covers.
    measure : str, optional
        Of a voltage that is not a peak value.
    design : str
        What to change in the design, a sentence.
    """
    whole = f"{detail} {design}" if design else detail
    return OutsideValidity.about(parameter, whole, valid={"high": Quantity(high, dimension, measure=measure)})


def numbers(reference: Reference, table: str) -> dict[str, float]:
    """Return the plain numbers of a table of rules, by rule, as printed."""
    rules = reference.table(table)
    pairs = zip(rules.text("rule"), rules["number"], strict=True)
    return {name: float(number) for name, number in pairs if np.isfinite(number)}
