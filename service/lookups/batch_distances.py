"""Distances that insulation standards ask for, at many points: the rules of one question, asked with arrays.

Sentences are those of the single question at one point of every kind that occurs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from service.answers.document import Echo
from service.answers.lookup import Least
from service.errors import BadQuestion, OutsideValidity, ServiceError
from service.lookups.batch import (
    FINE,
    OUTSIDE,
    STATUSES,
    UNREADABLE,
    Batch,
    BatchPart,
    Budget,
    Points,
    Saying,
    asked_with,
    different,
    shown,
)
from service.methods import FloatArray
from service.methods.method import BoolArray
from service.parameters import Question
from service.physics.numbers import Numbers
from service.standards.ladder import Rows, at_points, parts


@dataclass(frozen=True)
class ManyQuestions(Question):
    """Questions that differ in numbers alone, asked as one.

    Parameters
    ----------
    numbers : mapping of str to AtPoints
        SI values of each of them, of what is not the same in all.
    """

    numbers: Mapping[str, Numbers] = field(default_factory=dict)

    def number(self, name: str) -> float:
        """Return a value that is an SI number, or those of all questions."""
        found: float = self.numbers[name] if name in self.numbers else super().number(name)
        return found


class Distances:
    """Answers least distances.

    Parameters
    ----------
    least : callable
        From a question, or many as one, to what is asked for; refuses as the single question does.
    names : tuple of str
        Result columns, in the order of `Least.distances`.
    further : callable, optional
        From the numbers of `Least.about`, an array each, to notes that are made of many at once.
    """

    at_once = 1 << 17
    where_known: frozenset[str] = frozenset()

    def __init__(
        self,
        least: Callable[[Question], Least],
        names: tuple[str, ...],
        batch: Batch,
        further: Callable[..., Sequence[str]] | None = None,
    ) -> None:
        self.least, self.batch, self.further, self.names = least, batch, further, names
        self.columns: Mapping[str, tuple[str, tuple[str, ...]]] = dict.fromkeys(names, ("length", ("values",)))
        declared = batch.question.parameters
        several = [name for name, column in batch.columns.items() if column.numbers.size > 1]
        self._counts = [name for name in several if declared[name].dimension == "count"]
        self._varied = [name for name in several if name not in self._counts]
        self._keys: dict[str, int] = {}
        self._kinds: set[tuple[str, ...]] = set()
        self._notes: dict[str, None] = {}
        self._further: dict[str, None] = {}
        self._cautions = dict.fromkeys(("not-a-barrier", "local-codes"))
        self._refused: Question | None = None
        self._answered: dict[str, Question] = {}

    def __call__(self, piece: Points, budget: Budget) -> BatchPart:
        """Return the answer at the points of a piece."""
        found = FoundDistances(len(self.names), piece.size)
        kinds: dict[tuple[str, ...], int] = {}
        for rows, least in self._parts(piece, budget):
            if isinstance(least, ServiceError):
                found.refuse(rows, least)
                if isinstance(least, BadQuestion) and self._refused is None:
                    self._refused = piece.question_at(int(rows[0]))
            else:
                found.keep(rows, least, self._keys.setdefault(least.governed_by, len(self._keys)))
                # sentences without the numbers that vary in them: points of one kind have the same
                kinds.setdefault((*least.cautions, least.governed_by, *least.notes), int(rows[0]))
        fine = found.status == STATUSES.index(FINE)
        self._say(piece, {kind: point for kind, point in kinds.items() if kind not in self._kinds})
        self._keep(piece, fine)
        if self.further is not None and fine.any():
            self._further |= dict.fromkeys(self.further(*(numbers[fine] for numbers in found.about)))
        budget.spent(piece.size)
        columns = {(name, "values"): shown(row, "length") for name, row in zip(self.names, found.metres, strict=True)}
        return BatchPart(columns, found.method, found.status)

    def _parts(self, piece: Points, budget: Budget) -> Iterator[tuple[Rows, Least | ServiceError]]:
        """Yield points that go one way through the rules, and what these say; what is counted chooses among rules."""
        points = np.flatnonzero(piece.readable)
        _, which = different([np.zeros(points.size), *(piece.columns[name][points] for name in self._counts)])
        done = budget.done
        for group in range(int(which.max(initial=-1)) + 1):
            for rows, least in parts(partial(self._at, piece), points[which == group]):
                yield rows, least
                done += rows.size
                budget.going_on(done / budget.points)

    def _at(self, piece: Points, rows: Rows) -> Least | ServiceError:
        """Return what is asked for at points, or why nothing is."""
        once = {name: float(array[rows[0]]) for name, array in piece.columns.items() if name not in self._varied}
        numbers = {name: at_points(piece.columns[name][rows]) for name in self._varied}
        one = asked_with(piece.question, once)
        try:
            return self.least(ManyQuestions(one.lookup, one.values, one.assumed, one.parameters, one.typed, numbers))
        except ServiceError as error:
            return error

    def _say(self, piece: Points, kinds: Mapping[tuple[str, ...], int]) -> None:
        """Gather the sentences of the single question at a point of every kind."""
        for kind, point in sorted(kinds.items(), key=lambda one: one[1]):
            self._kinds.add(kind)
            alone = self.least(piece.question_at(point))
            self._notes |= dict.fromkeys(alone.notes)
            self._cautions |= dict.fromkeys(alone.cautions)

    def _keep(self, piece: Points, fine: BoolArray) -> None:
        """Keep the first question that is answered, and for each column one in which it is another."""
        if not self._answered and fine.any():
            self._answered[""] = piece.question_at(int(np.argmax(fine)))
        for name in self._varied + self._counts if self._answered else ():
            others = fine & (piece.columns[name] != self._answered[""].number(name))
            if name not in self._answered and others.any():
                self._answered[name] = piece.question_at(int(np.argmax(others)))

    @property
    def methods(self) -> Sequence[str]:
        """Keys of the requirements that govern."""
        return list(self._keys)

    def said(self) -> Saying:
        """Return what is said of all points.

        Raises
        ------
        BadQuestion
            That of the first point, where none can be understood.
        """
        if self._refused is not None and not self._answered:
            self.least(self._refused)
        return Saying(self._asked(), list(self._notes | self._further), tuple(self._cautions))

    def _asked(self) -> Echo:
        """Return what was asked; what follows from a column differs from point to point too."""
        every = [self.batch.lookup.answer(question).asked for question in self._answered.values()]
        asked = Echo()
        for one in reversed(every):
            asked |= one
        follows = [name for name, value in asked.values.items() if any(one.values.get(name) != value for one in every)]
        columns = Echo(dict.fromkeys([*follows, *self.batch.columns], "column"))
        return Echo({"lookup": self.batch.lookup.key}) | asked | columns


class FoundDistances:
    """What is found at the points of a piece: distances [m], codes of methods and status, and `Least.about`."""

    def __init__(self, names: int, size: int) -> None:
        self.metres = np.full((names, size), np.nan)
        self.status = np.full(size, STATUSES.index(UNREADABLE), dtype=np.int8)
        self.method = np.full(size, -1, dtype=np.int16)
        self.about: list[FloatArray] = []

    def refuse(self, rows: Rows, error: ServiceError) -> None:
        """Keep that points are refused; what is as a question is told from what lies outside, as elsewhere."""
        self.status[rows] = STATUSES.index(OUTSIDE if isinstance(error, OutsideValidity) else UNREADABLE)

    def keep(self, rows: Rows, found: Least, method: int) -> None:
        """Keep what is asked for at points."""
        self.about = self.about or [np.full(self.status.size, np.nan) for _ in found.about]
        for column, number in zip([*self.metres, *self.about], [*found.distances, *found.about], strict=True):
            column[rows] = number
        self.method[rows], self.status[rows] = method, STATUSES.index(FINE)
