"""The points of a batch as cases, and the answer that is put together from them.

Numbers come from arrays; the sentences beside them, notes and cautions, are those that single questions get at one
point of every kind that occurs, so that no rule is written twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import orjson

from service.answers.evaluate import Evaluation
from service.answers.lookup import Answer
from service.answers.measure import asked_voltage
from service.answers.point import asked_gap, asked_method, gas_cautions, point_cautions
from service.answers.registry import Registry
from service.answers.situation import Situation
from service.errors import OutsideValidity, ServiceError
from service.lookups.batch_input import Batch
from service.methods import Case, FloatArray
from service.methods.method import BoolArray
from service.physics import atmosphere

FINE, OUTSIDE, NOTHING, UNREADABLE = STATUSES = ("ok", "outside-validity", "no-breakdown", "unreadable")
"""Status of a point, in the order of its code."""
MOST_KINDS = 48
"""Most kinds of points whose sentences are asked for; a dozen is usual."""


@dataclass(frozen=True)
class Points:
    """The points of a batch that can be answered, as cases.

    Parameters
    ----------
    batch : Batch
        ``readable`` tells which points these are.
    registry : Registry
    here : Situation
        Of the first of them.
    case : Case
        One element per point.
    air : Air
        Of all points of the batch.
    """

    batch: Batch
    registry: Registry
    here: Situation
    case: Case
    air: Air

    @classmethod
    def of(cls, batch: Batch, registry: Registry, understood: Callable[..., Situation], *, gaps: bool) -> Points:
        """Return the points, less those that a single question would refuse as contradictory.

        Parameters
        ----------
        batch : Batch
        registry : Registry
        understood : callable
            Question and registry to its situation.
        gaps : bool
            Whether gaps are asked, and not answered.
        """
        air = Air.of(batch)
        rows = batch.readable & air.possible & ~air.outside
        batch = replace(batch, readable=rows) if rows.any() else batch
        question = batch.question_at(batch.first)
        here = understood(question, registry)
        batch = replace(batch, question=question)
        if gaps and here.arrangement.gap_from is not None:
            asked_gap(question, here)
        case = _cases(batch, here, air)
        if not gaps:
            return cls(batch, registry, here, case, air)
        gap = _gaps(batch, here, case)
        positive = gap > 0
        if not positive.all():  # the outer diameter is not the larger one
            batch = replace(batch, readable=_within(batch.readable, positive))
            case, gap = case.select(positive), gap[positive]
        return cls(batch, registry, here, replace(case, gap=gap), air)

    @property
    def rows(self) -> BoolArray:
        """Which points of the batch these are."""
        return self.batch.readable

    @property
    def only(self) -> str | None:
        """Key of the one method wanted."""
        return asked_method(self.batch.question, self.here)

    def answer(
        self, columns: Mapping[str, Any], methods: Any, code: np.ndarray, kind: np.ndarray, said: Said
    ) -> Answer:
        """Return the answer of the batch.

        Parameters
        ----------
        columns : mapping
            Result columns.
        methods : Any
            Key of the method of every point, as finished JSON.
        code : ndarray of int
            Position in `STATUSES` of these points.
        kind : ndarray of int
            Points of one kind get the same sentences.
        said : Said
            What is already known to be said.
        """
        status = np.where(self.air.outside, STATUSES.index(OUTSIDE), STATUSES.index(UNREADABLE))
        status[self.rows] = code
        results = {"count": self.batch.size, "columns": dict(columns), "method": methods}
        results["status"] = words(STATUSES, status)
        notes, cautions = self._said_of_kinds(kind)
        return Answer(
            "batch",
            _asked(self.batch, self.here),
            results,
            notes=[*self.here.notes, *notes, *said.notes],
            cautions=tuple(dict.fromkeys(("estimate", *cautions, *said.cautions, "not-a-barrier"))),
            gas_cautions=gas_cautions(self.here.case, self.registry),
        )

    def _said_of_kinds(self, kind: np.ndarray) -> tuple[list[str], list[str]]:
        """Return notes and cautions of the single question at the first point of every kind."""
        notes: list[str] = []
        cautions: list[str] = []
        points = np.flatnonzero(self.rows)
        _, first = np.unique(kind * 4 + self.air.kind[points], return_index=True)
        for i in first[:MOST_KINDS]:
            with suppress(ServiceError):
                alone = self.batch.lookup.answer(self.batch.question_at(int(points[i])))
                notes += alone.notes
                cautions += alone.cautions
        return notes, cautions


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
class Air:
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

    @classmethod
    def of(cls, batch: Batch) -> Air:
        """Return the air of the points of a batch."""
        question, every = batch.question, np.ones(batch.size, dtype=np.bool_)
        pressure, outside = _pressures(batch)
        if "gas" in question and question.key("gas") != "air":
            return cls(
                pressure, np.full(batch.size, np.nan), every, outside & batch.readable, np.zeros(batch.size, int)
            )
        name = next((one for one in WATER if question.given(one)), "absolute_humidity")
        temperature, value = batch.values("temperature"), batch.values(name)
        with np.errstate(invalid="ignore"):
            possible = value <= temperature if name == "dew_point" else every
            water, too_hot = _each(WATER[name], np.where(possible, value, np.nan), temperature)
            held, beyond = _each(atmosphere.largest_humidity, temperature, pressure)
            kept = water <= held * (1 + 1e-9)
            # a humidity that was given is refused where the air cannot hold it; the default is left out there
            possible = possible & (kept | too_hot | beyond) if question.given(name) else possible
            kind = np.where(kept, water > held * NEAR_DEW, 2).astype(int)
        outside = (outside | too_hot | beyond) & batch.readable
        return cls(pressure, np.where(kept, water, np.nan), possible, outside, kind)


NEAR_DEW = 0.9
"""Share of the humidity that air can hold from which there is a note about moisture."""

WATER: Mapping[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "relative_humidity": atmosphere.absolute_humidity,
    "dew_point": atmosphere.absolute_humidity_at_dew_point,
    "absolute_humidity": lambda value, _: value,
}
"""Ways to give a humidity, in the order in which they count, to absolute humidity [kg/m3]."""


def _pressures(batch: Batch) -> tuple[FloatArray, BoolArray]:
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


def _each(function: Callable[..., Any], *arrays: FloatArray) -> tuple[FloatArray, BoolArray]:
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
        if there.size > 1 and len(chosen[0]) > 1:
            for half in np.array_split(there, 2):
                own = [np.where(np.isin(np.arange(one.size), half), one, np.nan) for one in arrays]
                value, beyond = _each(function, *own)
                whole[half], outside[half] = value[half], beyond[half]
        else:
            outside[there] = True
    return whole, outside


def _cases(batch: Batch, here: Situation, air: Air) -> Case:
    """Return the case of all points; columns replace what was given once."""
    rows = batch.readable
    columns = {name: array[rows] for name, array in batch.columns.items()}
    case = here.case.repeated(int(np.count_nonzero(rows)))
    varied = not batch.columns.keys().isdisjoint(("pressure", "altitude", "sea_level_pressure"))
    return replace(
        case,
        pressure=air.pressure[rows] if varied else case.pressure,
        temperature=columns.get("temperature", case.temperature),
        humidity=air.humidity[rows] if case.gas == "air" else case.humidity,
        frequency=_frequencies(batch, case),
        fraction=None if case.fraction is None else columns.get("fraction", case.fraction),
        dimensions={name: columns.get(name, array) for name, array in case.dimensions.items()},
    )


def _frequencies(batch: Batch, case: Case) -> FloatArray:
    """Return the frequency of all points [Hz]: as of a single one, the larger of oscillation and repetition."""
    names = ("frequency", "repetition_frequency")
    if batch.columns.keys().isdisjoint(names):
        return case.frequency
    given = [batch.values(name)[batch.readable] for name in names if batch.question.given(name)]
    return np.asarray(np.max(given, axis=0))


def _gaps(batch: Batch, here: Situation, case: Case) -> FloatArray:
    """Return the gaps of all points [m]: a column, given once, or what the dimensions leave."""
    if here.arrangement.gap_from is not None:
        return np.asarray(here.arrangement.gap_from(case.dimensions))
    return batch.values("gap")[batch.readable]


def _within(rows: BoolArray, kept: BoolArray) -> BoolArray:
    """Return a mask of all points from one of those that another mask left."""
    left = rows.copy()
    left[rows] = kept
    return left


def words(keys: Sequence[str | None], choice: np.ndarray) -> orjson.Fragment:
    """Return a list of words as finished JSON: the word of a position for every element; the last one for -1."""
    tokens = [orjson.dumps(key) for key in keys]
    if not choice.size:
        return orjson.Fragment(b"[]")
    first, last = int(choice.min()), int(choice.max())
    if first == last:
        return orjson.Fragment(b"[" + (tokens[first] + b",") * (choice.size - 1) + tokens[first] + b"]")
    return orjson.Fragment(b"[" + b",".join(np.array(tokens, dtype=object)[choice].tolist()) + b"]")


def _asked(batch: Batch, here: Situation) -> dict[str, Any]:
    """Return what was asked: the situation, what was given once beside it, and the columns."""
    return {"lookup": batch.lookup.key} | dict(_echo(batch, here))


def _echo(batch: Batch, here: Situation) -> Iterator[tuple[str, Any]]:
    question, asked = batch.question, here.echo({})
    assumed = asked.pop("assumed")
    yield from asked.items()
    names = [name for name in question.values if name not in asked and name not in batch.columns]
    once = {name: question.parameters[name].show(question.values[name]) for name in names if question.given(name)}
    if "measure" in question.parameters:
        if "voltage" in once:
            once["voltage"] = asked_voltage(question)
        once |= {"measure": question.key("measure"), "branch": batch.branch}
        assumed = [*(["measure"] if "measure" in question.assumed else []), *assumed]
    yield from once.items()
    yield "assumed", assumed
    yield from ((name, "column") for name in batch.columns)
    # what follows from a column differs from point to point too
    follows = {"pressure": ("altitude", "sea_level_pressure"), "absolute_humidity": ("relative_humidity", "dew_point")}
    for name, causes in follows.items():
        if name in asked and any(cause in batch.columns for cause in causes):
            yield name, "column"
    if "absolute_humidity" in asked and "temperature" in batch.columns and question.given("relative_humidity"):
        yield "absolute_humidity", "column"
