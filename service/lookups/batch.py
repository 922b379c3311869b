"""POST /v1/batch: many points of one lookup at once, read piece by piece; each answered as a single question is.

What could not be read is marked, and spoils no other point.
"""

from __future__ import annotations

import math
import struct
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from service import units
from service.answers.columns import Column, Store, Words
from service.answers.document import Echo
from service.answers.lookup import Answer, Lookup
from service.errors import BadQuestion, TooCostly, UnknownName, did_you_mean, quoted
from service.methods import FloatArray
from service.methods.case import is_same, same
from service.methods.method import BoolArray
from service.parameters import Parameter, Question, read_question

MOST_POINTS = 10_000_000
"""Most points of one batch; the processor time that it may take is limited too."""
SCANNED, MOST_SCANNED = 64, 1 << 16
"""Values that are looked through at first for one that can be read, then twice as many and so on, and at most."""

BRANCH = Parameter(
    "branch", "choice", "Branch wanted of a gap or pressure.", default="right", choices=("left", "right")
)


class Numbers(Protocol):
    """Numbers as they were sent, in their unit; NaN where one is none."""

    @property
    def size(self) -> int:
        """How many there are."""

    def __getitem__(self, key: slice) -> Any:
        """Return some of them, as a float array."""


@dataclass(frozen=True)
class GivenColumn:
    """A column of a batch.

    Parameters
    ----------
    scale, offset : float
        From its unit to SI.
    low, high : float
        Bounds of the parameter in this unit, so that its own value lies on them whatever a product rounds.
    above : float
        What its numbers lie above, in SI, whatever is asked.
    """

    parameter: Parameter
    numbers: Numbers
    scale: float = 1.0
    offset: float = 0.0
    low: float = -math.inf
    high: float = math.inf
    above: float = -math.inf

    def read(self, start: int, stop: int) -> FloatArray:
        """Return the values of points in SI; NaN where one cannot be read or lies outside the parameter's bounds."""
        if self.numbers.size == 1:
            return np.broadcast_to(self._read(self.numbers[0:1]), (stop - start,))
        return self._read(self.numbers[start:stop])

    def _read(self, numbers: FloatArray) -> FloatArray:
        with np.errstate(over="ignore", invalid="ignore"):
            si = numbers if (self.scale, self.offset) == (1.0, 0.0) else self._in_si(numbers)
            if self._reaches(numbers, si):
                return si
            within = (numbers >= self.low) & (numbers <= self.high) & (si > self.above) & np.isfinite(si)
            if self.parameter.dimension == "count":
                within &= si == np.floor(si)  # half a count is no count
        return si if within.all() else np.where(within, si, np.nan)

    def _reaches(self, numbers: FloatArray, si: FloatArray) -> bool:
        """Return whether all numbers lie within the bounds, as the least and the largest tell; NaN never does."""
        if not numbers.size or self.parameter.dimension == "count":
            return False
        within = self.low <= numbers.min() and numbers.max() <= self.high
        return bool(within and self.above < si.min() and si.max() < math.inf)

    def _in_si(self, numbers: FloatArray) -> FloatArray:
        """Return numbers in SI; what lies on a bound in its own unit is not rounded out by the product."""
        low = -math.inf if self.parameter.low is None else self.parameter.low
        high = math.inf if self.parameter.high is None else self.parameter.high
        return np.asarray(np.clip(numbers * self.scale + self.offset, low, high))

    def first(self) -> float | None:
        """Return the first value that can be read [SI], or ``None``."""
        start, at_once = 0, SCANNED
        while start < self.numbers.size:
            stop = min(start + at_once, self.numbers.size)
            values = self.read(start, stop)
            readable = np.flatnonzero(np.isfinite(values))
            if readable.size:
                return float(values[readable[0]])
            start, at_once = stop, min(at_once * 2, MOST_SCANNED)
        return None


@dataclass(frozen=True)
class Points:
    """Points of a batch as understood: all of them, or a piece.

    Parameters
    ----------
    question : Question
        What is given once, with the first readable value of every column of the batch in its place.
    columns : mapping of str to ndarray
        SI values, all of the piece's length; NaN where unreadable.
    readable : ndarray of bool
        Elements whose every column could be read.
    branch : str
        Branch wanted.
    """

    lookup: Lookup
    question: Question
    columns: Mapping[str, FloatArray]
    readable: BoolArray
    branch: str

    @property
    def size(self) -> int:
        """Number of points."""
        return int(self.readable.size)

    @property
    def first(self) -> int:
        """The first readable point; the first of all where there is none."""
        return int(np.argmax(self.readable))

    def values(self, name: str) -> FloatArray:
        """Return a parameter at every point: its column, or what was given once [SI]."""
        if name in self.columns:
            return self.columns[name]
        return np.broadcast_to(self.question.number(name), (self.size,))

    def question_at(self, point: int) -> Question:
        """Return the single question at a point; what cannot be read there keeps the value of another point."""
        own = {name: float(array[point]) for name, array in self.columns.items() if np.isfinite(array[point])}
        return asked_with(self.question, own)


def asked_with(question: Question, values: Mapping[str, float]) -> Question:
    """Return a question with other numbers [SI]."""
    declared = question.parameters
    typed = {name: int(x) if declared[name].dimension == "count" else x for name, x in values.items()}
    return replace(question, values={**question.values, **typed})


@dataclass(frozen=True)
class Batch:
    """A batch as understood; its columns are read piece by piece.

    Parameters
    ----------
    question : Question
        What is given once, with the first readable value of every column in its place.
    columns : mapping of str to GivenColumn
        Of equal length, or of one value.
    branch : str
        Branch wanted.
    """

    lookup: Lookup
    question: Question
    columns: Mapping[str, GivenColumn]
    branch: str

    @property
    def size(self) -> int:
        """Number of points."""
        return max(column.numbers.size for column in self.columns.values())

    def piece(self, start: int, stop: int) -> Points:
        """Return the points from one to another."""
        stop = min(stop, self.size)
        arrays = {name: column.read(start, stop) for name, column in self.columns.items()}
        readable = np.isfinite(next(iter(arrays.values())))
        for array in list(arrays.values())[1:]:
            readable = readable & np.isfinite(array)
        return Points(self.lookup, self.question, arrays, readable, self.branch)


def batched(lookups: Mapping[str, Lookup]) -> tuple[str, ...]:
    """Return the keys of the lookups that say how they are answered at many points."""
    return tuple(key for key, lookup in lookups.items() if lookup.many is not None)


def read_batch(body: Mapping[str, Any], lookups: Mapping[str, Lookup]) -> Batch:
    """Return a batch from its body.

    Parameters
    ----------
    body : mapping
        With ``lookup``, ``given`` (texts) and ``columns`` (``unit`` and ``values``, a list or `Numbers`).

    Raises
    ------
    BadQuestion
        When a name, a unit or a length does not fit.
    """
    key, known = body.get("lookup"), batched(lookups)
    if key not in known:
        raise UnknownName.among("lookup", str(key), known)
    lookup = lookups[str(key)]
    given = dict(body.get("given", {}))
    branch = str(BRANCH.read(str(given.pop("branch")))) if "branch" in given else "right"
    columns = read_columns(body.get("columns", {}), lookup)
    pairs = [(name, _given_text(name, value)) for name, value in given.items()]
    pairs += [(name, _sample(name, column)) for name, column in columns.items()]
    parameters = tuple(replace(p, many=False) if p.name == "electrodes" else p for p in lookup.parameters)
    return Batch(lookup, read_question(lookup.key, parameters, pairs), columns, branch)


def _given_text(name: str, value: Any) -> str:
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        raise BadQuestion.about(name[:64], f"given.{quoted(name)} must be text, as in a query.")
    return str(value)


def _sample(name: str, column: GivenColumn) -> str:
    """Return the first readable value as query text, so that the column is checked like any parameter."""
    value, dimension = column.first(), column.parameter.dimension
    if value is None:
        raise BadQuestion.about(name, f"No value of columns.{name} can be read.")
    if dimension not in units.DIMENSIONS:
        return repr(int(value)) if dimension == "count" else repr(value)
    return f"{units.shown(value, dimension)!r}{units.DIMENSIONS[dimension].shown}"


def read_columns(columns: object, lookup: Lookup) -> dict[str, GivenColumn]:
    """Return the columns, of one length or of one value.

    Parameters
    ----------
    columns : mapping
        Name to ``unit`` and ``values``.
    lookup : Lookup
        Whose parameters the columns are.

    Raises
    ------
    BadQuestion
        For an unknown column, unit or length.
    """
    if not isinstance(columns, Mapping) or not columns:
        raise BadQuestion.about("columns", "columns is needed: at least one parameter with unit and values.")
    declared = {p.name: p for p in lookup.parameters if p.dimension in (*units.DIMENSIONS, "number", "count")}
    found = {}
    for name, column in columns.items():
        if name not in declared:
            why = did_you_mean(name, declared)
            raise BadQuestion.about(name[:64], f"columns.{quoted(name)} is not a quantity here{why}.", declared)
        found[name] = _column(declared[name], column)
    sizes = {name: column.numbers.size for name, column in found.items()}
    length = max(sizes.values())
    wrong = [name for name, size in sizes.items() if size not in (1, length)]
    if wrong or not length:
        raise BadQuestion.about(wrong[0] if wrong else "columns", "Columns have equal length or one value.")
    return found


def _column(parameter: Parameter, column: object) -> GivenColumn:
    name = parameter.name
    if not isinstance(column, Mapping) or set(column) - {"unit", "values"} or not _is_list(column.get("values")):
        raise BadQuestion.about(name, f"columns.{name} needs unit and values, a list of numbers.", ("unit", "values"))
    values = column["values"]
    count = len(values) if isinstance(values, list) else values.size
    if count > MOST_POINTS:
        raise BadQuestion.about(name, f"columns.{name} has {count} values; at most {MOST_POINTS} are taken.")
    read = numbers(values) if isinstance(values, list) else values
    if parameter.dimension not in units.DIMENSIONS:
        return GivenColumn(parameter, read, **_bounds(parameter, lambda bound: bound))
    kind = units.DIMENSIONS[parameter.dimension]
    given = column.get("unit")
    if not isinstance(given, str) or not given:
        accepted = tuple(kind.spellings)
        detail = f"columns.{name}.unit is needed, one of {', '.join(accepted)}."
        raise BadQuestion.about(f"columns.{name}.unit", detail, accepted)
    unit = units.find(f"columns.{name}.unit", given, kind)
    # nought is accepted where the parameter begins there, as of a tolerance
    above = -math.inf if kind.lowest is None or parameter.low == kind.lowest else kind.lowest
    return GivenColumn(
        parameter, read, float(unit.scale), float(unit.offset), **_bounds(parameter, unit.from_si), above=above
    )


def _bounds(parameter: Parameter, shown: Callable[[float], float]) -> dict[str, float]:
    """Return the bounds of a parameter as far as it has them, shown in a unit."""
    ends = {"low": parameter.low, "high": parameter.high}
    return {end: shown(float(bound)) for end, bound in ends.items() if bound is not None}


def _is_list(values: object) -> bool:
    return isinstance(values, list) or (hasattr(values, "size") and hasattr(values, "__getitem__"))


def numbers(values: list[Any], *, plain: bool = False) -> FloatArray:
    """Return numbers as an array; true, null and strings become NaN.

    Parameters
    ----------
    plain : bool
        Whether all of them are known to be numbers: else it takes a pass over their types.
    """
    if plain or set(map(type, values)) <= {int, float}:
        with suppress(OverflowError):  # half the time of `numpy.fromiter`
            return np.frombuffer(struct.pack(f"{len(values)}d", *values))
    return np.array([_float(v) if type(v) in (int, float) else np.nan for v in values], dtype=np.float64)


def _float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return float("nan")


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
