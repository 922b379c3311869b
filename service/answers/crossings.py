"""Curves as plain arrays: grids over places, steps on which a curve crosses a voltage, and the places between."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from service.methods import FloatArray
from service.methods.method import BoolArray
from service.physics.root import find_root, find_root_of_one

POINTS_PER_DECADE = 60
"""Grid density; a crossing pair closer than a sixtieth of a decade would be missed."""
LEVEL = 0.15
"""Logarithmic slope below which a curve is level; where methods end elsewhere it is at least a half."""
SURE = 3e-10
"""Relative error of a place at most, from a residual and the doubt in its slope, at which it is not asked again."""
FEW = 6
"""Places up to which one after another in plain numbers is faster than all at once in arrays."""
LEAST_DOUBT = 0.01
"""Relative doubt in a slope at least."""
ENOUGH = 1e-11
"""Relative residual of a voltage at which its place is known, to some 1e-10: no curve is so level that it mattered."""


@dataclass(frozen=True)
class Crossings:
    """The steps of a grid on which a curve rises from its valley, to one side.

    Parameters
    ----------
    steps : ndarray of int
    curve : ndarray
        From the first of them to the end of the last [V].
    lower, upper : ndarray of int
        Where in it the lower and the upper end of each stand.
    """

    steps: np.ndarray
    curve: FloatArray
    lower: np.ndarray
    upper: np.ndarray

    @classmethod
    def of(cls, curve: FloatArray, valley: int, *, rising: bool) -> Crossings:
        """Return those of a curve on the grid, NaN where there is none.

        Parameters
        ----------
        valley : int
            Position of the lowest voltage: what rises is looked for from there on, what falls before it.
        """
        below, above = (curve[:-1], curve[1:]) if rising else (curve[1:], curve[:-1])
        with np.errstate(invalid="ignore"):
            rises = np.flatnonzero(below < above)
        steps = rises[rises >= valley] if rising else rises[rises < valley]
        first, last = (steps[0], steps[-1]) if steps.size else (0, -1)
        left, right = steps - first, steps - first + 1
        return cls(steps, curve[first : last + 2], *((left, right) if rising else (right, left)))

    @cached_property
    def below(self) -> FloatArray:
        """The curve at the lower end of each step [V]."""
        return np.asarray(self.curve[self.lower])

    @cached_property
    def above(self) -> FloatArray:
        """The curve at the upper end of each step [V]."""
        return np.asarray(self.curve[self.upper])

    def of_few(self, volts: FloatArray, *, last: bool) -> np.ndarray:
        """Return per voltage the last or the first step on which the curve crosses it, or -1."""
        hits = [self.steps[(self.below < one) & (self.above >= one)] for one in volts.tolist()]
        return np.array([hit[-1 if last else 0] if hit.size else -1 for hit in hits], dtype=np.intp)

    def of_many(self, volts: FloatArray, *, last: bool, order: np.ndarray | None = None) -> np.ndarray:
        """Return the same of many voltages, which are sorted for it.

        Parameters
        ----------
        order : ndarray of int, optional
            That sorts the voltages; ``None`` where they are sorted.
        """
        index = np.full(volts.shape, -1)
        runs = self.runs(volts if order is None else volts.take(order), last=last)
        index[runs.where if order is None else order[runs.where]] = runs.each(runs.steps)
        return index

    def runs(self, ranked: FloatArray, *, last: bool) -> Runs:
        """Return the last or the first step on which the curve crosses voltages, of those that it crosses.

        Parameters
        ----------
        ranked : ndarray
            Sorted voltages.
        """
        if not ranked.size or not (self.least < ranked[-1] and ranked[0] <= self.most):
            return Runs.none()
        place = np.searchsorted(ranked, self.curve, side="right")
        begin, end = place.take(self.lower), place.take(self.upper)
        some = np.flatnonzero(end > begin)
        if not some.size:
            return Runs.none()
        steps, begin, end = (one.take(some) for one in (self.steps, begin, end))
        if (begin[1:] == end[:-1]).all():
            return Runs(steps, end - begin, slice(begin[0], end[-1]))
        if not last:  # what is written last stays; numpy writes repeated positions in their order
            steps, begin, end = steps[::-1], begin[::-1], end[::-1]
        count = end - begin
        index = np.full(ranked.shape, -1)
        places = np.arange(count.sum()) + np.repeat(begin - (np.cumsum(count) - count), count)
        index[places] = np.repeat(steps, count)
        where = np.flatnonzero(index >= 0)
        return Runs(index.take(where), None, where)

    @cached_property
    def least(self) -> float:
        """The smallest voltage of the curve [V]; infinite without any."""
        return float(np.fmin.reduce(self.curve, initial=np.inf))

    @cached_property
    def most(self) -> float:
        """The largest voltage of the curve [V]; minus infinity without any."""
        return float(np.fmax.reduce(self.curve, initial=-np.inf))


@dataclass(frozen=True)
class Runs:
    """Which step each of some sorted voltages lies on.

    Parameters
    ----------
    steps : ndarray of int
    count : ndarray of int, optional
        How many voltages lie on each of them, one after another; ``None`` where it is one each.
    where : slice or ndarray of int
        Which of the voltages these are.
    """

    steps: np.ndarray
    count: np.ndarray | None
    where: slice | np.ndarray

    @classmethod
    def none(cls) -> Runs:
        """Return that of no voltages."""
        nothing = np.empty(0, dtype=np.intp)
        return cls(nothing, nothing, slice(0, 0))

    def each(self, of_steps: np.ndarray) -> np.ndarray:
        """Return what belongs to the steps for every voltage."""
        return of_steps if self.count is None else np.repeat(of_steps, self.count)


def sorting(values: FloatArray) -> np.ndarray | None:
    """Return the order that sorts values, or ``None`` where they are sorted."""
    return None if (values[1:] >= values[:-1]).all() else np.argsort(values)


def refined(
    curve: Callable[[FloatArray, np.ndarray], FloatArray],
    left: FloatArray,
    right: FloatArray,
    voltage: FloatArray,
    at: tuple[FloatArray, FloatArray],
    start: tuple[FloatArray, FloatArray] | None = None,
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
    start : tuple of ndarray, optional
        As `guessed` returns it.
    """

    def excess(logarithm: FloatArray, which: np.ndarray) -> FloatArray:
        return np.asarray(curve(np.exp(logarithm), which) / voltage[which] - 1)

    logs = np.log(left), np.log(right)
    ends = at[0] / voltage - 1, at[1] / voltage - 1
    if start is None:
        places, enclosed = find_root(excess, *logs, least=1e-12, at=ends, enough=ENOUGH)
        return np.where(enclosed & np.isfinite(places), np.exp(places), right)
    guess, slope = start
    inside = (guess > logs[0]) & (guess < logs[1])
    guess = np.where(inside, guess, (logs[0] + logs[1]) / 2)
    there = excess(guess, np.arange(guess.size))
    with np.errstate(all="ignore"):
        found = guess - there / slope
        # how wrong the slope may be is told by how it differs from that over the whole step
        doubt = np.fmax(np.abs(slope * (logs[1] - logs[0]) / np.log(at[1] / at[0]) - 1), LEAST_DOUBT)
    open_ = np.flatnonzero(~(inside & (np.abs(there) * doubt <= SURE)))
    if open_.size:
        before = ((there < 0) == (ends[0] < 0))[open_]
        low, high = (np.where(before, guess[open_], logs[0][open_]), np.where(before, logs[1][open_], guess[open_]))
        own = (np.where(before, there[open_], ends[0][open_]), np.where(before, ends[1][open_], there[open_]))
        if open_.size <= FEW:
            one_by_one = zip(open_.tolist(), low.tolist(), high.tolist(), *(each.tolist() for each in own), strict=True)
            for i, *bracket in one_by_one:
                found[i] = _refined_one(partial(excess, which=np.array([i])), bracket, float(found[i]), logs[1][i])
            return np.exp(found)
        rest, enclosed = find_root(
            lambda places, which: excess(places, open_[which]),
            low,
            high,
            least=1e-12,
            at=own,
            start=found[open_],
            enough=ENOUGH,
        )
        found[open_] = np.where(enclosed & np.isfinite(rest), rest, np.log(right[open_]))
    return np.exp(found)


def _refined_one(excess: Callable[..., FloatArray], bracket: Sequence[float], start: float, right: float) -> float:
    """Return the logarithm of one place within a bracket, both ends and the excess there; the right one without any."""
    low, high, *at = bracket

    def of_one(logarithm: float) -> float:
        return float(excess(np.array([logarithm]))[0])

    place = find_root_of_one(of_one, (low, high), (at[0], at[1]), start, least=1e-12, enough=ENOUGH)
    return right if place is None else place


def guessed(places: FloatArray, curve: FloatArray, voltage: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return about where curves reach voltages, and how steep they are: on the cubic through four points.

    Parameters
    ----------
    places, curve : ndarray
        Four places per row, and peak voltages there [V].
    voltage : ndarray
        Peak voltage of each row [V].

    Returns
    -------
    tuple of ndarray
        Logarithm of the place, and the slope of the logarithm of the voltage over it.
    """
    with np.errstate(all="ignore"):
        volts = np.log(curve / voltage[:, None]).T
        ways = list(np.log(places).T)
        first, last = ways[1], ways[2]
        steep = (volts[2] - volts[1]) / (last - first)
        straight = first - volts[1] / steep
        slopes = [0.0] * 4
        for apart in (1, 2, 3):  # Neville's scheme, at no excess of voltage
            pairs = [(i, volts[i], volts[i + apart]) for i in range(4 - apart)]
            slopes = [(v * slopes[i] - u * slopes[i + 1] + ways[i + 1] - ways[i]) / (v - u) for i, u, v in pairs]
            ways = [(v * ways[i] - u * ways[i + 1]) / (v - u) for i, u, v in pairs]
        inside = (ways[0] > first) & (ways[0] < last)
        return np.where(inside, ways[0], straight), np.where(inside, 1 / slopes[0], steep)


@dataclass(frozen=True)
class Cubics:
    """Curves read backwards on every step of a grid: the logarithm of the place as a cubic in that of the voltage.

    Parameters
    ----------
    volts, place : ndarray
        Logarithms at the left end of a step, one row per curve.
    factors : tuple of ndarray
        Of the first, second and third power of the logarithm of the voltage over that of the left end.
    """

    volts: FloatArray
    place: FloatArray
    factors: tuple[FloatArray, FloatArray, FloatArray]

    @classmethod
    def through(cls, places: FloatArray, curves: FloatArray) -> Cubics:
        """Return the cubics through the four points around every step; NaN where one of them is missing."""
        with np.errstate(all="ignore"):
            volts, ways = np.log(curves), np.broadcast_to(np.log(places), curves.shape)
            volts, ways = (np.pad(one, [(0, 0), (1, 1)], constant_values=np.nan) for one in (volts, ways))
            own, place = volts[:, 1:-2], ways[:, 1:-2]
            apart = [volts[:, i : volts.shape[1] - 3 + i] - own for i in (0, 2, 3)]
            rise = [(ways[:, i : ways.shape[1] - 3 + i] - place) / one for i, one in zip((0, 2, 3), apart, strict=True)]
            first = (rise[1] - rise[0]) / (apart[1] - apart[0])
            third = ((rise[2] - rise[1]) / (apart[2] - apart[1]) - first) / (apart[2] - apart[0])
            second = first - third * (apart[0] + apart[1])
            return cls(own, place, (rise[0] - apart[0] * first + apart[0] * apart[1] * third, second, third))

    def at(self, curve: int, runs: Runs, logarithm: FloatArray) -> FloatArray:
        """Return the logarithm of the places at which a curve reaches the logarithm of voltages on grid steps."""

        def here(one: FloatArray) -> FloatArray:
            # `take` is several times faster than an index array
            return runs.each(one[curve].take(runs.steps))

        first, second, third = self.factors
        apart, found = logarithm - here(self.volts), here(third)
        with np.errstate(invalid="ignore"):
            for factor in (second, first, self.place):
                found *= apart
                found += here(factor)
        return found


SPREAD = np.sort(np.concatenate([(1 - np.cos(np.pi * np.arange(6) / 5)) / 2, [0.25, 0.83]]))
"""Shares of a step at which its curves are asked: six points of Chebyshev, and two that check what is between."""
CHECKS = np.searchsorted(SPREAD, [0.25, 0.83])
AGREED = 1e-11
"""Relative difference of place that a check allows."""


@dataclass(frozen=True)
class Polynomials:
    """Curves read backwards on some steps of a grid: the logarithm of the place as a polynomial in that of the voltage.

    Parameters
    ----------
    forms : list
        By curve and step: logarithms of the voltage at six points, and the factors of Newton's form; ``None`` where a
        check did not confirm them, as beside a kink.
    """

    forms: list[list[tuple[list[float], list[float]] | None]]

    @staticmethod
    def places(left: FloatArray, right: FloatArray) -> FloatArray:
        """Return the places at which curves are to be known, one row per step."""
        between = np.asarray(left[:, None] * (right / left)[:, None] ** SPREAD)
        between[:, 0], between[:, -1] = left, right
        return between

    @classmethod
    def through(cls, places: FloatArray, curves: Sequence[FloatArray]) -> Polynomials:
        """Return the polynomials through curves, each known at the places asked for."""
        with np.errstate(all="ignore"):
            volts, ways = np.log(np.stack(curves)), np.broadcast_to(np.log(places), (len(curves), *places.shape))
            steep = np.diff(volts)
            hold = np.isfinite(volts).all(axis=-1) & ((steep > 0).all(axis=-1) | (steep < 0).all(axis=-1))
            nodes, factors = np.delete(volts, CHECKS, axis=-1), np.delete(ways, CHECKS, axis=-1)
            for apart in range(1, nodes.shape[-1]):
                rise = factors[..., apart:] - factors[..., apart - 1 : -1]
                factors[..., apart:] = rise / (nodes[..., apart:] - nodes[..., :-apart])
            for check in CHECKS:
                found = np.zeros(hold.shape)
                for i in range(nodes.shape[-1] - 1, -1, -1):
                    found = found * (volts[..., check] - nodes[..., i]) + factors[..., i]
                hold &= np.abs(found - ways[..., check]) <= AGREED
        flat = (one.reshape(-1, nodes.shape[-1]).tolist() for one in (nodes, factors))
        every = zip(*flat, hold.ravel().tolist(), strict=True)
        forms = [(node, factor) if held else None for node, factor, held in every]
        return cls([forms[i : i + len(places)] for i in range(0, len(forms), len(places))])

    def at(self, curve: int, step: int, volts: float) -> float:
        """Return the place at which a curve reaches a voltage [V] on a step; NaN where no polynomial holds."""
        form = self.forms[curve][step]
        if form is None:
            return math.nan
        logarithm, found = math.log(volts), 0.0
        for node, factor in zip(reversed(form[0]), reversed(form[1]), strict=True):
            found = found * (logarithm - node) + factor
        return math.exp(found)


def rising_inverses(
    curve: Callable[[FloatArray, np.ndarray], FloatArray],
    rows: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
) -> list[FloatArray]:
    """Return per curve the first places where it rises through voltages; NaN where it never does.

    Parameters
    ----------
    curve : callable
        Places, and the position of the curve that each belongs to, to peak voltages [V]; called with all at once.
    rows : sequence of tuple of ndarray
        Per curve its grid, the curve there, and the voltages [V].
    """
    answers, brackets = [], []
    for number, (grid, on_grid, voltages) in enumerate(rows):
        crossings = Crossings.of(on_grid, 0, rising=True)
        index = crossings.of_many(voltages, last=False, order=sorting(voltages))
        answers.append(np.full(voltages.shape, np.nan))
        which = np.flatnonzero(index >= 0)
        around = np.clip(index[which][:, None] + np.arange(-1, 3), 0, grid.size - 1)
        brackets.append((np.full(which.size, number), which, grid[around], on_grid[around], voltages[which]))
    row, which, places, there, volts = (np.concatenate(one) for one in zip(*brackets, strict=True))
    if row.size:
        ends, guess = (there[:, 1], there[:, 2]), guessed(places, there, volts)
        found = refined(lambda at, some: curve(at, row[some]), places[:, 1], places[:, 2], volts, ends, guess)
        for number, answer in enumerate(answers):
            answer[which[row == number]] = found[row == number]
    return answers


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


def divided(grid: FloatArray, steps: BoolArray, parts: int) -> FloatArray:
    """Return a logarithmic grid with some of its steps divided into so many parts."""
    left, ratio = grid[:-1][steps], (grid[1:] / grid[:-1])[steps]
    inner = left[:, None] * ratio[:, None] ** (np.arange(1, parts) / parts)
    return np.sort(np.concatenate([grid, inner.reshape(-1)]))


def grid_over(low: float, high: float) -> FloatArray:
    """Return the logarithmic grid between two places, both included."""
    count = int(np.ceil(np.log10(high / low) * POINTS_PER_DECADE)) + 2
    return np.geomspace(low, high, count)
