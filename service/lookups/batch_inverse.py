"""The inverse for many points: gaps or pressures at which each point's own curve reaches its voltage."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from service.answers.branches import CURVES, Holding
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap_curves import LARGEST_GAP, SMALLEST_GAP, case_at
from service.answers.inverse import grid_over, guessed, has_minimum, refined, steps_through
from service.answers.lookup import Answer
from service.answers.measure import readings
from service.answers.registry import Registry
from service.answers.situation import Situation, situation
from service.answers.withstand import withstand
from service.errors import BadQuestion
from service.lookups.batch_columns import (
    FINE,
    NOTHING,
    OUTSIDE,
    UNREADABLE,
    case_of,
    column,
    finished,
    gaps_of,
    words,
)
from service.lookups.batch_input import Batch
from service.lookups.pressure import LARGEST_PRESSURE, SMALLEST_PRESSURE, surroundings
from service.methods import Arrangement, Case, FloatArray

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
    holding : callable
        Case and low end of the band to the peak voltage that is held [V], NaN where that is not known.
    """

    arrangement: Arrangement
    case: Case
    placed: Placed
    grid: FloatArray
    rising: bool
    only: str | None
    holding: Holding

    def at(self, points: Indices, places: FloatArray) -> Evaluation:
        """Return the evaluation of points at places."""
        return evaluate(self.arrangement, self.placed(self.case.take(points), places), only=self.only)

    def solve(self, voltages: FloatArray) -> dict[str, FloatArray]:
        """Return the place where each of `CURVES` reaches each point's voltage; NaN where none does.

        ``lowest`` is the smallest breakdown voltage of each point's curve [V], NaN where the methods end before it.
        """
        found = {name: np.full(voltages.shape, np.nan) for name in CURVES}
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
        return {name: self._voltages(found, name).reshape(rows.size, size) for name in CURVES}

    def _voltages(self, found: Evaluation, name: str) -> FloatArray:
        return np.asarray(self.holding(found.case, found.low) if name == "withstand" else getattr(found, name))

    def _crossing(self, name: str, curves: FloatArray, points: Indices, voltages: FloatArray) -> FloatArray:
        if curves.shape[0] == 1:
            steps = steps_through(curves[0], voltages, rising=self.rising)
        else:
            steps = self._steps(curves - voltages[:, None])
        answer = np.full(points.shape, np.nan)
        there = steps >= 0
        if there.any():
            own = curves[0] if curves.shape[0] == 1 else curves[there]
            answer[there] = self._refined(name, own, points[there], voltages[there], steps[there])
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

    def _refined(
        self, name: str, curves: FloatArray, points: Indices, voltages: FloatArray, steps: Indices
    ) -> FloatArray:
        def curve(places: FloatArray, which: Indices) -> FloatArray:
            return self._voltages(self.at(points[which], places), name)

        rows = np.arange(steps.size)
        ends = (
            (curves[steps], curves[steps + 1]) if curves.ndim == 1 else (curves[rows, steps], curves[rows, steps + 1])
        )
        guess = guessed(self.grid, curves, steps, voltages)
        return refined(curve, self.grid[steps], self.grid[steps + 1], voltages, ends, guess)


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
    holding = partial(withstand, reference=registry.reference)
    search = Inverse(here.arrangement, case, placed, grid, asked.branch == "right", only, holding)
    found = search.solve(voltages)
    # where the band's ends cross: on the right branch the high curve is reached first, on the left the low one
    low, high = (found["high"], found["low"]) if search.rising else (found["low"], found["high"])
    columns = {asked.lookup.key: column(rows, dimension, found["value"], low, high)}
    if search.rising and dimension == "length":
        columns["sparks_below"] = column(rows, dimension, cut(low, np.floor))
        columns["holds_above"] = column(rows, dimension, cut(_holds(found, here), np.ceil))
    anywhere = np.where(np.isnan(found["value"]), high, found["value"])
    anywhere = np.where(np.isnan(anywhere), low, anywhere)
    nothing = np.isfinite(found["lowest"]) & (found["lowest"] > voltages)
    methods, status = _words(search, rows, anywhere, np.where(nothing, NOTHING, OUTSIDE))
    return finished(asked, registry, here, columns, methods, status)


def _holds(found: dict[str, FloatArray], here: Situation) -> FloatArray:
    """Return the gaps that hold: by the withstand estimate; where no scatter is known, by the low end of the band."""
    nowhere = here.case.gas == "vacuum" or np.isfinite(found["withstand"]).any()
    return found["withstand"] if nowhere else found["low"]


def cut(lengths: FloatArray, towards: np.ufunc) -> FloatArray:
    """Return lengths [m] cut to four digits, up or down, as the answer to one question has them."""
    with np.errstate(divide="ignore", invalid="ignore"):
        step = 10.0 ** (np.floor(np.log10(lengths)) - 3)
        return np.asarray(towards(np.round(lengths / step, 9)) * step)


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


def _words(search: Inverse, rows: np.ndarray, places: FloatArray, why_not: np.ndarray) -> tuple[Any, Any]:
    choice, code = np.full(rows.shape, -1), np.full(rows.shape, 3)
    points = np.flatnonzero(rows)
    there = np.flatnonzero(np.isfinite(places))
    keys: list[str | None] = [None]
    if there.size:
        found = search.at(there, places[there])
        keys = [*(one.method.key for one in found.methods), None]
        choice[points[there]] = found.choice
    code[points] = np.where(np.isfinite(places), 0, np.where(why_not == NOTHING, 1, 2))
    return words(keys, choice), words([FINE, NOTHING, OUTSIDE, UNREADABLE], code)


def _lowest(grid: FloatArray, curves: dict[str, FloatArray]) -> FloatArray:
    """Return the smallest breakdown voltage of each row; NaN where the methods end before a minimum."""
    filled = np.fmin(curves["value"], curves["high"])
    least = np.min(np.where(np.isnan(filled), np.inf, filled), axis=1)
    return np.asarray(np.where(has_minimum(grid, filled), least, np.nan))
