"""How a table of a standard is read: the next row up, or a straight line between rows; never beyond its last row."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import cast

import numpy as np

from service.errors import OutsideValidity
from service.methods import FloatArray
from service.physics.numbers import functions_for
from service.reference import Reference, Table, weakest
from service.standards.at_points import VARIES, chosen, first_from, read, vary
from service.units import ROUNDING, Quantity

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
