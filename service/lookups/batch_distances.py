"""Distances that insulation standards ask for, at many points: every different question is worked out once, alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from service.answers.echo import Echo
from service.answers.lookup import Least
from service.errors import BadQuestion, OutsideValidity, ServiceError
from service.lookups.batch_input import Batch, Points
from service.lookups.batch_parts import FINE, OUTSIDE, STATUSES, UNREADABLE, Budget, Part, Saying, shown
from service.methods import FloatArray
from service.parameters import Question

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
    batch : Batch
    further : callable, optional
        From what was found to notes that are made of all points at once.
    """

    at_once = 1 << 14
    where_known: frozenset[str] = frozenset()

    def __init__(
        self,
        least: Callable[[Question], Least],
        names: tuple[str, ...],
        batch: Batch,
        further: Callable[[Sequence[Least]], Sequence[str]] | None = None,
    ) -> None:
        self.least, self.batch, self.further, self.names = least, batch, further, names
        self.columns: Mapping[str, tuple[str, tuple[str, ...]]] = dict.fromkeys(names, ("length", ("values",)))
        self._known: dict[tuple[float, ...], Least | ServiceError] = {}
        self._keys: dict[str, int] = {}
        self._answered: dict[str, Question] = {}

    def __call__(self, piece: Points, budget: Budget) -> Part:
        """Return the answer at the points of a piece."""
        points = np.flatnonzero(piece.readable)
        first, which = _different([array[points] for array in piece.columns.values()])
        found = [self._one(piece, int(points[i]), budget, (n + 1) / first.size) for n, i in enumerate(first)]
        nothing = (np.nan,) * len(self.names)
        metres = np.array([one.distances if isinstance(one, Least) else nothing for one in found])
        metres = metres.reshape(-1, len(self.names))
        keys = [self._key(one) for one in found]
        status = np.full(piece.size, STATUSES.index(UNREADABLE), dtype=np.int8)
        method = np.full(piece.size, -1, dtype=np.int16)
        codes = [STATUSES.index(_status(one)) for one in found]
        status[points], method[points] = np.array(codes, dtype=np.int8)[which], np.array(keys, dtype=np.int16)[which]
        budget.spent(piece.size)
        return Part(
            {(name, "values"): _spread(metres[:, n], which, points, piece.size) for n, name in enumerate(self.names)},
            method,
            status,
        )

    def _one(self, piece: Points, point: int, budget: Budget, share: float) -> Least | ServiceError:
        key = tuple(float(array[point]) for array in piece.columns.values())
        if key not in self._known:
            question = piece.question_at(point)
            found = self._known[key] = self._alone(question)
            if isinstance(found, Least):
                self._keep(question)
            if len(self._known) % LOOKED == 0:
                budget.going_on((budget.done + share * piece.size) / budget.points)
        return self._known[key]

    def _keep(self, question: Question) -> None:
        """Keep the first question that is answered, and for each column one in which it is another."""
        if not self._answered:
            self._answered[""] = question
        first = self._answered[""]
        for name in self.batch.columns:
            if name not in self._answered and question.values[name] != first.values[name]:
                self._answered[name] = question

    def _key(self, found: Least | ServiceError) -> int:
        return self._keys.setdefault(found.governed_by, len(self._keys)) if isinstance(found, Least) else -1

    def _alone(self, question: Question) -> Least | ServiceError:
        try:
            return self.least(question)
        except ServiceError as error:
            return error

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
        found = [one for one in self._known.values() if isinstance(one, Least)]
        for one in () if found else self._known.values():
            if isinstance(one, BadQuestion):
                raise one
        notes = dict.fromkeys(note for one in found for note in one.notes)
        notes |= dict.fromkeys(self.further(found) if self.further is not None else ())
        cautions = dict.fromkeys(["not-a-barrier", "local-codes", *(key for one in found for key in one.cautions)])
        return Saying(self._asked(), list(notes), tuple(cautions))

    def _asked(self) -> Echo:
        """Return what was asked; what follows from a column differs from point to point too."""
        every = [self.batch.lookup.answer(question).asked for question in self._answered.values()]
        asked = Echo()
        for one in reversed(every):
            asked |= one
        follows = [name for name, value in asked.values.items() if any(one.values.get(name) != value for one in every)]
        columns = Echo(dict.fromkeys([*follows, *self.batch.columns], "column"))
        return Echo({"lookup": self.batch.lookup.key}) | asked | columns


def _status(found: Least | ServiceError) -> str:
    """Return the status of a point: what is refused as a question is told from what lies outside, as elsewhere."""
    if isinstance(found, Least):
        return FINE
    return OUTSIDE if isinstance(found, OutsideValidity) else UNREADABLE


def _different(arrays: Sequence[FloatArray]) -> tuple[np.ndarray, np.ndarray]:
    """Return where different points stand first, and which of them each point is."""
    varied = [one for one in arrays if one.size and one.min() != one.max()] or list(arrays[:1])
    if len(varied) == 1:
        _, first, which = np.unique(varied[0], return_index=True, return_inverse=True)
    else:
        _, first, which = np.unique(np.stack(varied, axis=1), axis=0, return_index=True, return_inverse=True)
    return first, which.reshape(-1)


def _spread(metres: FloatArray, which: np.ndarray, points: np.ndarray, size: int) -> FloatArray:
    whole = np.full(size, np.nan)
    whole[points] = shown(metres, "length")[which]
    return whole
