"""Atmospheric correction of rod, needle and long gaps: ``K = delta^m k^w`` with the implicit parameter g."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import elementwise

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive, within

STANDARD_HUMIDITY = 11e-3
"""Absolute humidity of the standard reference atmosphere of IEC 60060-1 [kg/m3]."""


@dataclass(frozen=True)
class HumidityLaw:
    """Humidity factor of one kind of voltage: ``k = 1 + slope y + curvature y^2``, y = h / delta - 11 g/m3.

    Parameters
    ----------
    slope : float
        [m3/kg].
    curvature : float
        [m6/kg2].
    lowest, highest : float
        Range of h / delta in which the law is given [kg/m3].
    """

    slope: float
    curvature: float
    lowest: float
    highest: float

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
        y = np.clip(ratio, self.lowest, self.highest) - STANDARD_HUMIDITY
        return 1 + self.slope * y + self.curvature * y * y, (ratio < self.lowest) | (ratio > self.highest)


DIRECT = HumidityLaw(14.0, -220.0, 1e-3, 15e-3)
ALTERNATING = HumidityLaw(12.0, 0.0, 1e-3, 15e-3)
IMPULSE = HumidityLaw(10.0, 0.0, 1e-3, 20e-3)
ROD_ROD = HumidityLaw(14.0, 0.0, 1e-3, 13e-3)
"""Laws of IEC 60060-1:2010 4.3.3 and, for the rod-rod gap, of IEC 60052; from memory."""


@dataclass(frozen=True)
class Air:
    """State of the air.

    Parameters
    ----------
    relative_density : array_like
        Relative to 20 degC and 101.3 kPa.
    humidity : array_like
        Absolute humidity [kg/m3].
    """

    relative_density: ArrayLike = 1.0
    humidity: ArrayLike = STANDARD_HUMIDITY


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
        Where k was held at the end of its range, here or in the air of origin; to be noted, and the band
        widened by 2 %.
    """

    voltage: Floats
    factor: Floats
    humidity_held: NDArray[np.bool_]


def density_exponent(g: ArrayLike) -> Floats:
    """Return the exponent m of the relative density.

    Zero below g = 0.2, ``g (g - 0.2) / 0.8`` to 1, one above.

    Parameters
    ----------
    g : array_like
        Parameter g, dimensionless.

    References
    ----------
    iec-60060-1-2010, table 1; from memory.

    Examples
    --------
    >>> density_exponent([0.1, 1.1, 3.0]).tolist()
    [0.0, 1.0, 1.0]
    """
    bounded = np.clip(g, 0.2, 1.0)
    return np.asarray(bounded * (bounded - 0.2) / 0.8)


def humidity_exponent(g: ArrayLike) -> Floats:
    """Return the exponent w of the humidity factor.

    As m to g = 1.2, then ``(2.2 - g)(2 - g) / 0.8`` to 2, zero above.

    Parameters
    ----------
    g : array_like
        Parameter g, dimensionless.

    References
    ----------
    iec-60060-1-2010, table 1; from memory.

    Examples
    --------
    >>> humidity_exponent([0.1, 1.1, 2.5]).tolist()
    [0.0, 1.0, 0.0]
    """
    bounded = np.clip(g, 1.2, 2.0)
    return np.asarray(np.where(np.asarray(g) < 1.2, density_exponent(g), (2.2 - bounded) * (2 - bounded) / 0.8))


def carried_to(
    voltage: ArrayLike, length: ArrayLike, law: HumidityLaw, here: Air, origin: Air | None = None
) -> Corrected:
    """Return a 50 % breakdown voltage in the air of the question.

    ``U = U_0 delta^m k^w`` with ``g = U / (500 kV/m L delta k)``, U_0 at 20 degC, 101.3 kPa, 11 g/m3

    Parameters
    ----------
    voltage : array_like
        Breakdown voltage in the air of origin, peak [V]; greater than zero.
    length : array_like
        Shortest discharge path L [m]; greater than zero.
    law : HumidityLaw
        Of the kind of voltage.
    here : Air
        Air of the question.
    origin : Air, optional
        Air of the table or formula; by default the standard reference atmosphere.

    Returns
    -------
    Corrected
        Voltage in the air of the question, and the factor.

    Raises
    ------
    OutsideValidity
        When voltage, length or density is not positive, or the humidity is negative.

    Notes
    -----
    g holds the voltage in the air at hand, so on the way to the reference it is known and on the way from it implicit:
    the equation is solved for ``ln K``, which lies between the corrections with no and with full exponents and is
    single-valued for densities of 0.5 to 1.3.

    References
    ----------
    iec-60060-1-2010, 4.3; from memory.

    Examples
    --------
    In the air of origin nothing changes.

    >>> float(carried_to(100e3, 0.15, ALTERNATING, Air(0.98, 0.018), Air(0.98, 0.018)).voltage.round(3))
    100000.0
    """
    U, L = positive("voltage", voltage, "V"), positive("length", length, "m")
    start = origin or Air()
    delta0, k0, held0 = _state(start, law)
    g = U / (500e3 * L * delta0 * k0)
    U0 = U / (delta0 ** density_exponent(g) * k0 ** humidity_exponent(g))
    delta, k, held = _state(here, law)
    U_here = U0 * np.exp(_logarithm_of_correction(U0 / (500e3 * L * delta * k), np.log(delta), np.log(k)))
    return Corrected(U_here, U_here / U, np.broadcast_to(held | held0, U_here.shape))


def _state(air: Air, law: HumidityLaw) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    delta = within("relative_density", positive("relative_density", air.relative_density, ""), 0.5, 1.3, "")
    k, held = law.factor(within("humidity", air.humidity, 0.0, np.inf, "kg/m3") / delta)
    return delta, k, held


def _logarithm_of_correction(g_of_reference: Floats, log_density: Floats, log_k: Floats) -> Floats:
    g0, log_delta, log_factor = np.broadcast_arrays(g_of_reference, log_density, log_k)

    def residual(x: Floats, g1: Floats, a: Floats, b: Floats) -> Floats:
        g = g1 * np.exp(x)
        return np.asarray(x - density_exponent(g) * a - humidity_exponent(g) * b)

    low = np.minimum(log_delta, 0) + np.minimum(log_factor, 0)
    high = np.maximum(log_delta, 0) + np.maximum(log_factor, 0)
    result = elementwise.find_root(residual, (low, high), args=(g0, log_delta, log_factor), tolerances={"xatol": 1e-13})
    if not np.all(result.success):
        raise OutsideValidity("The atmospheric correction has no solution for this air.")
    return np.asarray(result.x)
