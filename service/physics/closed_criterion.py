"""The streamer criterion on an axis whose integrals are elementary: one case in plain numbers, or many in arrays."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.physics.axes import Axis
from service.physics.ionization import IonizationFit
from service.physics.numbers import PLAIN, Numbers, functions_for

STEPS = 60
"""Most steps of Newton's method; four to six are usual."""
CLOSE = 1e-8
"""Relative step at which it has converged: the next would be about its square."""
FIRST = 1.3
"""First guess, over the voltage at which anything ionizes at all."""

Integral = tuple[Numbers, Numbers]
"""Integral of the coefficient, and its slope over the voltage."""


def inception_voltage(axis: Axis, pressure: Numbers, fit: IonizationFit) -> tuple[Numbers, Numbers]:
    """Return the voltage at which the criterion holds, and how far the zone reaches.

    Parameters
    ----------
    axis : Axis
        Of plain numbers or of arrays.
    pressure : float or ndarray
        Reduced to 20 degC [Pa].
    fit : IonizationFit
        Of plain numbers, or for arrays also of arrays.

    Returns
    -------
    tuple of float or of ndarray
        Peak voltage [V], and length of the zone [m]: the whole gap where the avalanche crosses it.

    Notes
    -----
    The zone is tried first; where it would reach the lowest field, or where another electrode faces it, the whole
    axis is tried too and the lower voltage holds.
    """
    with np.errstate(all="ignore"):
        of = functions_for(pressure)
        threshold = float(fit.threshold) if of is PLAIN else fit.threshold
        case = _Case(axis, pressure, fit, threshold * pressure, axis.field(axis.length))
        zone = case.solve(case.of_zone, 1 / 3)
        length, crosses = case.reach(case.threshold / zone), zone * case.lowest >= case.threshold
        if axis.sides == 1 and not of.any(crosses):
            return zone, length
        whole = case.solve(case.of_whole, 1 / 2)
    crosses = crosses | (whole < zone) & (axis.sides > 1)
    return of.where(crosses, whole, zone), of.where(crosses, axis.length * axis.sides, length)


@dataclass(frozen=True)
class _Case:
    """A gap, or many: axis, reduced pressure [Pa], fit, field at which ionization ends [V/m], lowest field per volt."""

    axis: Axis
    p: Numbers
    fit: IonizationFit
    threshold: Numbers
    lowest: Numbers

    @cached_property
    def branched(self) -> bool:
        """Whether the fit has a linear branch at all."""
        return bool(np.any(np.asarray(self.fit.branch) < np.inf))

    def solve(self, integral: Callable[[Numbers], Integral], power: float) -> Numbers:
        """Return the voltage at which an integral reaches K: Newton's method on its root, kept inside a bracket."""
        of, wanted = functions_for(self.p), self.fit.critical_number
        low = self.threshold / self.axis.field(0.0)
        volts, high, done = low * FIRST, low + math.inf, low < 0
        for _ in range(STEPS):
            value, slope = integral(volts)
            below = value < wanted
            low, high = of.where(below, volts, low), of.where(below, high, volts)
            # (I / K)^q = 1, in which I is nearly straight; where nothing ionizes yet the bracket is halved or doubled
            some = of.maximum(value, 1e-300)
            step = ((wanted / some) ** power - 1) * some / (power * of.maximum(slope, 1e-300))
            close = (abs(step) <= CLOSE * volts) & (value > 0)
            proposed = volts + step
            kept = close | ((proposed >= low) & (proposed <= high) & (value > 0))
            middle = of.where(high == math.inf, 2 * low, (low + high) / 2)
            volts, done = of.where(done, volts, of.where(kept, proposed, middle)), done | close
            if of.all(done):
                break
        return volts

    def of_zone(self, volts: Numbers) -> Integral:
        """Return the integral from the electrode to where ionization ends, or to the lowest field."""
        return self.between(volts, 0.0 * volts, self.reach(self.threshold / volts), 1.0)

    def of_whole(self, volts: Numbers) -> Integral:
        """Return the integral along the whole axis, the zone of attachment counted as loss."""
        middle = self.reach(self.fit.centre * self.p / volts)
        first = self.between(volts, 0.0 * volts, middle, 1.0)
        rest = self.between(volts, middle, self.axis.length, -1.0)
        return self.axis.sides * (first[0] + rest[0]), self.axis.sides * (first[1] + rest[1])

    def reach(self, field: Numbers) -> Numbers:
        """Return the distance at which the field per volt has fallen to a value, at most that of the lowest [m]."""
        of = functions_for(field)
        within = self.axis.place(of.maximum(field, self.lowest))
        return of.where(field <= self.lowest, self.axis.length, of.maximum(within, 0.0))

    def between(self, volts: Numbers, start: Numbers, end: Numbers, sign: float) -> Integral:
        """Return the integral between two places on one side of the centre of the quadratic."""
        axis, fit, of, reduced = self.axis, self.fit, functions_for(volts), volts / self.p
        join, passed = start, axis.potential(start)
        value = slope = 0.0
        if sign > 0 and self.branched:
            join = of.minimum(of.maximum(self.reach(fit.branch / reduced), start), end)
            begin, passed = passed, axis.potential(join)
            value = self.p * (fit.slope * reduced * (passed - begin) - fit.intercept * (join - start))
            slope = fit.slope * (passed - begin)
        one, two = axis.potential(end) - passed, axis.square(end) - axis.square(join)
        length = end - join
        square = reduced * reduced * two - 2 * fit.centre * reduced * one + fit.centre**2 * length
        value = value + self.p * (sign * fit.curvature * square - fit.offset * length)
        return value, slope + sign * fit.curvature * 2 * (reduced * two - fit.centre * one)
