"""The inverse: where a curve over gap or pressure reaches a voltage, on every branch.

A grid over the whole range finds where each curve crosses the voltage; every crossing is then refined by a bracketing
root finder, all crossings at once. Curves are the value and both ends of the band, each of which may be absent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service.methods import FloatArray
from service.methods.method import BoolArray
from service.physics.root import find_root

POINTS_PER_DECADE = 60
"""Grid density; a crossing pair closer than a sixtieth of a decade would be missed."""

LEVEL = 0.15
"""Logarithmic slope below which a curve is level; where methods end elsewhere it is at least a half."""

Curve = Callable[[FloatArray, np.ndarray], FloatArray]
"""Places, and which of the wanted ones they are, to peak voltages [V]."""


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


def steps_across(on_grid: FloatArray, voltage: float) -> np.ndarray:
    """Return the grid steps on which a curve crosses a voltage.

    Parameters
    ----------
    on_grid : ndarray
        The curve on the grid.
    voltage : float
        Peak voltage [V].
    """
    with np.errstate(invalid="ignore"):
        before, after = on_grid[:-1] < voltage, on_grid[1:] >= voltage
        return np.flatnonzero((before & after) | ((on_grid[:-1] >= voltage) & (on_grid[1:] < voltage)))


def refined(
    curve: Curve,
    left: FloatArray,
    right: FloatArray,
    voltage: FloatArray,
    at: tuple[FloatArray, FloatArray],
    start: FloatArray | None = None,
) -> FloatArray:
    """Return the places between two others at which a curve reaches a voltage; the right ones where it does not.

    Parameters
    ----------
    curve : callable
        Places to peak voltages [V]; called with all places at once.
    left, right, voltage : ndarray
        One per place wanted.
    at : tuple of ndarray
        The curve at both ends [V].
    start : ndarray, optional
        Good guesses.
    """

    def excess(logarithm: FloatArray, which: np.ndarray) -> FloatArray:
        return np.asarray(curve(np.exp(logarithm), which) / voltage[which] - 1)

    ends = at[0] / voltage - 1, at[1] / voltage - 1
    guess = None if start is None else np.log(start)
    found, enclosed = find_root(excess, np.log(left), np.log(right), least=1e-12, at=ends, start=guess)
    return np.where(enclosed & np.isfinite(found), np.exp(found), right)


def guessed(grid: FloatArray, curve: FloatArray, steps: np.ndarray, voltage: float | FloatArray) -> FloatArray:
    """Return about where a curve reaches a voltage within grid steps: on the cubic through the four points around.

    Parameters
    ----------
    grid, curve : ndarray
        Places, and peak voltages there [V]: one curve, or one per row.
    steps : ndarray of int
        On which the voltage is crossed.
    voltage : float or ndarray
        Peak voltage [V].
    """
    around = np.clip(steps[:, None] + np.arange(-1, 3), 0, grid.size - 1)
    there = curve[around] if curve.ndim == 1 else np.take_along_axis(curve, around, axis=1)
    with np.errstate(all="ignore"):
        volts, places = np.log(there / np.reshape(voltage, (-1, 1))), np.log(grid[around])
        apart = volts[:, :, None] - volts[:, None, :]
        shares = np.where(np.eye(4, dtype=np.bool_), 1.0, -volts[:, None, :] / apart)
        cubic = np.sum(places * np.prod(shares, axis=2), axis=1)
        straight = places[:, 1] - volts[:, 1] * (places[:, 2] - places[:, 1]) / (volts[:, 2] - volts[:, 1])
    inside = (cubic > places[:, 1]) & (cubic < places[:, 2])
    return np.asarray(np.exp(np.where(inside, cubic, straight)))


def rising_inverse(
    curve: Callable[[FloatArray], FloatArray], grid: FloatArray, on_grid: FloatArray, voltages: FloatArray
) -> FloatArray:
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
        steps, volts = index[found], voltages[found]
        at = on_grid[steps], on_grid[steps + 1]
        guess = guessed(grid, on_grid, steps, volts)
        answer[found] = refined(lambda places, _: curve(places), grid[steps], grid[steps + 1], volts, at, guess)
    return answer


def _steps(on_grid: FloatArray, voltages: FloatArray) -> np.ndarray:
    """Return per voltage the last grid step on which the curve rises through it, or -1."""
    return steps_through(on_grid, voltages, rising=True)


def steps_through(on_grid: FloatArray, voltages: FloatArray, *, rising: bool) -> np.ndarray:
    """Return per voltage the last grid step on which a curve rises through it, or the first on which it falls."""
    order = np.argsort(voltages)
    ranked, index = voltages[order], np.full(voltages.shape, -1)
    steps = np.arange(on_grid.size - 1)
    for step in steps if rising else steps[::-1]:
        low, high = (on_grid[step], on_grid[step + 1]) if rising else (on_grid[step + 1], on_grid[step])
        if low < high:  # false for NaN
            first, last = np.searchsorted(ranked, [low, high], side="right")
            index[order[first:last]] = step
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
