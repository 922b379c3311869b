"""POST /v1/batch: many points of one lookup at once. Every point is answered as a single question would be."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter
from typing import Any

import numpy as np

from service import units
from service.answers.crossings import POINTS_PER_DECADE
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap_curves import LARGEST_GAP, SMALLEST_GAP, check_sizes
from service.answers.gap_curves import case_at as gap_at
from service.answers.inverse import DENSE, FROM, Branch, Curves, Placed
from service.answers.lookup import Answer, Lookup
from service.answers.measure import readings
from service.answers.registry import Registry
from service.answers.situation import situation
from service.answers.withstand import withstand
from service.errors import BadQuestion, ServiceError, TooCostly
from service.lookups.batch_input import Batch, read_batch
from service.lookups.batch_points import FINE, NOTHING, OUTSIDE, STATUSES, UNREADABLE, Points, Said, words
from service.lookups.pressure import LARGEST_PRESSURE, SMALLEST_PRESSURE, surroundings
from service.lookups.pressure import case_at as pressure_at
from service.methods import Case, FloatArray
from service.methods.method import BoolArray

SITUATIONS_AT_ONCE = 256
"""Situations whose curves are laid over the grid together; bounds the memory."""
MOST_SECONDS = 20.0
"""Most processor time that one batch may take [s]: a worker answers nobody else meanwhile."""
TRIAL = 0.2
"""Processor time after which the rest of a batch is reckoned from what is done [s]."""


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
    return points.answer(columns, _methods(points, found), code, _kind(found), Said.of(found))


def _kind(found: Evaluation) -> np.ndarray:
    """Return which elements get the same sentences: one method, and the same of its ends known."""
    return np.asarray((found.choice + 1) * 4 + np.isnan(found.low) + 2 * np.isnan(found.high))


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
    kind = (code * 2 + found.turning) * 8 + found.missing
    for some, evaluation in ((there, at), (beside, other)):
        own = np.zeros(code.shape, dtype=np.intp)
        own[some] = _kind(evaluation)
        kind = kind * (len(evaluation.methods) + 1) * 4 + own
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
    missing : ndarray of int
        Which ends of the rising branch are not reached, and which its curve lacks: each has its own sentences.
    """

    branch: Branch
    place: FloatArray
    beside: FloatArray
    nothing: BoolArray
    turning: BoolArray
    missing: np.ndarray

    @classmethod
    def over(cls, points: Points, volts: FloatArray, curves: Callable[..., Curves]) -> Places:
        """Return the places of all points; points of one situation share its curves."""
        case, (first, which) = points.case, _situations(points.case)
        order, budget = np.argsort(which, kind="stable"), Budget(points.case.size)
        parts: list[Places] = []
        done = 0
        for start in range(0, first.size, SITUATIONS_AT_ONCE):
            some = first[start : start + SITUATIONS_AT_ONCE]
            end = int(np.searchsorted(which[order], start + some.size))
            own = order[done:end]
            density = DENSE if first.size == 1 and own.size >= FROM else POINTS_PER_DECADE
            parts.append(cls._at(points, curves(case.take(some), density=density), volts[own], which[own] - start))
            done = end
            budget.spent(done)
        return cls._joined(parts, order)

    @classmethod
    def _at(cls, points: Points, curves: Curves, volts: FloatArray, rows: np.ndarray) -> Places:
        every = curves.branches(("left", "right"), volts, rows=rows)
        rising = every["right"]
        found, other = every.pop(points.batch.branch), next(iter(every.values()))
        known = np.asarray(np.isfinite(curves.on_grid.withstand).any(axis=1))
        nowhere = known[rows] | (points.here.case.gas == "vacuum")
        holds = np.where(nowhere, found.holds, found.high)
        unheld = np.isnan(rising.high) | (known[rows] & np.isnan(rising.holds))
        nothing = curves.nothing_breaks_down(volts, rows)
        beside = np.where(nothing & np.isnan(found.place), curves.valleys[rows], other.place)
        place, beside = (curves.nearest_answered(one, rows) for one in (found.place, beside))
        grid, answered = curves.on_grid, np.atleast_2d(curves.on_grid.answered)
        last = answered.shape[1] - 1 - np.argmax(answered[:, ::-1], axis=1)
        # what no end reaches is explained by what is known at the last place that is answered
        open_end = np.isnan(np.atleast_2d(grid.high)[np.arange(last.size), last])
        missing = unheld + 2 * np.isnan(rising.low) + 4 * open_end[rows]
        return cls(replace(found, holds=holds), place, beside, nothing, curves.turning[rows], missing)

    @classmethod
    def _joined(cls, parts: Sequence[Places], order: np.ndarray) -> Places:
        def joined(get: Callable[[Places], np.ndarray]) -> np.ndarray:
            whole = np.concatenate([get(one) for one in parts])
            back = np.empty_like(whole)
            back[order] = whole
            return back

        branch = [joined(attrgetter(f"branch.{name}")) for name in BRANCH]
        rest = [joined(attrgetter(name)) for name in REST]
        return cls(Branch(*branch), *rest)


BRANCH = ("value", "low", "high", "holds")
REST = ("place", "beside", "nothing", "turning", "missing")


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
