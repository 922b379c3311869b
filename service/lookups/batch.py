"""POST /v1/batch: many points of one lookup at once. Every point is answered as a single question would be."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from service import units
from service.answers.columns import Column, Store, Words
from service.answers.document import Echo
from service.answers.lookup import Answer, Lookup
from service.errors import TooCostly
from service.lookups.batch_input import Points, read_batch
from service.methods import FloatArray
from service.methods.case import is_same, same


def answer(body: Mapping[str, object], lookups: Mapping[str, Lookup]) -> Answer:
    """Return the answer to a batch; its columns are `service.answers.columns.Column` and `Words`.

    Parameters
    ----------
    body : mapping
        As `read_batch` takes it.

    Raises
    ------
    BadQuestion
        When the batch as a whole cannot be read.
    TooCostly
        When it would hold a worker for too long.
    """
    batch = read_batch(body, lookups)
    assert batch.lookup.many is not None
    answering: Answering = batch.lookup.many(batch)
    size, store, budget = batch.size, Store(batch.size), Budget(batch.size)
    columns = {(name, end): Column(store) for name, (_, ends) in answering.columns.items() for end in ends}
    method, status = Column(store, np.dtype(np.int16)), Column(store, np.dtype(np.int8))
    there: set[str] = set()
    at_once = math.ceil(size / max(round(size / answering.at_once), 1))  # pieces of one size
    for start in range(0, size, at_once):
        part = answering(batch.piece(start, start + at_once), budget)
        for end, column in columns.items():
            column.add(part.columns[end])
            if end[0] in answering.where_known - there and np.isfinite(part.columns[end]).any():
                there.add(end[0])
        method.add(part.method)
        status.add(part.status)
    said = answering.said()
    results = {
        "count": size,
        "columns": {
            name: _block(answering, name, columns)
            for name in answering.columns
            if name in there or name not in answering.where_known
        },
        "method": Words(answering.methods, method),
        "status": Words(STATUSES, status),
    }
    return Answer(
        "batch",
        said.asked,
        results,
        notes=list(said.notes),
        cautions=said.cautions,
        gas_cautions=said.gas_cautions,
    )


def _block(answering: Answering, name: str, columns: Mapping[tuple[str, str], Column]) -> dict[str, object]:
    dimension, ends = answering.columns[name]
    block: dict[str, object] = {"unit": units.DIMENSIONS[dimension].shown}
    block |= {"measure": "peak"} if dimension == "voltage" else {}
    return block | {end: columns[name, end] for end in ends}


FINE, OUTSIDE, NOTHING, UNREADABLE = STATUSES = ("ok", "outside-validity", "no-breakdown", "unreadable")
"""Status of a point, in the order of its code."""
MOST_SECONDS = 20.0
"""Most processor time that one batch may take [s]: a worker answers no other batch meanwhile."""
TRIAL = 0.2
"""Processor time after which the rest of a batch is reckoned from what is done [s]."""


class Budget:
    """Processor time of a batch: refused as soon as the part that is done tells that the whole takes too long.

    Parameters
    ----------
    points : int
        Of the whole batch.
    """

    def __init__(self, points: int) -> None:
        self.points, self.done, self._began = points, 0, time.thread_time()
        self._last: float | None = None

    def spent(self, points: int) -> None:
        """Say that points are done, and reckon the rest as the last of them; the first ones also set things up.

        Raises
        ------
        TooCostly
            With how many points may be asked at once.
        """
        now = time.thread_time() - self._began
        self.done += points
        rest = self.points - self.done
        if self._last is not None and now > TRIAL and points:
            self._check(now + (now - self._last) / points * rest)
        else:
            self._check(now)
        self._last = now

    def going_on(self, share: float) -> None:
        """Refuse a batch of which that share took longer than all of it may.

        Raises
        ------
        TooCostly
            With how many points may be asked at once.
        """
        now = time.thread_time() - self._began
        if now > MOST_SECONDS:
            self._check(now / max(share, 1e-9))

    def _check(self, whole: float) -> None:
        if whole > MOST_SECONDS:
            most = max(int(MOST_SECONDS / whole * self.points), 1)
            raise TooCostly(
                f"These {self.points} points would take about {whole:.0f} s of processor time; a batch may take "
                f"{MOST_SECONDS:g} s. Ask at most {most} of them at once."
            )


@dataclass(frozen=True)
class BatchPart:
    """The answer at the points of a piece.

    Parameters
    ----------
    columns : mapping
        Result column and ``values``, ``low`` or ``high`` to numbers in answer units; NaN where there is
        none.
    method, status : ndarray of int
        Codes of words.
    """

    columns: Mapping[tuple[str, str], FloatArray]
    method: np.ndarray
    status: np.ndarray


@dataclass(frozen=True)
class Saying:
    """What is said of all points of a batch."""

    asked: Echo
    notes: Sequence[str]
    cautions: tuple[str, ...]
    gas_cautions: tuple[str, ...] = ()


class Answering(Protocol):
    """How a lookup answers many points, piece by piece; what is said of them gathers in it."""

    at_once: int
    """How many points it takes at once."""
    columns: Mapping[str, tuple[str, tuple[str, ...]]]
    """Result column to its dimension, and which of ``values``, ``low`` and ``high`` it has."""
    where_known: frozenset[str]
    """Result columns that are told only where some point has a number."""

    def __call__(self, piece: Points, budget: Budget) -> BatchPart:
        """Return what is answered at the points of a piece.

        Parameters
        ----------
        budget : Budget
            Is told what was done.
        """

    @property
    def methods(self) -> Sequence[str]:
        """Words of the codes of methods, as far as they are known."""

    def said(self) -> Saying:
        """Return what is said of all points."""


def different(arrays: Sequence[FloatArray]) -> tuple[np.ndarray, np.ndarray]:
    """Return where different points stand first, and which of them each point is.

    Parameters
    ----------
    arrays : sequence of ndarray
        What makes a point, one element a point; NaN is like NaN. Without any all points are alike.
    """
    varied = [one for one in arrays if not _is_one_number(one)]
    if not varied:
        size = arrays[0].size if arrays else 0
        return np.zeros(min(size, 1), dtype=np.intp), np.zeros(size, dtype=np.intp)
    # one column by itself is sorted several times faster than rows
    rows, axis = (varied[0], None) if len(varied) == 1 else (np.stack(varied, axis=1), 0)
    _, first, which = np.unique(rows, axis=axis, return_index=True, return_inverse=True)
    return first, which.reshape(-1)


def _is_one_number(array: FloatArray) -> bool:
    return is_same(array) or not array.size or np.array_equal(array, same(array, array.size), equal_nan=True)


def shown(values: FloatArray, dimension: str) -> FloatArray:
    """Return SI values in the answer unit of their dimension."""
    unit = units.DIMENSIONS[dimension].shown
    return np.asarray(values / float(units.DIMENSIONS[dimension].spellings[unit].scale))
