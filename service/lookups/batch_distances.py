"""Distances that insulation standards ask for, at many points: every different question is worked out once, alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from service.answers.echo import Echo
from service.answers.lookup import Least
from service.errors import BadQuestion, OutsideValidity, ServiceError
from service.lookups.batch import FINE, OUTSIDE, STATUSES, UNREADABLE, BatchPart, Budget, Saying, different, shown
from service.lookups.batch_input import Batch, Points
from service.methods import FloatArray
from service.parameters import Question

Kept = tuple[tuple[float, ...], int, int]
"""Distances of a question [m], and the codes of its method and status."""
LOOKED = 256
"""Questions after which the time is looked at."""


class Distances:
    """Answers least distances.

    Parameters
    ----------
    least : callable
        From a question to what is asked for; refuses as the single question does.
    names : tuple of str
        Result columns, in the order of `Least.distances`.
    further : callable, optional
        From `Least.about` of all, one row each, to notes that are made of them at once.
    """

    at_once = 1 << 14
    where_known: frozenset[str] = frozenset()

    def __init__(
        self,
        least: Callable[[Question], Least],
        names: tuple[str, ...],
        batch: Batch,
        further: Callable[[FloatArray], Sequence[str]] | None = None,
    ) -> None:
        self.least, self.batch, self.further, self.names = least, batch, further, names
        self.columns: Mapping[str, tuple[str, tuple[str, ...]]] = dict.fromkeys(names, ("length", ("values",)))
        self._known: dict[tuple[float, ...], Kept] = {}
        self._keys: dict[str, int] = {}
        self._about: list[tuple[float, ...]] = []
        self._notes: dict[str, None] = {}
        self._cautions = dict.fromkeys(("not-a-barrier", "local-codes"))
        self._refusal: BadQuestion | None = None
        self._answered: dict[str, Question] = {}

    def __call__(self, piece: Points, budget: Budget) -> BatchPart:
        """Return the answer at the points of a piece."""
        points = np.flatnonzero(piece.readable)
        first, which = different([array[points] for array in piece.columns.values()])
        found = [self._one(piece, int(points[i]), budget, (n + 1) / first.size) for n, i in enumerate(first)]
        metres = np.array([distances for distances, _, _ in found]).reshape(-1, len(self.names))
        codes = np.array([codes for _, *codes in found], dtype=np.int16).reshape(-1, 2)
        status = np.full(piece.size, STATUSES.index(UNREADABLE), dtype=np.int8)
        method = np.full(piece.size, -1, dtype=np.int16)
        method[points], status[points] = codes.take(which, axis=0).T
        budget.spent(piece.size)
        return BatchPart(
            {(name, "values"): _spread(metres[:, n], which, points, piece.size) for n, name in enumerate(self.names)},
            method,
            status,
        )

    def _one(self, piece: Points, point: int, budget: Budget, share: float) -> Kept:
        key = tuple(float(array[point]) for array in piece.columns.values())
        if key not in self._known:
            self._known[key] = self._alone(piece.question_at(point))
            if len(self._known) % LOOKED == 0:
                budget.going_on((budget.done + share * piece.size) / budget.points)
        return self._known[key]

    def _alone(self, question: Question) -> Kept:
        """Return distances, method and status of a question, and gather what is said of it."""
        try:
            found = self.least(question)
        except ServiceError as error:
            # what is refused as a question is told from what lies outside, as elsewhere
            if isinstance(error, BadQuestion) and self._refusal is None:
                self._refusal = error
            status = OUTSIDE if isinstance(error, OutsideValidity) else UNREADABLE
            return (np.nan,) * len(self.names), -1, STATUSES.index(status)
        self._keep(question)
        self._about.append(found.about)
        self._notes |= dict.fromkeys(found.notes)
        self._cautions |= dict.fromkeys(found.cautions)
        return found.distances, self._keys.setdefault(found.governed_by, len(self._keys)), STATUSES.index(FINE)

    def _keep(self, question: Question) -> None:
        """Keep the first question that is answered, and for each column one in which it is another."""
        if not self._answered:
            self._answered[""] = question
        first = self._answered[""]
        for name in self.batch.columns:
            if name not in self._answered and question.values[name] != first.values[name]:
                self._answered[name] = question

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
        if self._refusal is not None and not self._answered:
            raise self._refusal
        further = self.further(np.array(self._about)) if self.further is not None and self._about else ()
        return Saying(self._asked(), list(dict.fromkeys([*self._notes, *further])), tuple(self._cautions))

    def _asked(self) -> Echo:
        """Return what was asked; what follows from a column differs from point to point too."""
        every = [self.batch.lookup.answer(question).asked for question in self._answered.values()]
        asked = Echo()
        for one in reversed(every):
            asked |= one
        follows = [name for name, value in asked.values.items() if any(one.values.get(name) != value for one in every)]
        columns = Echo(dict.fromkeys([*follows, *self.batch.columns], "column"))
        return Echo({"lookup": self.batch.lookup.key}) | asked | columns


def _spread(metres: FloatArray, which: np.ndarray, points: np.ndarray, size: int) -> FloatArray:
    whole = np.full(size, np.nan)
    whole[points] = shown(metres, "length")[which]
    return whole
