"""Atmospheric correction of rod, needle and long gaps: ``K = delta^m k^w`` with the implicit parameter g.

The constants stand in the reference data and are passed in.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive, within
from service.physics.root import find_root

LOWEST_DENSITY, HIGHEST_DENSITY = 0.5, 1.3
"""Relative densities between which the implicit equation has one solution."""
NEWTON_STEPS, SOLVED = 12, 1e-12
"""Most steps of Newton's rule, three are usual; error of ln K at which it is solved."""
FEW = 12
"""Most elements for which plain numbers are faster than arrays."""


@dataclass(frozen=True)
class HumidityLaw:
    """Humidity factor of one kind of voltage: ``k = 1 + slope y + curvature y^2``, ``y = h / delta - reference``.

    Parameters
    ----------
    slope : float
        [m3/kg].
    curvature : float
        [m6/kg2].
    lowest, highest : float
        Range of h / delta in which the law is given [kg/m3].
    reference : float
        Absolute humidity at which k is one [kg/m3].
    """

    slope: float
    curvature: float
    lowest: float
    highest: float
    reference: float

    def factor(self, humidity_over_density: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
        """Return the factor k, and where it is held at the end of the range.

        Parameters
        ----------
        humidity_over_density : array_like
            Absolute humidity over relative density, h / delta [kg/m3]; zero or more.

        Returns
        -------
        factor : ndarray
            Dimensionless.
        held : ndarray of bool
            True where h / delta is outside the range and the factor of the nearer end is returned; to be stated.

        Raises
        ------
        OutsideValidity
            When the value is negative.
        """
        ratio = within("humidity_over_density", humidity_over_density, 0.0, np.inf, "kg/m3")
        y = np.clip(ratio, self.lowest, self.highest) - self.reference
        slack = 1e-9 * self.highest
        held = (ratio < self.lowest - slack) | (ratio > self.highest + slack)
        return np.asarray(1 + self.slope * y + self.curvature * y * y), np.asarray(held)


@dataclass(frozen=True)
class ExponentLaw:
    """Exponents m of the density and w of the humidity factor over g: zero, rising, one, w falling, w zero.

    Parameters
    ----------
    gradient : float
        Voltage per path in g = U / (gradient L delta k) [V/m]; 500 kV/m.
    rise_from, rise_divisor : float
        Both are ``g (g - rise_from) / rise_divisor`` from ``rise_from`` on, to one; 0.2 and 0.8.
    full_from : float
        Both are one from here; 1.
    fall_from, fall_offset, fall_to, fall_divisor : float
        w is ``(fall_offset - g)(fall_to - g) / fall_divisor`` from ``fall_from`` to ``fall_to``, then zero; 1.2, 2.2,
        2 and 0.8.

    References
    ----------
    iec-60060-1-2010, table of exponents; from memory.
    """

    gradient: float
    rise_from: float
    rise_divisor: float
    full_from: float
    fall_from: float
    fall_offset: float
    fall_to: float
    fall_divisor: float

    def of_density(self, g: ArrayLike) -> Floats:
        """Return the exponent m of the relative density.

        Parameters
        ----------
        g : array_like
            Parameter g, dimensionless.
        """
        bounded = np.minimum(np.maximum(g, self.rise_from), self.full_from)
        return np.asarray(bounded * (bounded - self.rise_from) / self.rise_divisor)

    def of_humidity(self, g: ArrayLike) -> Floats:
        """Return the exponent w of the humidity factor.

        Parameters
        ----------
        g : array_like
            Parameter g, dimensionless.
        """
        bounded = np.minimum(np.maximum(g, self.fall_from), self.fall_to)
        falling = (self.fall_offset - bounded) * (self.fall_to - bounded) / self.fall_divisor
        return np.minimum(self.of_density(g), falling)

    def with_slopes(self, g: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Return m, w, dm/dg and dw/dg."""
        m, w = self.of_density(g), self.of_humidity(g)
        rises = (g > self.rise_from) & (g < self.full_from)
        falls = (g > self.fall_from) & (g < self.fall_to)
        m_rise = np.where(rises, (2 * g - self.rise_from) / self.rise_divisor, 0.0)
        w_fall = np.where(falls, (2 * g - self.fall_offset - self.fall_to) / self.fall_divisor, 0.0)
        return m, w, m_rise, m_rise + w_fall

    def at_one(self, g: float) -> tuple[float, float, float, float]:
        """Return the same of one plain number."""
        if g <= self.rise_from:
            return 0.0, 0.0, 0.0, 0.0
        if g < self.full_from:
            m, rise = g * (g - self.rise_from) / self.rise_divisor, (2 * g - self.rise_from) / self.rise_divisor
            return m, m, rise, rise
        if g <= self.fall_from:
            return 1.0, 1.0, 0.0, 0.0
        if g < self.fall_to:
            w = (self.fall_offset - g) * (self.fall_to - g) / self.fall_divisor
            return 1.0, min(1.0, w), 0.0, (2 * g - self.fall_offset - self.fall_to) / self.fall_divisor
        return 1.0, 0.0, 0.0, 0.0


@dataclass(frozen=True)
class Air:
    """State of the air.

    Parameters
    ----------
    relative_density : array_like
        Relative to 20 degC and 101.3 kPa; 0.5 to 1.3.
    humidity : array_like
        Absolute humidity [kg/m3]; zero or more.
    """

    relative_density: ArrayLike
    humidity: ArrayLike
    _states: dict[HumidityLaw, Any] = field(default_factory=dict, repr=False, compare=False)

    def state(self, law: HumidityLaw) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return density, humidity factor and where it is held; worked out once for a law."""
        if law not in self._states:
            self._states[law] = _state(self, law)
        found: tuple[Floats, Floats, NDArray[np.bool_]] = self._states[law]
        return found


@dataclass(frozen=True)
class Corrected:
    """A voltage carried to other air.

    Parameters
    ----------
    voltage : ndarray
        Peak voltage [V].
    factor : ndarray
        What the given voltage was multiplied by.
    humidity_held : ndarray of bool
        Where k was held at the end of its range in the air of the question; to be noted, and the band widened.
    """

    voltage: Floats
    factor: Floats
    humidity_held: NDArray[np.bool_]


def carried_to(
    voltage: ArrayLike, length: ArrayLike, origin: Air, here: Air, law: HumidityLaw, exponents: ExponentLaw
) -> Corrected:
    """Return a 50 % breakdown voltage in the air of the question.

    ``U = U_0 delta^m k^w`` with ``g = U / (500 kV/m L delta k)``, U_0 in the reference atmosphere

    Parameters
    ----------
    voltage : array_like
        Breakdown voltage in the air of origin, peak [V]; greater than zero.
    length : array_like
        Shortest discharge path L [m]; greater than zero.
    origin : Air
        Air of the table or formula.
    here : Air
        Air of the question.
    law : HumidityLaw
        Of the kind of voltage.
    exponents : ExponentLaw
        m and w over g.

    Returns
    -------
    Corrected
        Voltage in the air of the question, and the factor.

    Raises
    ------
    OutsideValidity
        When voltage or length is not positive, the density leaves 0.5 to 1.3, or the humidity is negative.

    Notes
    -----
    g holds the voltage in the air at hand, so on the way to the reference atmosphere it is known and on the way from it
    implicit: the equation is solved for ``ln K``, which lies between the corrections with no and with full exponents.

    References
    ----------
    iec-60060-1-2010, 4.3; from memory.
    """
    U, L = positive("voltage", voltage, "V"), positive("length", length, "m")
    delta0, k0, _ = origin.state(law)
    g = U / (exponents.gradient * L * delta0 * k0)
    U0 = U / (delta0 ** exponents.of_density(g) * k0 ** exponents.of_humidity(g))
    delta, k, held = _state(here, law)
    g0 = U0 / (exponents.gradient * L * delta * k)
    U_here = np.asarray(U0 * np.exp(_logarithm_of_correction(g0, np.log(delta), np.log(k), exponents)))
    return Corrected(U_here, np.asarray(U_here / U), np.broadcast_to(held, U_here.shape))


def _state(air: Air, law: HumidityLaw) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    delta = within("relative_density", air.relative_density, LOWEST_DENSITY, HIGHEST_DENSITY, "")
    k, held = law.factor(within("humidity", air.humidity, 0.0, np.inf, "kg/m3") / delta)
    return delta, k, held


def _logarithm_of_correction(
    g_of_reference: Floats, log_density: Floats, log_k: Floats, exponents: ExponentLaw
) -> Floats:
    """Return ln K by Newton's rule; the equation is smooth but for the corners of the exponents."""
    g0, log_delta, log_factor = np.broadcast_arrays(g_of_reference, log_density, log_k)
    if g0.size <= FEW:
        numbers = zip(g0.ravel().tolist(), log_delta.ravel().tolist(), log_factor.ravel().tolist(), strict=True)
        found = [_logarithm_at_one(*one, exponents) for one in numbers]
        if None not in found:
            return np.array(found).reshape(g0.shape)
    x = np.asarray(exponents.of_density(g0) * log_delta + exponents.of_humidity(g0) * log_factor)
    for _ in range(NEWTON_STEPS):
        g = g0 * np.exp(x)
        m, w, m_rise, w_rise = exponents.with_slopes(g)
        off = x - m * log_delta - w * log_factor
        solved = np.abs(off) <= SOLVED
        if solved.all():
            return np.asarray(x)
        x = x - off / (1 - g * (m_rise * log_delta + w_rise * log_factor))
    x[~solved] = _logarithm_between(g0[~solved], log_delta[~solved], log_factor[~solved], exponents)
    return x


def _logarithm_at_one(g0: float, log_delta: float, log_factor: float, exponents: ExponentLaw) -> float | None:
    """Return the same for one number, or nothing where Newton's rule does not settle."""
    x = 0.0
    for _ in range(NEWTON_STEPS):
        g = g0 * exp(x)
        m, w, m_rise, w_rise = exponents.at_one(g)
        off = x - m * log_delta - w * log_factor
        if abs(off) <= SOLVED:
            return x
        x -= off / (1 - g * (m_rise * log_delta + w_rise * log_factor))
    return None


def _logarithm_between(g0: Floats, log_delta: Floats, log_factor: Floats, exponents: ExponentLaw) -> Floats:
    """Return the same by bracketing: where Newton's rule goes to and fro over a corner."""

    def residual(x: Floats, which: NDArray[np.intp]) -> Floats:
        g = g0[which] * np.exp(x)
        return np.asarray(x - exponents.of_density(g) * log_delta[which] - exponents.of_humidity(g) * log_factor[which])

    margin = 1e-9  # beyond rounding, where a full correction ends the bracket
    low = np.minimum(log_delta, 0) + np.minimum(log_factor, 0) - margin
    high = np.maximum(log_delta, 0) + np.maximum(log_factor, 0) + margin
    # the correction of the uncorrected voltage is near; the residual is the error of the logarithm itself
    guess = exponents.of_density(g0) * log_delta + exponents.of_humidity(g0) * log_factor
    found, enclosed = find_root(residual, low, high, least=1e-12, start=guess, enough=SOLVED)
    if not np.all(enclosed):
        raise OutsideValidity("The atmospheric correction has no solution for this air.")
    return found
