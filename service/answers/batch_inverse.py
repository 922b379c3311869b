"""The inverse for many points: gaps or pressures at which each point's own curve reaches its voltage."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import elementwise

from service.answers.batch_columns import FINE, NOTHING, OUTSIDE, UNREADABLE, case_of, column, finished, gaps_of
from service.answers.batch_input import Batch
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap import LARGEST_GAP, SMALLEST_GAP, case_at
from service.answers.inverse import grid_over, has_minimum
from service.answers.lookup import Answer
from service.answers.measure import readings
from service.answers.pressure import LARGEST_PRESSURE, SMALLEST_PRESSURE, surroundings
from service.answers.registry import Registry
from service.answers.situation import Situation, situation
from service.electrodes import Arrangement, Case, FloatArray
from service.errors import BadQuestion

ROWS_AT_ONCE = 256
"""Points whose curves are laid over the grid together; bounds the memory."""

Placed = Callable[[Case, FloatArray], Case]
Indices = np.ndarray


@dataclass(frozen=True)
class Inverse:
    """What is searched: an arrangement, the points' cases, and how a place enters a case.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        One element per point.
    placed : callable
        Case and places (gaps or pressures) to the case there.
    grid : ndarray
        Places searched.
    rising : bool
        Whether the right branch is wanted.
    only : str or None
        Key of the one method wanted.
    """

    arrangement: Arrangement
    case: Case
    placed: Placed
    grid: FloatArray
    rising: bool
    only: str | None

    def at(self, points: Indices, places: FloatArray) -> Evaluation:
        """Return the evaluation of points at places."""
        return evaluate(self.arrangement, self.placed(self.case.take(points), places), only=self.only)

    def solve(self, voltages: FloatArray) -> dict[str, FloatArray]:
        """Return the place where ``value``, ``low`` and ``high`` reach each point's voltage; NaN where none does.

        ``lowest`` is the smallest breakdown voltage of each point's curve [V], NaN where the methods end before it.
        """
        found = {name: np.full(voltages.shape, np.nan) for name in ("value", "low", "high")}
        lowest = np.full(voltages.shape, np.inf)
        for points in self._chunks():
            rows = points[:1] if self._alike() else points
            curves = self._on_grid(rows)
            for name, answer in found.items():
                answer[points] = self._crossing(name, curves[name], points, voltages[points])
            lowest[points] = _lowest(self.grid, curves)
        return {**found, "lowest": lowest}

    def _alike(self) -> bool:
        case = self.case
        arrays = [case.pressure, case.temperature, case.humidity, case.frequency, case.gap, *case.dimensions.values()]
        return all(np.array_equal(array, np.broadcast_to(array[:1], array.shape), equal_nan=True) for array in arrays)

    def _chunks(self) -> list[Indices]:
        points = np.arange(self.case.size)
        return [points] if self._alike() else np.array_split(points, max(1, -(-points.size // ROWS_AT_ONCE)))

    def _on_grid(self, rows: Indices) -> dict[str, FloatArray]:
        size = self.grid.size
        found = self.at(np.repeat(rows, size), np.tile(self.grid, rows.size))
        return {name: np.asarray(getattr(found, name)).reshape(rows.size, size) for name in ("value", "low", "high")}

    def _crossing(self, name: str, curves: FloatArray, points: Indices, voltages: FloatArray) -> FloatArray:
        steps = np.concatenate(
            [self._steps(curves[i % curves.shape[0]][None] - u[:, None]) for i, u in _blocks(curves.shape[0], voltages)]
        )
        answer = np.full(points.shape, np.nan)
        there = steps >= 0
        if there.any():
            answer[there] = self._refined(name, points[there], voltages[there], steps[there])
        return answer

    def _steps(self, excess: FloatArray) -> Indices:
        """Return per row the grid step of the wanted crossing, or -1."""
        with np.errstate(invalid="ignore"):
            before, after = excess[:, :-1], excess[:, 1:]
            rising = (before < 0) & (after >= 0)
            falling = (before >= 0) & (after < 0)
        wanted = rising[:, ::-1] if self.rising else falling
        first = np.argmax(wanted, axis=1)
        step = wanted.shape[1] - 1 - first if self.rising else first
        return np.where(wanted.any(axis=1), step, -1)

    def _refined(self, name: str, points: Indices, voltages: FloatArray, steps: Indices) -> FloatArray:
        def excess(logarithm: FloatArray, point: Indices, target: FloatArray) -> FloatArray:
            shape = np.broadcast_shapes(logarithm.shape, point.shape)
            places = np.broadcast_to(np.exp(logarithm), shape).ravel()
            found = self.at(np.broadcast_to(point, shape).ravel().astype(np.intp), places)
            return np.asarray(getattr(found, name)).reshape(shape) / target - 1

        ends = (np.log(self.grid[steps]), np.log(self.grid[steps + 1]))
        solved = elementwise.find_root(
            excess, ends, args=(points, voltages), tolerances={"xrtol": 1e-12, "xatol": 1e-12}
        )
        return np.where(solved.success, np.exp(solved.x), self.grid[steps + 1])


def _blocks(rows: int, voltages: FloatArray) -> list[tuple[int, FloatArray]]:
    """Return the curve row of each block of voltages: one row for all in blocks, or one row each."""
    if rows == 1:
        return [(0, part) for part in np.array_split(voltages, max(1, -(-voltages.size // 4096)))]
    return [(i, voltages[i : i + 1]) for i in range(rows)]


def gap(asked: Batch, registry: Registry) -> Answer:
    """Return the answer of a batch of gaps.

    Parameters
    ----------
    asked : Batch
    registry : Registry
    """
    here = situation(asked.question, registry)
    arrangement = here.arrangement

    def placed(case: Case, gaps: FloatArray) -> Case:
        return case_at(arrangement, case, gaps)

    return _answer(asked, registry, here, placed, grid_over(SMALLEST_GAP, LARGEST_GAP), "length", None)


def pressure(asked: Batch, registry: Registry) -> Answer:
    """Return the answer of a batch of pressures.

    Parameters
    ----------
    asked : Batch
    registry : Registry
    """
    here = surroundings(asked.question, registry)
    fixed = gaps_of(asked, here)

    def placed(case: Case, pressures: FloatArray) -> Case:
        return replace(case, pressure=pressures)

    return _answer(asked, registry, here, placed, grid_over(SMALLEST_PRESSURE, LARGEST_PRESSURE), "pressure", fixed)


def _answer(
    asked: Batch,
    registry: Registry,
    here: Situation,
    placed: Placed,
    grid: FloatArray,
    dimension: str,
    gaps: FloatArray | None,
) -> Answer:
    rows = asked.readable
    voltages = peak_voltages(asked, here)
    only = str(asked.question.values["method"]) if "method" in asked.question else None
    case = case_of(asked, here, gaps)
    search = Inverse(here.arrangement, case, placed, grid, asked.branch == "right", only)
    found = search.solve(voltages)
    # where the band's ends cross: on the right branch the high curve is reached first, on the left the low one
    low, high = (found["high"], found["low"]) if search.rising else (found["low"], found["high"])
    columns = {asked.lookup.key: column(rows, dimension, found["value"], low, high)}
    if search.rising and dimension == "length":
        columns["sparks_below"] = column(rows, dimension, low)
        columns["holds_above"] = column(rows, dimension, high)
    anywhere = np.where(np.isnan(found["value"]), high, found["value"])
    anywhere = np.where(np.isnan(anywhere), low, anywhere)
    nothing = np.isfinite(found["lowest"]) & (found["lowest"] > voltages)
    methods, status = _words(search, rows, anywhere, np.where(nothing, NOTHING, OUTSIDE))
    return finished(asked, registry, here, columns, methods, status)


def peak_voltages(asked: Batch, here: Situation) -> FloatArray:
    """Return the peak voltages [V] of the readable points.

    Raises
    ------
    BadQuestion
        When the measure is not one voltage.
    """
    given = asked.columns.get("voltage", np.full(asked.size, asked.question.number("voltage")))[asked.readable]
    [reading, *more] = readings(1.0, asked.question.key("measure"), here.case.waveform)
    if more or not reading.sharp:
        detail = "A batch needs a measure that is one voltage: peak, rms or peak-to-peak-symmetrical."
        raise BadQuestion.about("measure", detail)
    return np.asarray(given * reading.high)


def _words(
    search: Inverse, rows: np.ndarray, places: FloatArray, why_not: np.ndarray
) -> tuple[list[str | None], list[str]]:
    methods = np.full(rows.shape, None, dtype=object)
    status = np.full(rows.shape, UNREADABLE, dtype=object)
    points = np.flatnonzero(rows)
    there = np.flatnonzero(np.isfinite(places))
    if there.size:
        found = search.at(there, places[there])
        keys = np.array([*(one.method.key for one in found.methods), None], dtype=object)
        methods[points[there]] = keys[found.choice]
    status[points] = np.where(np.isfinite(places), FINE, why_not)
    return methods.tolist(), status.tolist()


def _lowest(grid: FloatArray, curves: dict[str, FloatArray]) -> FloatArray:
    """Return the smallest breakdown voltage of each row; NaN where the methods end before a minimum."""
    filled = np.fmin(curves["value"], curves["high"])
    least = np.min(np.where(np.isnan(filled), np.inf, filled), axis=1)
    return np.asarray(np.where(has_minimum(grid, filled), least, np.nan))
