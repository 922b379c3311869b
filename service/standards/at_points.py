"""Numbers at many points, in rules that are written for one question.

A rule reads tables, reckons, compares and decides as for one number. Where its numbers are those of many points, it
reckons with all of them at once; where it decides by a comparison, points that agree go on together, and where they do
not they part, and each part is asked alone. So what holds at many points is what the rule itself says, and the points
of a part went one way through it: they are of one kind and get the same sentences.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.methods import FloatArray
from service.methods.method import BoolArray
from service.physics.numbers import Numbers

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
