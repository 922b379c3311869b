"""Branches of a curve over gap or pressure: where a voltage is reached, with the ends of its band."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service import units
from service.answers.evaluate import Evaluation, evaluate
from service.answers.inverse import Crossing, grid_over, guessed, has_minimum, refined, steps_across
from service.answers.measure import Reading
from service.errors import Fault, OutsideValidity
from service.methods import Arrangement, Case, FloatArray, Method
from service.methods.method import BoolArray

CURVES = ("value", "low", "high", "withstand")
"""What is searched over the places: breakdown voltage, its band, and what is held."""
PARTS, ROUNDS = 64, 4
"""Parts into which the step in which an end lies is divided, and how often: to less than a hundred-millionth."""

Placed = Callable[[Arrangement, Case, FloatArray], Case]
"""An arrangement's case of one element, laid over many gaps [m] or pressures [Pa]."""
Holding = Callable[[Case, FloatArray], FloatArray]
"""A case and the low end of its band to the peak voltage that is held [V]."""


@dataclass(frozen=True)
class Samples:
    """Value and band of a situation at many places, in order.

    Parameters
    ----------
    places : ndarray
        Gaps [m] or pressures [Pa].
    value, low, high, withstand : ndarray
        Peak voltages [V]; NaN where there is none.
    answered : ndarray of bool
        Whether some method answers.
    """

    places: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    withstand: FloatArray
    answered: BoolArray


@dataclass(frozen=True)
class Curves:
    """Value and band of a situation over gap or pressure, evaluated once on a grid.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        Of one element.
    only : str, optional
        Key of the one method wanted.
    placed : callable
        Lays the case over places.
    ends : tuple of float
        Range that is searched.
    holding : callable, optional
        Case and low end of the band to the peak voltage that is held [V], NaN where that is not known.
    """

    arrangement: Arrangement
    case: Case
    only: str | None
    placed: Placed
    ends: tuple[float, float]
    holding: Holding | None = None

    @cached_property
    def on_grid(self) -> Samples:
        """Value and band on a logarithmic grid, and at the ends of what is answered."""
        base = grid_over(*self.ends)
        found = self.at(base)
        inside = self._ends_within(base, found.answered)
        ends = self.at(inside)
        places = np.concatenate([base, inside])
        order = np.argsort(places)
        both = {name: [self.voltages(one, name) for one in (found, ends)] for name in CURVES}
        value, low, high, held = (np.concatenate(both[name])[order] for name in CURVES)
        return Samples(places[order], value, low, high, held, np.concatenate([found.answered, ends.answered])[order])

    def voltages(self, found: Evaluation, name: str) -> FloatArray:
        """Return one of `CURVES` of an evaluation [V]."""
        if name != "withstand":
            return np.asarray(getattr(found, name))
        return np.full(found.case.size, np.nan) if self.holding is None else self.holding(found.case, found.low)

    @property
    def grid(self) -> FloatArray:
        """Places searched."""
        return self.on_grid.places

    def _ends_within(self, base: FloatArray, answered: BoolArray) -> FloatArray:
        steps = np.flatnonzero(answered[:-1] != answered[1:])
        inside = np.where(answered[steps], base[steps], base[steps + 1])
        outside = np.where(answered[steps], base[steps + 1], base[steps])
        for _ in range(ROUNDS if steps.size else 0):
            shares = np.arange(PARTS + 1) / PARTS
            between = inside[:, None] * (outside / inside)[:, None] ** shares
            between[:, 0], between[:, -1] = inside, outside
            there = self._answered(between[:, 1:-1].ravel()).reshape(steps.size, PARTS - 1)
            last = np.argmin(np.pad(there, ((0, 0), (0, 1))), axis=1)  # how many from the inside are answered
            rows = np.arange(steps.size)
            inside, outside = between[rows, last], between[rows, last + 1]
        return inside[~np.isin(inside, base)]

    def _answered(self, places: FloatArray) -> BoolArray:
        case = self.placed(self.arrangement, self.case, places)
        found = np.zeros(places.size, dtype=np.bool_)
        for method in self._applying:
            if found.all():
                break
            found[~found] = method.validity.mask(case.select(~found))
        return found

    @cached_property
    def _applying(self) -> tuple[Method, ...]:
        wanted = (method for method in self.arrangement.methods if self.only in (None, method.key))
        return tuple(method for method in wanted if method.validity.applies(self.case))

    def at(self, places: FloatArray, *, every: bool = False) -> Evaluation:
        """Return the evaluation at many places."""
        return evaluate(self.arrangement, self.placed(self.arrangement, self.case, places), every=every, only=self.only)

    def at_place(self, place: float) -> Evaluation:
        """Return what all methods say at a place; asked for the same place again it is not evaluated again."""
        kept: dict[float, Evaluation] = self.__dict__.setdefault("_kept", {})
        if place not in kept:
            if len(kept) > 64:
                kept.clear()
            kept[place] = self.at(np.array([place]), every=True)
        return kept[place]

    def reaches(self, targets: Mapping[str, float]) -> dict[str, list[Crossing]]:
        """Return where some of `CURVES` reach their peak voltages [V]; all places are found at once."""
        found, names = self.on_grid, list(targets)
        curves = {name: np.asarray(getattr(found, name)) for name in names}
        steps = {name: steps_across(curves[name], targets[name]) for name in names}
        which = np.repeat(np.arange(len(names)), [steps[name].size for name in names])
        if not which.size:
            return {name: [] for name in names}
        step = np.concatenate([steps[name] for name in names])
        volts = np.repeat([targets[name] for name in names], [steps[name].size for name in names])
        ends = [np.concatenate([curves[name][steps[name] + k] for name in names]) for k in (0, 1)]

        def curve(places: FloatArray, wanted: np.ndarray) -> FloatArray:
            there = self.at(places)
            return np.asarray(np.choose(which[wanted], [self.voltages(there, name) for name in names]))

        guess = np.concatenate([guessed(self.grid, curves[name], steps[name], targets[name]) for name in names])
        places = refined(curve, self.grid[step], self.grid[step + 1], volts, (ends[0], ends[1]), guess)
        rising = ends[0] < volts
        return {
            name: [Crossing(float(places[i]), bool(rising[i])) for i in np.flatnonzero(which == n)]
            for n, name in enumerate(names)
        }

    @cached_property
    def lowest(self) -> int:
        """Grid index of the smallest breakdown voltage: of the value, or of the upper bound where there is none."""
        filled = np.where(np.isnan(self.on_grid.value), self.on_grid.high, self.on_grid.value)
        return int(np.nanargmin(filled))

    @cached_property
    def has_minimum(self) -> bool:
        """Whether the smallest breakdown voltage is a minimum, not merely where the methods end."""
        return bool(has_minimum(self.grid, np.fmin(self.on_grid.value, self.on_grid.high))[0])

    @cached_property
    def turns(self) -> bool:
        """Whether places on both sides of the smallest breakdown voltage are answered: there are two branches."""
        i, answered = self.lowest, self.on_grid.answered
        return 0 < i < answered.size - 1 and bool(answered[i - 1] and answered[i + 1])

    @property
    def covered(self) -> tuple[float, float]:
        """First and last place at which some method answers."""
        places = self.grid[self.on_grid.answered]
        return float(places[0]), float(places[-1])

    @property
    def smallest(self) -> tuple[float, float, float]:
        """Value, low and high of the smallest breakdown voltage [V]."""
        found, i = self.on_grid, self.lowest
        return float(found.value[i]), float(found.low[i]), float(found.high[i])


@dataclass(frozen=True)
class Ends:
    """One branch: the place, the ends of its band, and from where on it holds; ``None`` where there is none."""

    value: float | None
    low: float | None
    high: float | None
    holds: float | None = None

    @property
    def place(self) -> float:
        """The place that stands for the branch: the value, else the end that keeps apart, else the other."""
        return next(one for one in (self.value, self.high, self.low) if one is not None)


def reached(curves: Curves, reading: Reading) -> dict[str, Ends]:
    """Return the branches on which a voltage is reached, by name; none where nothing breaks down.

    Parameters
    ----------
    curves : Curves
    reading : Reading

    Raises
    ------
    OutsideValidity
        When the voltage lies where no method answers.
    """
    found = curves.reaches({"value": reading.high, "low": reading.high, "high": reading.low, "withstand": reading.high})
    branches = {"left": left(curves, reading, found), "right": right(curves, reading, found)}
    there = {name: ends for name, ends in branches.items() if ends is not None}
    if not there:
        refuse_beyond(curves, reading)
    return there


Crossings = Mapping[str, list[Crossing]]
"""Where value, low and high reach their voltages."""


def right(curves: Curves, reading: Reading, found: Crossings) -> Ends | None:
    """Return the branch on which the voltage rises, or ``None``."""
    valley = curves.grid[curves.lowest]
    rising = {name: [c.place for c in found[name] if c.rising and c.place >= valley] for name in found}
    value = max(rising["value"], default=None) if reading.sharp else None
    low, high = min(rising["high"], default=None), max(rising["low"], default=None)
    holds = max(rising["withstand"], default=None)
    return None if value is None and low is None and high is None else Ends(value, low, high, holds)


def left(curves: Curves, reading: Reading, found: Crossings) -> Ends | None:
    """Return the branch on which the voltage falls, or ``None``."""
    valley = curves.grid[curves.lowest]
    falling = {name: [c.place for c in found[name] if not c.rising and c.place <= valley] for name in found}
    value, low, high = (falling[name][-1] if falling[name] else None for name in ("value", "low", "high"))
    if not reading.sharp or value is None:
        return None if None in (low, high) else Ends(None, low, high)
    # the branch is steep, so the method's own uncertainty of place may be the wider one
    own = curves.at_place(value).preferred().method.place_uncertainty
    return Ends(value, min(low or value, value * (1 - own[0])), max(high or value, value * (1 + own[1])))


def refuse_beyond(curves: Curves, reading: Reading) -> None:
    """Refuse a voltage that no place reaches, unless it lies below a minimum, so that nothing breaks down.

    Parameters
    ----------
    curves : Curves
    reading : Reading

    Raises
    ------
    OutsideValidity
        When the voltage is higher than any method reaches, or lower and the methods end before a minimum.
    """
    value, _, high = curves.smallest
    smallest = float(np.nanmin([value, high]))
    if reading.high > smallest:
        raise _too_high(curves)
    if not curves.has_minimum:
        raise _too_low(curves, smallest)


def _too_high(curves: Curves) -> OutsideValidity:
    top = float(np.nanmax(np.fmax(curves.on_grid.value, curves.on_grid.high)))
    limit = units.quantity(top, "voltage")
    highest = f"the highest is {limit['value']:.4g} kV"
    detail = f"No method for electrodes={curves.arrangement.key} reaches this voltage; {highest}."
    error = OutsideValidity(detail, [Fault("voltage", detail, (), {"high": limit})])
    error.suggestion = {"voltage": f"{limit['value'] * 0.5:.3g}kV", "measure": "peak"}
    return error


def _too_low(curves: Curves, smallest: float) -> OutsideValidity:
    limit = units.quantity(smallest, "voltage")
    advice = f" {curves.arrangement.advice}" if curves.arrangement.advice else ""
    detail = (
        f"The methods for electrodes={curves.arrangement.key} end at {limit['value']:.4g} kV; this voltage lies below, "
        f"which does not mean that nothing breaks down.{advice}"
    )
    return OutsideValidity(detail, [Fault("voltage", detail, (), {"low": limit})])  # no larger voltage is proposed
