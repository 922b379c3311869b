"""The streamer criterion at one place by closed forms: for shapes whose field has elementary integrals.

The same criterion as `service.physics.criterion`, which integrates numerically and takes any shape and any number of
cases; a single question is answered here in plain numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from service.physics.axes import Axis
from service.physics.domain import Floats
from service.physics.streamer import IonizationFit

STEPS = 60
"""Most steps of Newton's method; four to six are usual."""
CLOSE = 1e-9
"""Relative step at which it has converged: the next would be about its square."""


def voltage(axis: Axis, pressure: float, fit: IonizationFit) -> tuple[float, float]:
    """Return the voltage at which the criterion holds [V], and the length of the zone [m].

    Parameters
    ----------
    axis : Axis
    pressure : float
        Reduced to 20 degC [Pa].
    fit : IonizationFit
    """
    zone = _solved(lambda volts: _of_zone(axis, pressure, fit, volts), axis, pressure, fit, 1 / 3)
    threshold, lowest = float(fit.threshold) * pressure, axis.field(axis.length)
    if zone * lowest < threshold and axis.sides == 1:
        return zone, axis.place(threshold / zone)
    whole = _solved(lambda volts: _of_whole(axis, pressure, fit, volts), axis, pressure, fit, 1 / 2)
    if whole < zone or zone * lowest >= threshold:
        return whole, axis.length * axis.sides
    return zone, axis.place(threshold / zone)


Integral = tuple[float, float]
"""Integral of the coefficient and its slope over the voltage."""


def _solved(
    integral: Callable[[float], Integral], axis: Axis, pressure: float, fit: IonizationFit, power: float
) -> float:
    """Return the voltage at which an integral reaches K: Newton's method on its root, kept inside a bracket."""
    wanted = float(fit.critical_number)
    low = float(fit.threshold) * pressure / axis.field(0.0)
    high = math.inf
    volts = low * 1.3
    for _ in range(STEPS):
        value, slope = integral(volts)
        low, high = (volts, high) if value < wanted else (low, volts)
        step = 0.0
        if value > 0 and slope > 0:
            # (I/K)^q - 1 = 0
            step = -(1 - (wanted / value) ** power) * value / (power * slope)
        if step and abs(step) <= CLOSE * volts:
            return volts + step
        volts += step
        if step == 0.0 or not low <= volts <= high:
            volts = 2 * low if high == math.inf else (low + high) / 2
    return volts


def _of_zone(axis: Axis, p: float, fit: IonizationFit, volts: float) -> Integral:
    """Return the integral from the electrode to where ionization ends, or to the lowest field."""
    threshold = float(fit.threshold) * p / volts
    z = axis.length if axis.field(axis.length) >= threshold else max(axis.place(threshold), 0.0)
    return _between(axis, p, fit, volts, 0.0, z, 1.0)


def _of_whole(axis: Axis, p: float, fit: IonizationFit, volts: float) -> Integral:
    """Return the integral along the whole axis, the zone of attachment counted as loss."""
    centre = fit.centre * p / volts
    z = axis.length if axis.field(axis.length) >= centre else max(axis.place(centre), 0.0)
    first = _between(axis, p, fit, volts, 0.0, z, 1.0)
    rest = _between(axis, p, fit, volts, z, axis.length, -1.0) if z < axis.length else (0.0, 0.0)
    return axis.sides * (first[0] + rest[0]), axis.sides * (first[1] + rest[1])


def _between(axis: Axis, p: float, fit: IonizationFit, volts: float, start: float, end: float, sign: float) -> Integral:
    """Return the integral between two places on one side of the centre of the quadratic."""
    reduced = volts / p
    value = slope = 0.0
    if axis.field(start) * reduced > fit.branch:
        join = min(axis.place(fit.branch / reduced), end)
        potential = axis.potential(join) - axis.potential(start)
        value += p * (fit.slope * reduced * potential - fit.intercept * (join - start))
        slope += fit.slope * potential
        start = join
    if end > start:
        one = axis.potential(end) - axis.potential(start)
        two = axis.square(end) - axis.square(start)
        length = end - start
        square = reduced * reduced * two - 2 * fit.centre * reduced * one + fit.centre**2 * length
        value += p * (sign * fit.curvature * square - fit.offset * length)
        slope += sign * fit.curvature * 2 * (reduced * two - fit.centre * one)
    return value, slope


def voltages(axis: Axis, pressure: Floats, fit: IonizationFit) -> tuple[Floats, Floats]:
    """Return `voltage` for many cases.

    Parameters
    ----------
    axis : Axis
        Of arrays.
    pressure : ndarray
        Reduced to 20 degC [Pa].
    fit : IonizationFit
        Of plain numbers or of arrays.
    """
    with np.errstate(all="ignore"):
        threshold, highest, lowest = (
            fit.threshold * pressure,
            axis.field(np.zeros_like(pressure)),
            axis.field(axis.length),
        )
        start = threshold / highest
        zone = _newton(lambda volts: _zone_integral(axis, pressure, fit, volts), start, fit, 1 / 3)
        inside = zone * lowest < threshold
        length = np.where(inside, axis.place(threshold / zone), axis.length * axis.sides)
        if axis.sides == 1 and inside.all():
            return zone, length
        whole = _newton(lambda volts: _whole_integral(axis, pressure, fit, volts), start, fit, 1 / 2)
    sooner = (whole < zone) if axis.sides > 1 else ~inside
    sooner |= ~inside
    return np.where(sooner, whole, zone), np.where(sooner, axis.length * axis.sides, length)


def _newton(
    integral: Callable[[Floats], tuple[Floats, Floats]], start: Floats, fit: IonizationFit, power: float
) -> Floats:
    """Return `_solved` for many cases."""
    wanted, low, high = fit.critical_number, start.copy(), np.full_like(start, np.inf)
    volts, todo = start * 1.3, np.ones(start.shape, dtype=bool)
    for _ in range(STEPS):
        value, slope = integral(volts)
        below = value < wanted
        low, high = np.where(below, volts, low), np.where(below, high, volts)
        step = -(1 - (wanted / value) ** power) * value / (power * slope)
        good = np.isfinite(step) & (value > 0) & (slope > 0)
        close = good & (np.abs(step) <= CLOSE * volts)
        proposed = volts + step
        kept = close | (good & (proposed >= low) & (proposed <= high))
        middle = np.where(np.isinf(high), 2 * low, (low + high) / 2)
        volts = np.where(todo, np.where(kept, proposed, middle), volts)
        todo &= ~close
        if not todo.any():
            break
    return volts


def _zone_integral(axis: Axis, p: Floats, fit: IonizationFit, volts: Floats) -> tuple[Floats, Floats]:
    threshold = fit.threshold * p / volts
    end = np.where(axis.field(axis.length) >= threshold, axis.length, np.maximum(axis.place(threshold), 0.0))
    return _part(axis, p, fit, volts, np.zeros_like(end), end, 1.0)


def _whole_integral(axis: Axis, p: Floats, fit: IonizationFit, volts: Floats) -> tuple[Floats, Floats]:
    centre = fit.centre * p / volts
    end = np.where(axis.field(axis.length) >= centre, axis.length, np.maximum(axis.place(centre), 0.0))
    value, slope = _part(axis, p, fit, volts, np.zeros_like(end), end, 1.0)
    if (end < axis.length).any():
        rest = _part(axis, p, fit, volts, end, axis.length, -1.0)
        value, slope = value + rest[0], slope + rest[1]
    return axis.sides * value, axis.sides * slope


def _part(
    axis: Axis, p: Floats, fit: IonizationFit, volts: Floats, start: Floats, end: Floats, sign: float
) -> tuple[Floats, Floats]:
    reduced = volts / p
    value = slope = np.zeros_like(volts)
    if sign > 0 and np.isfinite(fit.branch).any():
        strong = axis.field(start) * reduced > fit.branch
        join = np.where(strong, np.minimum(axis.place(fit.branch / reduced), end), start)
        potential = axis.potential(join) - axis.potential(start)
        value = p * (fit.slope * reduced * potential - fit.intercept * (join - start))
        slope, start = fit.slope * potential, join
    one = axis.potential(end) - axis.potential(start)
    two = axis.square(end) - axis.square(start)
    length = end - start
    square = reduced * reduced * two - 2 * fit.centre * reduced * one + fit.centre**2 * length
    value = value + p * (sign * fit.curvature * square - fit.offset * length)
    return value, slope + sign * fit.curvature * 2 * (reduced * two - fit.centre * one)
