"""Humidity of air: mass of water vapour per volume [kg/m3], and what it has to do with the dew point.

Temperatures are thermodynamic [K], pressures absolute [Pa].
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.errors import Fault, OutsideValidity
from service.physics.domain import Floats, positive, within
from service.physics.root import find_root

WATER_GAS_CONSTANT = 8.31446261815324 / 0.018015268
"""Specific gas constant of water vapour [J/(kg K)]; molar mass of IAPWS."""

TRIPLE_POINT_TEMPERATURE = 273.16
"""Temperature of the triple point of water [K]."""

LOWEST_SATURATION_TEMPERATURE = 50.0
"""Lower end of the sublimation-pressure equation [K]."""

CRITICAL_TEMPERATURE = 647.096
"""Critical temperature of water, upper end of the saturation-pressure equation [K]."""


def saturation_vapour_pressure(temperature: ArrayLike) -> Floats:
    """Return the vapour pressure of water in equilibrium with liquid, below the triple point with ice.

    Liquid: ``ln(p/pc) = (Tc/T) sum a_i v^n_i`` with ``v = 1 - T/Tc``; ice: ``ln(p/pt) = (Tt/T) sum a_i (T/Tt)^b_i``

    Parameters
    ----------
    temperature : array_like
        Temperature [K]; 50 to 647.096 K.

    Returns
    -------
    ndarray
        Vapour pressure [Pa].

    Raises
    ------
    OutsideValidity
        When the temperature leaves the range.

    Notes
    -----
    Pure water and ice; air at atmospheric pressure raises it by about 0.5 %. Below the triple point the reference
    is ice, so a dew point there is a frost point.

    References
    ----------
    iapws-sr1-86-1992, eq. 1 (liquid, 273.16 to 647.096 K, within 0.1 %); iapws-r14-08-2011, eq. 6 (ice, 50 to
    273.16 K). Coefficients from memory, compared with an independent formula in the tests.

    Examples
    --------
    >>> float(saturation_vapour_pressure(273.16).round(3))
    611.657
    """
    T = within("temperature", temperature, LOWEST_SATURATION_TEMPERATURE, CRITICAL_TEMPERATURE, "K")
    frozen = T < TRIPLE_POINT_TEMPERATURE
    ice = _over_ice(np.minimum(T, TRIPLE_POINT_TEMPERATURE))
    return np.where(frozen, ice, _over_liquid(np.maximum(T, TRIPLE_POINT_TEMPERATURE)))


def _over_liquid(temperature: Floats) -> Floats:
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    n = (1.0, 1.5, 3.0, 3.5, 4.0, 7.5)
    v = 1 - temperature / CRITICAL_TEMPERATURE
    exponent = sum(ai * v**ni for ai, ni in zip(a, n, strict=True))
    return np.asarray(22.064e6 * np.exp(CRITICAL_TEMPERATURE / temperature * exponent))


def _over_ice(temperature: Floats) -> Floats:
    a = (-21.2144006, 27.3203819, -6.10598130)
    b = (0.00333333333, 1.20666667, 1.70333333)
    theta = temperature / TRIPLE_POINT_TEMPERATURE
    exponent = sum(ai * theta**bi for ai, bi in zip(a, b, strict=True)) / theta
    return np.asarray(611.657 * np.exp(exponent))


def absolute_humidity(relative_humidity: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the mass of water vapour per volume of air of a relative humidity.

    ``absolute_humidity = relative_humidity p_s(temperature) / (R_v temperature)``

    Parameters
    ----------
    relative_humidity : array_like
        Vapour pressure over saturation pressure, as a fraction; 0 to 1.
    temperature : array_like
        Air temperature [K]; 50 to 647.096 K.

    Returns
    -------
    ndarray
        Absolute humidity [kg/m3].

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    Vapour as an ideal gas. At 20 degC the rounded formula of IEC 60060-1 gives 0.3 % less. Whether air of a given
    pressure can hold it is asked of `largest_humidity`.

    References
    ----------
    iapws-sr1-86-1992; iapws-r14-08-2011.

    Examples
    --------
    >>> float(absolute_humidity(0.78, 295.15).round(4))
    0.0151
    """
    share = within("relative humidity", relative_humidity, 0.0, 1.0, "")
    p = share * saturation_vapour_pressure(temperature)
    return np.asarray(p / (WATER_GAS_CONSTANT * np.asarray(temperature, dtype=np.float64)))


def relative_humidity(absolute_humidity: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the relative humidity of air that holds a mass of water vapour per volume.

    ``relative_humidity = absolute_humidity R_v temperature / p_s(temperature)``

    Parameters
    ----------
    absolute_humidity : array_like
        Absolute humidity [kg/m3]; not negative.
    temperature : array_like
        Air temperature [K]; 50 to 647.096 K.

    Returns
    -------
    ndarray
        Relative humidity, as a fraction; above 1 where the air cannot hold that much.

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    The inverse of `absolute_humidity`.

    References
    ----------
    iapws-sr1-86-1992; iapws-r14-08-2011.

    Examples
    --------
    >>> float(relative_humidity(0.01514, 295.15).round(2))
    0.78
    """
    h = within("absolute humidity", absolute_humidity, 0.0, np.inf, "kg/m3")
    saturation = saturation_vapour_pressure(temperature)
    return np.asarray(h * WATER_GAS_CONSTANT * np.asarray(temperature, dtype=np.float64) / saturation)


def absolute_humidity_at_dew_point(dew_point: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the mass of water vapour per volume of air of a dew point.

    ``absolute_humidity = p_s(dew_point) / (R_v temperature)``

    Parameters
    ----------
    dew_point : array_like
        Dew point, below 273.16 K frost point [K]; 50 K to the air temperature.
    temperature : array_like
        Air temperature [K]; to 647.096 K.

    Returns
    -------
    ndarray
        Absolute humidity [kg/m3].

    Raises
    ------
    OutsideValidity
        When a value leaves its range or the dew point is above the air temperature.

    Notes
    -----
    Vapour as an ideal gas, as in `absolute_humidity`.

    References
    ----------
    iapws-sr1-86-1992; iapws-r14-08-2011.

    Examples
    --------
    >>> float(absolute_humidity_at_dew_point(295.15, 295.15).round(4))
    0.0194
    """
    dew, T = np.broadcast_arrays(np.asarray(dew_point, np.float64), positive("temperature", temperature, "K"))
    if np.any(dew > T):
        detail = "The dew point is above the air temperature."
        raise OutsideValidity(detail, [Fault("dew_point", detail)])
    return np.asarray(saturation_vapour_pressure(dew) / (WATER_GAS_CONSTANT * T))


def dew_point(absolute_humidity: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the temperature at which air of an absolute humidity is saturated when cooled at constant pressure.

    ``p_s(dew_point) = absolute_humidity R_v temperature``

    Parameters
    ----------
    absolute_humidity : array_like
        Absolute humidity [kg/m3]; greater than zero, vapour pressure up to 22.064 MPa.
    temperature : array_like
        Air temperature [K]; greater than zero.

    Returns
    -------
    ndarray
        Dew point, below 273.16 K frost point [K]; above the air temperature where the air cannot hold that much.

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    Solved by bracketing on the monotone saturation curve.

    References
    ----------
    iapws-sr1-86-1992; iapws-r14-08-2011.

    Examples
    --------
    >>> float(dew_point(0.0194, 295.15).round(1))
    295.1
    """
    T = positive("temperature", temperature, "K")
    vapour = positive("absolute humidity", absolute_humidity, "kg/m3") * WATER_GAS_CONSTANT * T
    ends = (LOWEST_SATURATION_TEMPERATURE, CRITICAL_TEMPERATURE)
    low, high = (float(saturation_vapour_pressure(end)) for end in ends)
    target = np.log(within("vapour pressure", vapour, low, high, "Pa"))
    flat = np.ravel(target)
    coldest, hottest = (np.full(flat.size, end) for end in ends)
    found, _ = find_root(lambda dew, which: _log_saturation_above(dew, flat[which]), coldest, hottest)
    return found.reshape(target.shape)


def _log_saturation_above(temperature: Floats, target: Floats) -> Floats:
    return np.asarray(np.log(saturation_vapour_pressure(temperature)) - target)


def largest_humidity(temperature: ArrayLike, pressure: ArrayLike) -> Floats:
    """Return the largest mass of water vapour per volume that air of a temperature and pressure can hold.

    ``largest_humidity = min(p_s(temperature), pressure) / (R_v temperature)``

    Parameters
    ----------
    temperature : array_like
        Air temperature [K]; at least 50 K.
    pressure : array_like
        Absolute pressure [Pa]; greater than zero, above 647.096 K at most 22.064 MPa.

    Returns
    -------
    ndarray
        Absolute humidity [kg/m3].

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    Above the boiling point at that pressure nothing condenses and the bound is vapour alone.

    References
    ----------
    iapws-sr1-86-1992; iapws-r14-08-2011.

    Examples
    --------
    >>> bool(largest_humidity(263.15, 101.3e3) < 8.5e-3 < largest_humidity(293.15, 101.3e3))
    True
    """
    T = within("temperature", temperature, LOWEST_SATURATION_TEMPERATURE, np.inf, "K")
    p = within("pressure", positive("pressure", pressure, "Pa"), 0.0, 22.064e6, "Pa")
    saturation = saturation_vapour_pressure(np.minimum(T, CRITICAL_TEMPERATURE))
    return np.asarray(np.minimum(saturation, p) / (WATER_GAS_CONSTANT * T))
