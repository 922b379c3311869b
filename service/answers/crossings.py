"""Curves as plain arrays: grids over places, steps on which a curve crosses a voltage, and the places between."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from service.methods import FloatArray
from service.methods.method import BoolArray
from service.physics.root import find_root

POINTS_PER_DECADE = 60
"""Grid density; a crossing pair closer than a sixtieth of a decade would be missed."""
LEVEL = 0.15
"""Logarithmic slope below which a curve is level; where methods end elsewhere it is at least a half."""
ENOUGH = 1e-11
"""Relative residual of a voltage at which its place is known, to some 1e-10: no curve is so level that it mattered."""


def steps_of_many(curve: FloatArray, valley: int, volts: FloatArray, *, rising: bool, last: bool) -> np.ndarray:
    """Return per voltage the grid step on which one curve crosses it, or -1; many voltages, sorted.

    Parameters
    ----------
    curve : ndarray
        On the grid; NaN where there is none.
    valley : int
        Position of the lowest voltage: what rises is looked for from there on, what falls before it.
    volts : ndarray
    rising : bool
    last : bool
        Whether the last such step is wanted, or the first.
    """
    order, index = np.argsort(volts), np.full(volts.shape, -1)
    ends = (curve[:-1], curve[1:]) if rising else (curve[1:], curve[:-1])
    with np.errstate(invalid="ignore"):
        crossing = ends[0] < ends[1]
    step = np.arange(curve.size - 1)
    steps = np.flatnonzero(crossing & ((step >= valley) if rising else (step < valley)))
    begin, end = (np.searchsorted(volts[order], one[steps], side="right") for one in ends)
    # what is written last stays
    for i in range(steps.size) if last else reversed(range(steps.size)):
        index[order[begin[i] : end[i]]] = steps[i]
    return index


def refined(
    curve: Callable[[FloatArray, np.ndarray], FloatArray],
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
        Places, and which of the wanted ones they are, to peak voltages [V]; called with all places at once.
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
    found, enclosed = find_root(excess, np.log(left), np.log(right), least=1e-12, at=ends, start=guess, enough=ENOUGH)
    return np.where(enclosed & np.isfinite(found), np.exp(found), right)


def guessed(places: FloatArray, curve: FloatArray, voltage: FloatArray) -> FloatArray:
    """Return about where curves reach voltages: on the cubic through four points, between the two in the middle.

    Parameters
    ----------
    places, curve : ndarray
        Four places per row, and peak voltages there [V].
    voltage : ndarray
        Peak voltage of each row [V].
    """
    with np.errstate(all="ignore"):
        volts = np.log(curve / voltage[:, None]).T
        ways = list(np.log(places).T)
        straight = ways[1] - volts[1] * (ways[2] - ways[1]) / (volts[2] - volts[1])
        first, last = ways[1], ways[2]
        for apart in (1, 2, 3):  # Neville's scheme, at no excess of voltage
            ways = [
                (volts[i + apart] * ways[i] - volts[i] * ways[i + 1]) / (volts[i + apart] - volts[i])
                for i in range(4 - apart)
            ]
        inside = (ways[0] > first) & (ways[0] < last)
    return np.asarray(np.exp(np.where(inside, ways[0], straight)))


def rising_inverse(
    curve: Callable[[FloatArray], FloatArray], grid: FloatArray, on_grid: FloatArray, voltages: FloatArray
) -> FloatArray:
    """Return for many voltages the first place where a curve rises through each; NaN where it never does.

    Parameters
    ----------
    curve : callable
        Places to peak voltages [V]; called with all places at once.
    grid, on_grid : ndarray
        Places, and the curve there.
    voltages : ndarray
        Peak voltages [V].
    """
    index = steps_of_many(on_grid, 0, voltages, rising=True, last=False)
    answer = np.full(voltages.shape, np.nan)
    found = index >= 0
    if found.any():
        around = np.clip(index[found][:, None] + np.arange(-1, 3), 0, grid.size - 1)
        places, there, volts = grid[around], on_grid[around], voltages[found]
        ends, guess = (there[:, 1], there[:, 2]), guessed(places, there, volts)
        answer[found] = refined(lambda at, _: curve(at), places[:, 1], places[:, 2], volts, ends, guess)
    return answer


def has_minimum(grid: FloatArray, on_grid: FloatArray) -> BoolArray:
    """Return whether the least value of each curve is a minimum, not merely where the methods end.

    Parameters
    ----------
    grid : ndarray
        Ascending places, of all curves or one row per curve.
    on_grid : ndarray
        One curve, or one per row; NaN where there is no value.

    Returns
    -------
    ndarray
        True where the curve goes on at both sides of its least value, or ends there while it is level.
    """
    rows = np.where(np.isnan(on_grid), np.inf, on_grid).reshape(-1, grid.shape[-1])
    least = np.argmin(rows, axis=1)[:, None]
    padded = np.pad(rows, [(0, 0), (1, 1)], constant_values=np.inf)
    places = np.pad(np.broadcast_to(np.log(grid), rows.shape), [(0, 0), (1, 1)], mode="edge")
    with np.errstate(all="ignore"):
        value, *beside = (np.take_along_axis(padded, least + place, axis=1)[:, 0] for place in (1, 0, 2))
        here, *there = (np.take_along_axis(places, least + place, axis=1)[:, 0] for place in (1, 0, 2))
        slopes = np.array(
            [
                np.where(np.isfinite(neighbour), np.log(neighbour / value) / np.abs(place - here), np.inf)
                for neighbour, place in zip(beside, there, strict=True)
            ]
        )
    found = np.isfinite(value)
    return np.asarray(found & (np.isfinite(slopes).all(axis=0) | (slopes.min(axis=0) < LEVEL)))


def grid_over(low: float, high: float, density: int = POINTS_PER_DECADE) -> FloatArray:
    """Return a logarithmic grid of so many points per decade between two places, both included."""
    count = int(np.ceil(np.log10(high / low) * density)) + 2
    return np.geomspace(low, high, count)
