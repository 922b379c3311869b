"""The inverse: where a curve over gap or pressure reaches a voltage, on every branch.

A grid over the whole range finds where each curve crosses the voltage; every crossing is then refined by a bracketing
root finder, all crossings at once. Curves are the value and both ends of the band, each of which may be absent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import elementwise

from service.electrodes import FloatArray
from service.electrodes._base import BoolArray

POINTS_PER_DECADE = 60
"""Grid density; a crossing pair closer than a sixtieth of a decade would be missed."""

LEVEL = 0.15
"""Logarithmic slope below which a curve is level; where methods end elsewhere it is at least a half."""

Curve = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Crossing:
    """A place where a curve reaches a voltage.

    Parameters
    ----------
    place : float
        Gap [m] or pressure [Pa].
    rising : bool
        Whether the curve rises there: the right branch.
    """

    place: float
    rising: bool


def crossings(curve: Curve, grid: FloatArray, on_grid: FloatArray, voltage: float) -> list[Crossing]:
    """Return where a curve reaches a voltage, in order of place.

    Parameters
    ----------
    curve : callable
        Places to peak voltages [V]; NaN where there is none.
    grid : ndarray
        Ascending places that cover the range.
    on_grid : ndarray
        The curve on the grid.
    voltage : float
        Peak voltage [V].

    Returns
    -------
    list of Crossing
        A step of the curve across the voltage counts as a crossing at the step.
    """
    excess = on_grid - voltage
    with np.errstate(invalid="ignore"):
        before, after = excess[:-1], excess[1:]
        changes = np.flatnonzero(((before < 0) & (after >= 0)) | ((before >= 0) & (after < 0)))
    if not changes.size:
        return []
    places = _refine(curve, grid[changes], grid[changes + 1], voltage)
    return [Crossing(float(place), bool(before[i] < 0)) for place, i in zip(places, changes, strict=True)]


def _refine(curve: Curve, left: FloatArray, right: FloatArray, voltage: float | FloatArray) -> FloatArray:
    def excess(logarithm: FloatArray, target: FloatArray) -> FloatArray:
        flat = np.exp(logarithm).ravel()
        return np.asarray(curve(flat).reshape(logarithm.shape) / target - 1)

    targets = np.broadcast_to(np.asarray(voltage, dtype=np.float64), left.shape)
    found = elementwise.find_root(
        excess, (np.log(left), np.log(right)), args=(targets,), tolerances={"xrtol": 1e-13, "xatol": 1e-13}
    )
    solved = np.exp(found.x)
    return np.where(found.success, solved, right)


def rising_inverse(curve: Curve, grid: FloatArray, on_grid: FloatArray, voltages: FloatArray) -> FloatArray:
    """Return for many voltages the last place where a curve rises through each; NaN where it never does.

    Parameters
    ----------
    curve : callable
        As in `crossings`; called with all places at once.
    grid, on_grid : ndarray
        As in `crossings`.
    voltages : ndarray
        Peak voltages [V].
    """
    index = _steps(on_grid, voltages)
    answer = np.full(voltages.shape, np.nan)
    found = index >= 0
    if found.any():
        left, right = grid[index[found]], grid[index[found] + 1]
        answer[found] = _refine(curve, left, right, voltages[found])
    return answer


def _steps(on_grid: FloatArray, voltages: FloatArray) -> np.ndarray:
    """Return per voltage the last grid step on which the curve rises through it, or -1."""
    order = np.argsort(voltages)
    index = np.full(voltages.shape, -1)
    for step in range(on_grid.size - 1):
        first, last = on_grid[step], on_grid[step + 1]
        if first < last:  # false for NaN
            low, high = np.searchsorted(voltages[order], [first, last], side="right")
            index[order[low:high]] = step
    return index


def has_minimum(grid: FloatArray, on_grid: FloatArray) -> BoolArray:
    """Return whether the least value of each curve is a minimum, not merely where the methods end.

    Parameters
    ----------
    grid : ndarray
        Ascending places.
    on_grid : ndarray
        One curve, or one per row; NaN where there is no value.

    Returns
    -------
    ndarray
        True where the curve goes on at both sides of its least value, or ends there while it is level.
    """
    rows = np.where(np.isnan(on_grid), np.inf, on_grid).reshape(-1, grid.size)
    least = np.argmin(rows, axis=1)[:, None]
    padded = np.pad(rows, [(0, 0), (1, 1)], constant_values=np.inf)
    value, *beside = (np.take_along_axis(padded, least + place, axis=1)[:, 0] for place in (1, 0, 2))
    found = np.isfinite(value)
    places = np.pad(np.log(grid), 1, mode="edge")
    slopes = np.full((2, value.size), np.inf)
    for slope, neighbour, place in zip(slopes, beside, (0, 2), strict=True):
        there = np.isfinite(neighbour)
        step = np.abs(places[least[there, 0] + place] - places[least[there, 0] + 1])
        slope[there] = np.log(neighbour[there] / value[there]) / step
    return np.asarray(found & (np.isfinite(slopes).all(axis=0) | (slopes.min(axis=0) < LEVEL)))


def grid_over(low: float, high: float) -> FloatArray:
    """Return a logarithmic grid of `POINTS_PER_DECADE` between two places, both included."""
    count = int(np.ceil(np.log10(high / low) * POINTS_PER_DECADE)) + 2
    return np.geomspace(low, high, count)
