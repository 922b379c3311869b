"""The points of a batch as cases of one arrangement, answered piece by piece.

Numbers come from arrays; the sentences beside them, notes and cautions, are those that single questions get at one
point of every kind that occurs, so that no rule is written twice.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from functools import partial
from types import MappingProxyType

import numpy as np

from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate
from service.answers.registry import Registry
from service.answers.results import asked_gap, asked_method, gap_that_follows, point_cautions
from service.answers.situation import Situation, situation
from service.errors import BadQuestion, OutsideValidity, ServiceError
from service.lookups.batch import FINE, OUTSIDE, STATUSES, UNREADABLE, Batch, BatchPart, Budget, Points, Saying, shown
from service.methods import Case, FloatArray
from service.methods.case import AIR, is_same, same
from service.methods.method import BoolArray
from service.physics import atmosphere
from service.units import ROUNDING

MOST_KINDS = 48
"""Most kinds of points whose sentences are asked for; a dozen is usual."""
MORE_KINDS = f"Sentences and cautions are those of {MOST_KINDS} kinds of points; others may have more: ask them alone."


@dataclass(frozen=True)
class Cases:
    """The points of a piece that can be answered, as cases.

    Parameters
    ----------
    points : Points
        ``readable`` tells which points these are.
    here : Situation
        Of the first of them.
    case : Case
        One element per point.
    air : AirColumns
        Of all points of the piece.
    """

    points: Points
    registry: Registry
    here: Situation
    case: Case
    air: AirColumns

    @classmethod
    def of(
        cls, points: Points, registry: Registry, air: AirColumns, understood: Callable[..., Situation], *, gaps: bool
    ) -> Cases | None:
        """Return the points, less those that a single question would refuse as contradictory; ``None`` without any.

        Parameters
        ----------
        understood : callable
            Question and registry to its situation.
        gaps : bool
            Whether gaps are asked, and not answered.
        """
        rows = points.readable & air.possible & ~air.outside
        if not rows.any():
            return None
        points = replace(points, readable=rows)
        question = points.question_at(points.first)
        here = understood(question, registry)
        points = replace(points, question=question)
        if gaps and here.arrangement.gap_from is not None:
            gap_that_follows(question, here)
        case = _cases(points, here, air)
        if not gaps:
            return cls(points, registry, here, case, air)
        gap = _gaps(points, here, case)
        positive = gap > 0
        if not positive.any():
            return None
        if not positive.all():  # the outer diameter is not the larger one
            points = replace(points, readable=_within(points.readable, positive))
            case, gap = case.select(positive), gap[positive]
            here = understood(points.question_at(points.first), registry)
        return cls(points, registry, here, replace(case, gap=gap), air)

    @property
    def rows(self) -> BoolArray:
        """Which points of the piece these are."""
        return self.points.readable

    @property
    def only(self) -> str | None:
        """Key of the one method wanted."""
        return asked_method(self.points.question, self.here)


@dataclass(frozen=True)
class Found:
    """What is found at the cases of a piece.

    Parameters
    ----------
    columns : mapping
        Result column and ``values``, ``low`` or ``high`` to numbers in answer units.
    method : ndarray of int
        Position among the methods of the arrangement, -1 for none.
    code : ndarray of int
        Position in `STATUSES`.
    kind : ndarray of int
        Points of one kind get the same sentences.
    said : Said
        What is already known to be said.
    """

    columns: Mapping[tuple[str, str], FloatArray]
    method: np.ndarray
    code: np.ndarray
    kind: np.ndarray
    said: Said


class AtCases(ABC):
    """Answers many points as cases of one arrangement.

    Parameters
    ----------
    understood : callable
        Question and registry to its situation.
    """

    gaps: bool
    """Whether gaps are asked, and not answered."""
    at_once: int
    columns: Mapping[str, tuple[str, tuple[str, ...]]]
    where_known: frozenset[str] = frozenset()

    def __init__(self, registry: Registry, understood: Callable[..., Situation], batch: Batch) -> None:
        self.registry, self.understood, self.batch = registry, understood, batch
        self._first: Cases | None = None
        self._air: AirColumns | None = None
        self._notes: dict[str, None] = {}
        self._cautions: dict[str, None] = {}
        self._kinds: set[int] = set()

    @abstractmethod
    def found(self, cases: Cases, budget: Budget) -> Found:
        """Return what is found at cases."""

    def __call__(self, piece: Points, budget: Budget) -> BatchPart:
        """Return the answer at the points of a piece."""
        air = self._air_of(piece)
        cases = Cases.of(piece, self.registry, air, self.understood, gaps=self.gaps)
        status = np.where(air.outside, *map(np.int8, (STATUSES.index(OUTSIDE), STATUSES.index(UNREADABLE))))
        method = np.full(piece.size, -1, dtype=np.int16)
        ends = [(name, end) for name, (_, of) in self.columns.items() for end in of]
        if cases is None:
            nothing = np.full(piece.size, np.nan)
            budget.spent(piece.size)
            return BatchPart(dict.fromkeys(ends, nothing), method, status)
        if self._first is None:
            self._first = cases
        found = self.found(cases, budget)
        if cases.rows.all():
            status, method = found.code, found.method
        else:
            status[cases.rows], method[cases.rows] = found.code, found.method
        self._notes |= dict.fromkeys([*cases.here.notes, *self._said_of_kinds(cases, found.kind), *found.said.notes])
        self._cautions |= dict.fromkeys(found.said.cautions)
        return BatchPart({end: _whole(cases.rows, found.columns[end]) for end in ends}, method, status)

    def _air_of(self, piece: Points) -> AirColumns:
        """Return the air of the points of a piece; that of one, found once, where no column is about it."""
        if not piece.columns.keys().isdisjoint(ABOUT_AIR):
            return AirColumns.of(piece)
        if self._air is None:
            self._air = AirColumns.of(replace(piece, columns={}, readable=np.ones(1, dtype=np.bool_)))
        return self._air.over(piece.readable)

    def _said_of_kinds(self, cases: Cases, kind: np.ndarray) -> list[str]:
        """Return notes of the single question at the first point of every new kind, and keep its cautions."""
        notes: list[str] = []
        points = np.flatnonzero(cases.rows)
        for one, place in _firsts(kind * 4 + cases.air.kind[points]):
            if one in self._kinds:
                continue
            if len(self._kinds) >= MOST_KINDS:
                notes.append(MORE_KINDS)
                break
            self._kinds.add(one)
            with suppress(ServiceError):
                alone = self.batch.lookup.answer(cases.points.question_at(int(points[place])))
                notes += alone.notes
                self._cautions |= dict.fromkeys(alone.cautions)
        return notes

    @property
    def methods(self) -> Sequence[str]:
        """Keys of the methods of the arrangement."""
        return [] if self._first is None else [one.key for one in self._first.here.arrangement.methods]

    def said(self) -> Saying:
        """Return what is said of all points.

        Raises
        ------
        ServiceError
            That of the first readable point, where none can be answered.
        """
        points, here = (self._first.points, self._first.here) if self._first is not None else self._unanswered()
        asked = Echo({"lookup": self.batch.lookup.key}) | _asked(points, here)
        cautions = dict.fromkeys(("estimate", *self._cautions, "not-a-barrier"))
        notes = list(dict.fromkeys([*here.notes, *self._notes]))
        return Saying(asked, notes, tuple(cautions), self.registry.gas_cautions(here.case.gas))

    def _unanswered(self) -> tuple[Points, Situation]:
        starts = range(0, self.batch.size, self.at_once)
        pieces = (self.batch.piece(start, start + self.at_once) for start in starts)
        points = next((one for one in pieces if one.readable.any()), self.batch.piece(0, 1))
        question = points.question_at(points.first)
        here = self.understood(question, self.registry)
        if self.gaps and here.arrangement.gap_from is not None:
            asked_gap(question, here)
        return replace(points, question=question), here


def _firsts(kinds: np.ndarray) -> list[tuple[int, int]]:
    """Return every kind that occurs, and where it does first."""
    changes = np.concatenate([[0], np.flatnonzero(kinds[1:] != kinds[:-1]) + 1])[: kinds.size]
    every, first = np.unique(kinds[changes], return_index=True)
    return list(zip(every.tolist(), changes[first].tolist(), strict=True))


def _whole(rows: BoolArray, values: FloatArray) -> FloatArray:
    """Return numbers of some points as those of all."""
    if rows.all():
        return values
    whole = np.full(rows.shape, np.nan)
    whole[rows] = values
    return whole


@dataclass(frozen=True)
class Said:
    """Sentences of an evaluation over all its elements."""

    notes: Iterable[str] = ()
    cautions: Iterable[str] = ()

    @classmethod
    def of(cls, found: Evaluation) -> Said:
        """Return what the methods say of their elements, and the cautions of any of them."""
        return cls([note for one in found.methods for note in one.estimate.notes], point_cautions(found))


@dataclass(frozen=True)
class AirColumns:
    """Pressure and humidity of all points of a batch, and which of them a single question would refuse.

    Parameters
    ----------
    pressure : ndarray
        [Pa].
    humidity : ndarray
        Absolute [kg/m3]; NaN where none is known or the air cannot hold the default.
    possible : ndarray of bool
        False where what was given contradicts itself.
    outside : ndarray of bool
        True where no relation of the atmosphere holds.
    kind : ndarray of int
        Points of one kind get the same sentences about their air.
    """

    pressure: FloatArray
    humidity: FloatArray
    possible: BoolArray
    outside: BoolArray
    kind: np.ndarray

    def over(self, readable: BoolArray) -> AirColumns:
        """Return that of one point laid over many."""
        laid = AirColumns(*(np.broadcast_to(getattr(self, one.name), readable.shape) for one in fields(self)))
        return replace(laid, outside=laid.outside & readable)

    @classmethod
    def of(cls, batch: Points) -> AirColumns:
        """Return the air of points."""
        question, every = batch.question, np.ones(batch.size, dtype=np.bool_)
        pressure, outside = _pressures(batch)
        if "gas" in question and question.key("gas") != AIR:
            return cls(
                pressure, np.full(batch.size, np.nan), every, outside & batch.readable, np.zeros(batch.size, int)
            )
        name = next((one for one in WATER if question.given(one)), "absolute_humidity")
        temperature, value = batch.values("temperature"), batch.values(name)
        with np.errstate(invalid="ignore"):
            possible = value <= temperature if name == "dew_point" else every
            water, too_hot = _each(WATER[name], np.where(possible, value, np.nan), temperature)
            held, beyond = _each(atmosphere.largest_humidity, temperature, pressure)
            kept = water <= held * (1 + ROUNDING)
            # a humidity that was given is refused where the air cannot hold it; the default is left out there
            possible = possible & (kept | too_hot | beyond) if question.given(name) else possible
            kind = np.where(kept, water > held * NEAR_DEW, 2).astype(int)
        outside = (outside | too_hot | beyond) & batch.readable
        return cls(pressure, np.where(kept, water, np.nan), possible, outside, kind)


ABOUT_AIR = (
    "pressure", "altitude", "sea_level_pressure", "temperature", "relative_humidity", "dew_point", "absolute_humidity",
)  # fmt: skip
"""Columns that change the air from point to point."""

NEAR_DEW = 0.9
"""Share of the humidity that air can hold from which there is a note about moisture."""

WATER: Mapping[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "relative_humidity": atmosphere.absolute_humidity,
    "dew_point": atmosphere.absolute_humidity_at_dew_point,
    "absolute_humidity": lambda value, _: value,
}
"""Ways to give a humidity, in the order in which they count, to absolute humidity [kg/m3]."""


def _pressures(batch: Points) -> tuple[FloatArray, BoolArray]:
    """Return the pressure of every point [Pa], and where the atmosphere has none."""
    question = batch.question
    if "pressure" not in question.parameters:  # it is what is asked
        return np.full(batch.size, atmosphere.REFERENCE_PRESSURE), np.zeros(batch.size, dtype=np.bool_)
    if question.given("sea_level_pressure"):
        warm = [batch.values("temperature")] if question.given("temperature") else []
        return _each(atmosphere.station_pressure, batch.values("sea_level_pressure"), batch.values("altitude"), *warm)
    if question.given("altitude"):
        return _each(atmosphere.standard_pressure, batch.values("altitude"))
    return batch.values("pressure"), np.zeros(batch.size, dtype=np.bool_)


def _each(function: Callable[..., object], *arrays: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return a function of arrays where all are numbers, and where it does not hold.

    It is computed once where they are all the same, and one by one only where it does not hold somewhere.
    """
    whole, outside = np.full(arrays[0].shape, np.nan), np.zeros(arrays[0].shape, dtype=np.bool_)
    there = np.flatnonzero(np.all([np.isfinite(one) for one in arrays], axis=0))
    if not there.size:
        return whole, outside
    chosen = [one[:1] if one.strides == (0,) else one[there] for one in arrays]
    try:
        whole[there] = function(*chosen)
    except OutsideValidity:
        if there.size > 1 and max(map(len, chosen)) > 1:
            for half in np.array_split(there, 2):
                own = [np.where(np.isin(np.arange(one.size), half), one, np.nan) for one in arrays]
                value, beyond = _each(function, *own)
                whole[half], outside[half] = value[half], beyond[half]
        else:
            outside[there] = True
    return whole, outside


def _cases(batch: Points, here: Situation, air: AirColumns) -> Case:
    """Return the case of all points; columns replace what was given once."""
    rows = batch.readable
    some = partial(_some, rows)
    columns = {name: some(array) for name, array in batch.columns.items()}
    case = here.case.repeated(int(np.count_nonzero(rows)))
    return replace(
        case,
        pressure=some(air.pressure) if _pressure_varies(batch) else case.pressure,
        temperature=columns.get("temperature", case.temperature),
        humidity=some(air.humidity) if case.in_air else case.humidity,
        frequency=_frequencies(batch, case),
        fraction=None if case.fraction is None else columns.get("fraction", case.fraction),
        dimensions={name: columns.get(name, array) for name, array in case.dimensions.items()},
    )


def _pressure_varies(batch: Points) -> bool:
    """Return whether the pressure differs from point to point; one reduced to sea level depends on the temperature."""
    causes = {"pressure", "altitude", "sea_level_pressure"}
    causes |= {"temperature"} if batch.question.given("sea_level_pressure") else set()
    return not batch.columns.keys().isdisjoint(causes)


def _some(rows: BoolArray, array: FloatArray) -> FloatArray:
    """Return some elements of an array; what is one number throughout stays so."""
    if is_same(array):
        return same(array, int(np.count_nonzero(rows)))
    return array if rows.all() else array[rows]


def _frequencies(batch: Points, case: Case) -> FloatArray:
    """Return the frequency of all points [Hz]: as of a single one, the larger of oscillation and repetition."""
    names = ("frequency", "repetition_frequency")
    if batch.columns.keys().isdisjoint(names):
        return case.frequency
    given = [batch.values(name)[batch.readable] for name in names if batch.question.given(name)]
    return np.asarray(np.max(given, axis=0))


def _gaps(batch: Points, here: Situation, case: Case) -> FloatArray:
    """Return the gaps of all points [m]: a column, given once, or what the dimensions leave."""
    if here.arrangement.gap_from is not None:
        return np.asarray(here.arrangement.gap_from(case.dimensions))
    return _some(batch.readable, batch.values("gap"))


def _within(rows: BoolArray, kept: BoolArray) -> BoolArray:
    """Return a mask of all points from one of those that another mask left."""
    left = rows.copy()
    left[rows] = kept
    return left


def _asked(batch: Points, here: Situation) -> Echo:
    """Return what was asked: the situation, what was given once beside it, and the columns."""
    question = batch.question
    names = [name for name in question.values if name not in here.asked.values and name not in batch.columns]
    once = Echo.of(question, (name for name in names if question.given(name) or name == "measure"))
    if "measure" in question.parameters:
        once |= Echo({"branch": batch.branch})
    columns = Echo(dict(_of_columns(batch, here)))
    return here.asked | once | columns


def _of_columns(batch: Points, here: Situation) -> Iterator[tuple[str, str]]:
    """Yield what differs from point to point."""
    asked, question = here.asked.values, batch.question
    yield from ((name, "column") for name in batch.columns)
    # what follows from a column differs from point to point too
    if "pressure" in asked and _pressure_varies(batch):
        yield "pressure", "column"
    if "absolute_humidity" in asked and any(cause in batch.columns for cause in ("relative_humidity", "dew_point")):
        yield "absolute_humidity", "column"
    if "absolute_humidity" in asked and "temperature" in batch.columns and question.given("relative_humidity"):
        yield "absolute_humidity", "column"


class Voltages(AtCases):
    """Answers breakdown voltages."""

    gaps = True
    at_once = 1 << 14
    columns = MappingProxyType(
        {"breakdown_voltage": ("voltage", ("values", "low", "high")), "inception_voltage": ("voltage", ("values",))}
    )

    where_known = frozenset({"inception_voltage"})

    def __init__(self, registry: Registry, batch: Batch) -> None:
        for name in ("gap_from", "gap_to"):
            if name in batch.question:
                raise BadQuestion.about(name, f"{name} belongs to curves; give gap as a column.")
        super().__init__(registry, situation, batch)

    def found(self, cases: Cases, budget: Budget) -> Found:
        """Return breakdown and inception voltages."""
        one = evaluate(cases.here.arrangement, cases.case, only=cases.only)
        volts = {
            ("breakdown_voltage", "values"): one.value,
            ("breakdown_voltage", "low"): one.low,
            ("breakdown_voltage", "high"): one.high,
            ("inception_voltage", "values"): one.inception,
        }
        columns = {end: shown(values, "voltage") for end, values in volts.items()}
        code = np.where(one.answered, STATUSES.index(FINE), STATUSES.index(OUTSIDE))
        budget.spent(cases.points.size)
        method = chosen(one)
        return Found(columns, method, code, kinds(one, method), Said.of(one))


def chosen(found: Evaluation) -> np.ndarray:
    """Return the position of every element's method among all of the arrangement; -1 where none answers."""
    every = found.arrangement.methods
    places = [next(place for place, method in enumerate(every) if method is one.method) for one in found.methods]
    return np.asarray(np.array([*places, -1], dtype=np.int16).take(found.choice))


def kinds(found: Evaluation, method: np.ndarray) -> np.ndarray:
    """Return which elements get the same sentences: one method, and the same of its ends known."""
    ends = np.isnan(found.low) + np.int16(2) * np.isnan(found.high)
    return np.asarray((method + np.int16(1)) * np.int16(4) + ends)
