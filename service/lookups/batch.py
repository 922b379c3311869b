"""POST /v1/batch: many points of one lookup at once. Every point is answered as a single question would be.

Numbers come from arrays; the sentences beside them, notes and cautions, are those that single questions get at one
point of every kind that occurs, so that no rule is written twice.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import orjson

from service import units
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap_curves import LARGEST_GAP, SMALLEST_GAP, check_sizes
from service.answers.gap_curves import case_at as gap_at
from service.answers.inverse import Branch, Curves, Placed
from service.answers.lookup import Answer, Lookup
from service.answers.measure import asked_voltage, readings
from service.answers.point import asked_gap, asked_method, gas_cautions, point_cautions
from service.answers.registry import Registry
from service.answers.situation import Situation, situation
from service.answers.withstand import withstand
from service.errors import BadQuestion, OutsideValidity, ServiceError, TooCostly
from service.lookups.batch_input import Batch, read_batch
from service.lookups.pressure import LARGEST_PRESSURE, SMALLEST_PRESSURE, surroundings
from service.lookups.pressure import case_at as pressure_at
from service.methods import Case, FloatArray
from service.methods.method import BoolArray
from service.physics import atmosphere, humidity

FINE, OUTSIDE, NOTHING, UNREADABLE = STATUSES = ("ok", "outside-validity", "no-breakdown", "unreadable")
"""Status of a point, in the order of its code."""
SITUATIONS_AT_ONCE = 256
"""Situations whose curves are laid over the grid together; bounds the memory."""
MOST_SECONDS = 20.0
"""Most processor time that one batch may take [s]: a worker answers nobody else meanwhile."""
TRIAL = 0.2
"""Processor time after which the rest of a batch is reckoned from what is done [s]."""
MOST_KINDS = 48
"""Most kinds of points whose sentences are asked for; a dozen is usual."""


def answer(body: Mapping[str, Any], registry: Registry, lookups: Mapping[str, Lookup]) -> Answer:
    """Return the answer to a batch.

    Parameters
    ----------
    body : mapping
        As `read_batch` takes it.
    registry : Registry
    lookups : mapping
        Every lookup by key.

    Raises
    ------
    BadQuestion
        When the batch as a whole cannot be read.
    TooCostly
        When it would hold a worker for too long.
    """
    batch = read_batch(body, lookups)
    return KINDS.get(batch.lookup.key, _of_distances)(batch, registry)


class Budget:
    """Processor time of a batch: refused as soon as the part that is done tells that the whole takes too long."""

    def __init__(self, points: int) -> None:
        self.points, self.began = points, time.thread_time()

    def spent(self, done: int) -> None:
        """Reckon the whole from the points that are done."""
        spent = time.thread_time() - self.began
        whole = spent * self.points / max(done, 1)
        if spent > TRIAL and whole > MOST_SECONDS:
            most = int(MOST_SECONDS / whole * self.points)
            raise TooCostly(
                f"These {self.points} points would take about {whole:.0f} s of processor time; a batch may take "
                f"{MOST_SECONDS:g} s. Ask at most {most} of them at once."
            )


# --- the points of a batch ------------------------------------------------------------------------------------------


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
            held, beyond = _each(humidity.largest_humidity, temperature, pressure)
            kept = water <= held * (1 + 1e-9)
            # a humidity that was given is refused where the air cannot hold it; the default is left out there
            possible = possible & (kept | too_hot | beyond) if question.given(name) else possible
            kind = np.where(kept, water > held * NEAR_DEW, 2).astype(int)
        outside = (outside | too_hot | beyond) & batch.readable
        return cls(pressure, np.where(kept, water, np.nan), possible, outside, kind)


NEAR_DEW = 0.9
"""Share of the humidity that air can hold from which there is a note about moisture."""

WATER: Mapping[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "relative_humidity": humidity.absolute_humidity,
    "dew_point": humidity.absolute_humidity_at_dew_point,
    "absolute_humidity": lambda value, _: value,
}
"""Ways to give a humidity, in the order in which they count, to absolute humidity [kg/m3]."""


def _pressures(batch: Batch) -> tuple[FloatArray, BoolArray]:
    """Return the pressure of every point [Pa], and where the atmosphere has none."""
    question = batch.question
    if "pressure" not in question.parameters:  # it is what is asked
        return np.full(batch.size, atmosphere.REFERENCE_PRESSURE), np.zeros(batch.size, dtype=np.bool_)
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
    chosen = [one[there] for one in arrays]
    if all((one == one[0]).all() for one in chosen):
        chosen = [one[:1] for one in chosen]
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
    varied = not batch.columns.keys().isdisjoint(("pressure", "altitude"))
    return replace(
        case,
        pressure=air.pressure[rows] if varied else case.pressure,
        temperature=columns.get("temperature", case.temperature),
        humidity=air.humidity[rows] if case.gas == "air" else case.humidity,
        frequency=columns.get("frequency", case.frequency),
        fraction=None if case.fraction is None else columns.get("fraction", case.fraction),
        dimensions={name: columns.get(name, array) for name, array in case.dimensions.items()},
    )


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


# --- lookups that a batch may ask -----------------------------------------------------------------------------------


def _breakdown(batch: Batch, registry: Registry) -> Answer:
    for name in ("gap_from", "gap_to"):
        if name in batch.question:
            raise BadQuestion.about(name, f"{name} belongs to curves; give gap as a column.")
    points = Points.of(batch, registry, situation, gaps=True)
    found = evaluate(points.here.arrangement, points.case, only=points.only)
    columns = {"breakdown_voltage": column(points.rows, "voltage", found.value, found.low, found.high)}
    if np.isfinite(found.inception).any():
        columns["inception_voltage"] = column(points.rows, "voltage", found.inception)
    code = np.where(found.answered, STATUSES.index(FINE), STATUSES.index(OUTSIDE))
    return points.answer(columns, _methods(points, found), code, found.choice, Said.of(found))


def _methods(points: Points, found: Evaluation, where: np.ndarray | None = None) -> Any:
    """Return the key of the preferred method of every point, null where there is none, as finished JSON."""
    inside = np.full(points.case.size, -1)
    inside[slice(None) if where is None else where] = found.choice
    choice = np.full(points.batch.size, -1)
    choice[points.rows] = inside
    return words([*(one.method.key for one in found.methods), None], choice)


def _gap(batch: Batch, registry: Registry) -> Answer:
    points = Points.of(batch, registry, situation, gaps=False)
    check_sizes(points.batch.question, points.here)
    return _inverse(points, "length", gap_at, (SMALLEST_GAP, LARGEST_GAP))


def _pressure(batch: Batch, registry: Registry) -> Answer:
    points = Points.of(batch, registry, surroundings, gaps=True)
    return _inverse(points, "pressure", pressure_at, (SMALLEST_PRESSURE, LARGEST_PRESSURE))


def _inverse(points: Points, dimension: str, placed: Placed, ends: tuple[float, float]) -> Answer:
    right, volts = points.batch.branch == "right", _peak_voltages(points)
    holding = partial(withstand, reference=points.registry.reference) if dimension == "length" else None
    curves = partial(Curves, points.here.arrangement, only=points.only, placed=placed, ends=ends, holding=holding)
    found = Places.over(points, volts, curves)
    branch = found.branch
    columns = {points.batch.lookup.key: column(points.rows, dimension, branch.value, branch.low, branch.high)}
    if right and dimension == "length":
        columns["sparks_below"] = _cut(column(points.rows, dimension, branch.low), np.floor)
        columns["holds_above"] = _cut(column(points.rows, dimension, branch.holds), np.ceil)
    there, beside = (np.flatnonzero(np.isfinite(one)) for one in (found.place, found.beside))
    at, other = (
        evaluate(points.here.arrangement, placed(points.here.arrangement, points.case.take(some), place[some]),
                 only=points.only)
        for some, place in ((there, found.place), (beside, found.beside))
    )  # fmt: skip
    code = np.where(found.nothing, STATUSES.index(NOTHING), STATUSES.index(OUTSIDE))
    code[there] = STATUSES.index(FINE)
    kind = code * 2 + found.turning
    for some, evaluation in ((there, at), (beside, other)):
        own = np.zeros(code.shape, dtype=np.intp)
        own[some] = evaluation.choice + 1
        kind = kind * (len(evaluation.methods) + 1) + own
    said = [Said.of(one) for one in (at, other) if one.case.size]
    whole = Said([n for one in said for n in one.notes], [c for one in said for c in one.cautions])
    return points.answer(columns, _methods(points, at, there), code, kind, whole)


@dataclass(frozen=True)
class Places:
    """Where the curves of points reach their voltages.

    Parameters
    ----------
    branch : Branch
        The one that is wanted; ``holds`` as an answer says it.
    place : ndarray
        The place that stands for it, where some method answers.
    beside : ndarray
        The place of the other branch; where nothing breaks down, that of the lowest voltage.
    nothing : ndarray of bool
        Whether the voltage lies below the minimum, so that nothing breaks down.
    turning : ndarray of bool
        Whether both sides of the minimum are answered.
    """

    branch: Branch
    place: FloatArray
    beside: FloatArray
    nothing: BoolArray
    turning: BoolArray

    @classmethod
    def over(cls, points: Points, volts: FloatArray, curves: Callable[[Case], Curves]) -> Places:
        """Return the places of all points; points of one situation share its curves."""
        case, (first, which) = points.case, _situations(points.case)
        order, budget = np.argsort(which, kind="stable"), Budget(points.case.size)
        parts: list[Places] = []
        done = 0
        for start in range(0, first.size, SITUATIONS_AT_ONCE):
            some = first[start : start + SITUATIONS_AT_ONCE]
            end = int(np.searchsorted(which[order], start + some.size))
            own = order[done:end]
            parts.append(cls._at(points, curves(case.take(some)), volts[own], which[own] - start))
            done = end
            budget.spent(done)
        return cls._joined(parts, order)

    @classmethod
    def _at(cls, points: Points, curves: Curves, volts: FloatArray, rows: np.ndarray) -> Places:
        every = curves.branches(("left", "right"), volts, rows=rows)
        found, other = every.pop(points.batch.branch), next(iter(every.values()))
        known = np.asarray(np.isfinite(curves.on_grid.withstand).any(axis=1))
        nowhere = known[rows] | (points.here.case.gas == "vacuum")
        holds = np.where(nowhere, found.holds, found.high)
        nothing = curves.nothing_breaks_down(volts, rows)
        beside = np.where(nothing & np.isnan(found.place), curves.valleys[rows], other.place)
        place, beside = (curves.nearest_answered(one, rows) for one in (found.place, beside))
        return cls(replace(found, holds=holds), place, beside, nothing, curves.turning[rows])

    @classmethod
    def _joined(cls, parts: Sequence[Places], order: np.ndarray) -> Places:
        def joined(get: Callable[[Places], np.ndarray]) -> np.ndarray:
            whole = np.concatenate([get(one) for one in parts])
            back = np.empty_like(whole)
            back[order] = whole
            return back

        branch = [joined(lambda one, name=name: getattr(one.branch, name)) for name in BRANCH]  # type: ignore[misc]
        rest = [joined(lambda one, name=name: getattr(one, name)) for name in REST]  # type: ignore[misc]
        return cls(Branch(*branch), *rest)


BRANCH = ("value", "low", "high", "holds")
REST = ("place", "beside", "nothing", "turning")


def _situations(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Return the first point of every different situation, and which situation each point has."""
    arrays = [case.pressure, case.temperature, case.humidity, case.frequency, case.gap, *case.dimensions.values()]
    arrays += [] if case.fraction is None else [case.fraction]
    varied = [one for one in arrays if not np.array_equal(one, np.broadcast_to(one[:1], one.shape), equal_nan=True)]
    if not varied:
        return np.zeros(min(case.size, 1), dtype=np.intp), np.zeros(case.size, dtype=np.intp)
    if len(varied) == 1:
        _, first, which = np.unique(varied[0], return_index=True, return_inverse=True)
    else:
        _, first, which = np.unique(np.stack(varied, axis=1), axis=0, return_index=True, return_inverse=True)
    return first, which.reshape(-1)


def _peak_voltages(points: Points) -> FloatArray:
    """Return the peak voltages [V] of the points.

    Raises
    ------
    BadQuestion
        When the measure is not one voltage.
    """
    question = points.batch.question
    [reading, *more] = readings(1.0, question.key("measure"), points.here.case.waveform)
    if more or not reading.sharp:
        detail = "A batch needs a measure that is one voltage: peak, rms or peak-to-peak-symmetrical."
        raise BadQuestion.about("measure", detail)
    return np.asarray(points.batch.values("voltage")[points.rows] * reading.high)


def _of_distances(batch: Batch, registry: Registry) -> Answer:
    """Answer a lookup of distances; equal points are answered once."""
    key, points = batch.lookup.key, np.flatnonzero(batch.readable)
    columns = np.stack([array[points] for array in batch.columns.values()], axis=1)
    _, first, which = np.unique(columns, axis=0, return_index=True, return_inverse=True)
    budget, found = Budget(first.size), []
    for done, i in enumerate(first, 1):
        found.append(_alone(batch, int(points[i])))
        budget.spent(done)
    answers = [one for one in found if one is not None]
    metres, methods = np.full(batch.size, np.nan), np.full(batch.size, -1)
    status = np.full(batch.size, STATUSES.index(UNREADABLE))
    keys = list(dict.fromkeys(str(one.results["governed_by"]) for one in answers))
    distance = np.array([np.nan if one is None else _metres(one, key) for one in found])
    governed = np.array([-1 if one is None else keys.index(str(one.results["governed_by"])) for one in found])
    which = which.reshape(-1)
    metres[points], methods[points] = distance[which], governed[which]
    status[points] = np.where(np.isnan(distance), STATUSES.index(OUTSIDE), STATUSES.index(FINE))[which]
    asked = {"lookup": key, **(answers[0].asked if answers else {}), **dict.fromkeys(batch.columns, "column")}
    results = {
        "count": batch.size,
        "columns": {key: column(np.ones(batch.size, dtype=np.bool_), "length", metres)},
        "method": words([*keys, None], methods),
        "status": words(STATUSES, status),
    }
    notes = [note for one in answers for note in one.notes]
    cautions = dict.fromkeys(["not-a-barrier", "local-codes", *(key for one in answers for key in one.cautions)])
    return Answer("batch", asked, results, notes=list(dict.fromkeys(notes)), cautions=tuple(cautions))


def _alone(batch: Batch, point: int) -> Answer | None:
    try:
        return batch.lookup.answer(batch.question_at(point))
    except ServiceError:
        return None


def _metres(answer: Answer, key: str) -> float:
    block = answer.results[key]
    return units.to_si(block["value"], block["unit"], "length")


KINDS: Mapping[str, Callable[[Batch, Registry], Answer]] = {
    "breakdown": _breakdown,
    "gap": _gap,
    "pressure": _pressure,
}
"""Lookups that are answered over arrays."""


# --- columns --------------------------------------------------------------------------------------------------------


def column(
    rows: np.ndarray, dimension: str, value: FloatArray, low: FloatArray | None = None, high: FloatArray | None = None
) -> dict[str, Any]:
    """Return a result column in the answer unit of its dimension, as arrays in which NaN stands for null."""
    unit = units.DIMENSIONS[dimension].shown
    factor = float(units.DIMENSIONS[dimension].spellings[unit].scale)
    block: dict[str, Any] = {"unit": unit} | ({"measure": "peak"} if dimension == "voltage" else {})
    arrays = {"values": value, "low": low, "high": high}
    return block | {k: _whole(rows, array / factor) for k, array in arrays.items() if array is not None}


def _whole(rows: np.ndarray, values: FloatArray) -> FloatArray:
    if np.isinf(values).any():
        raise ValueError("a column holds a number that is not finite")
    if rows.all():
        return np.ascontiguousarray(values)
    whole = np.full(rows.shape, np.nan)
    whole[rows] = values
    return whole


def _cut(block: dict[str, Any], towards: np.ufunc) -> dict[str, Any]:
    """Return a column with its digits cut to one side, as `units.cut` cuts those of one number."""
    values = block["values"]
    with np.errstate(divide="ignore", invalid="ignore"):
        digits = 3 - np.floor(np.log10(values))
        up, down = 10.0 ** np.maximum(digits, 0), 10.0 ** np.maximum(-digits, 0)
        return block | {"values": towards(np.round(values * up / down, 9)) * down / up}


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
    follows = {"pressure": ("altitude",), "absolute_humidity": ("relative_humidity", "dew_point")}
    for name, causes in follows.items():
        if name in asked and any(cause in batch.columns for cause in causes):
            yield name, "column"
    if "absolute_humidity" in asked and "temperature" in batch.columns and question.given("relative_humidity"):
        yield "absolute_humidity", "column"
