"""Air and other gases as they surround a gap: density, the standard atmosphere, and humidity of air.

Temperatures are thermodynamic [K], pressures absolute [Pa], humidities mass of water vapour per volume [kg/m3].
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.errors import OutsideValidity
from service.physics.domain import Floats, lies_within, positive, positive_numbers, within
from service.physics.numbers import Numbers
from service.physics.root import find_root

REFERENCE_PRESSURE = 101.3e3
"""Pressure at which the relative density is one [Pa] (IEC 60052, IEC 60060-1)."""

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which the relative density is one [K] (IEC 60052, IEC 60060-1)."""

SEA_LEVEL_PRESSURE = 101325.0
"""Pressure of the standard atmosphere at sea level [Pa] (ISO 2533)."""
LAPSE = 6.5e-3
"""By what its temperature falls per altitude, below 11 km [K/m] (ISO 2533)."""
GRAVITY, AIR_GAS_CONSTANT = 9.80665, 287.05287
"""Standard gravity [m/s2] and specific gas constant of dry air [J/(kg K)] (ISO 2533)."""

LOWEST_GEOPOTENTIAL_ALTITUDE = -5000.0
HIGHEST_GEOPOTENTIAL_ALTITUDE = 20000.0
"""Ends of the two lower layers of ISO 2533 that are used here [m]."""


def relative_density(pressure: Numbers, temperature: Numbers) -> Numbers:
    """Return the density of a gas relative to 101.3 kPa and 20 degC.

    ``relative_density = (pressure / 101.3 kPa) (293.15 K / temperature)``

    Parameters
    ----------
    pressure : float or array_like
        Absolute pressure [Pa]; greater than zero.
    temperature : float or array_like
        Temperature [K]; greater than zero.

    Returns
    -------
    float or ndarray
        Relative density, often written delta; dimensionless.

    Raises
    ------
    OutsideValidity
        When a value is not finite or not greater than zero.

    Notes
    -----
    Ideal gas. The printed form has 293/(273 + t); the difference is below 0.01 % between -40 and 60 degC.

    References
    ----------
    iec-60052-2002, clause on the influence of air density; from memory.

    Examples
    --------
    >>> float(relative_density(101.3e3, 293.15))
    1.0
    """
    p, T = positive_numbers("pressure", pressure, "Pa"), positive_numbers("temperature", temperature, "K")
    return p / REFERENCE_PRESSURE * (REFERENCE_TEMPERATURE / T)


def standard_pressure(altitude: ArrayLike) -> Floats:
    """Return the pressure of the standard atmosphere at an altitude above mean sea level.

    ``H = r z / (r + z)``; below 11 km ``p = p0 (1 - 6.5 K/km H / T0)^(g / (R 6.5 K/km))``, above it
    ``p = p(11 km) exp(-g (H - 11 km) / (R 216.65 K))``

    Parameters
    ----------
    altitude : array_like
        Geometric altitude z, as on a map [m]; geopotential altitude H from -5000 to 20000 m.

    Returns
    -------
    ndarray
        Pressure [Pa].

    Raises
    ------
    OutsideValidity
        When the geopotential altitude leaves the range.

    Notes
    -----
    The standard is written in geopotential altitude; a map gives the geometric one, and the change is made here (at
    5000 m they differ by 4 m, the pressure by 0.05 %). A mean atmosphere: the real pressure varies by about 3 %.

    References
    ----------
    iso-2533-1975, clause 2 and table 5; computed rows compared with an independent implementation.

    Examples
    --------
    >>> float(standard_pressure(0.0))
    101325.0
    """
    z = np.asarray(altitude, dtype=np.float64)
    H = _geopotential(z)
    T0, T11 = 288.15, 216.65
    exponent = GRAVITY / (AIR_GAS_CONSTANT * LAPSE)
    below = SEA_LEVEL_PRESSURE * (1 - LAPSE * np.minimum(H, 11000.0) / T0) ** exponent
    return np.asarray(below * np.exp(-GRAVITY * np.maximum(H - 11000.0, 0.0) / (AIR_GAS_CONSTANT * T11)))


def station_pressure(
    sea_level_pressure: ArrayLike, altitude: ArrayLike, temperature: ArrayLike | None = None
) -> Floats:
    """Return the pressure at a place from what weather reports reduce to sea level.

    ``p = p_sea p_standard(H) / p0``, or with the air's temperature T at the place and 6.5 K/km down to sea level
    ``p = p_sea (T / (T + 6.5 K/km H)) ** (g / (R 6.5 K/km))``

    Parameters
    ----------
    sea_level_pressure : array_like
        Pressure reduced to sea level [Pa].
    altitude : array_like
        Geometric altitude, as on a map [m].
    temperature : array_like, optional
        Of the air at the place [K]; without it the profile of the standard atmosphere.

    Returns
    -------
    ndarray
        Pressure [Pa].

    Raises
    ------
    OutsideValidity
        When the geopotential altitude leaves -5000 to 20000 m.

    References
    ----------
    iso-2533-1975, clause 2; the second form is its own with another temperature.

    Examples
    --------
    >>> round(float(station_pressure(101325.0, 1609.0)), -2)
    83400.0
    >>> round(float(station_pressure(101325.0, 1609.0, 293.15)), -2)
    84300.0
    """
    p, z = positive("sea_level_pressure", sea_level_pressure, "Pa"), np.asarray(altitude, dtype=np.float64)
    if temperature is None:
        return np.asarray(p * standard_pressure(z) / SEA_LEVEL_PRESSURE)
    T, H = positive("temperature", temperature, "K"), _geopotential(z)
    return np.asarray(p * (T / (T + LAPSE * H)) ** (GRAVITY / (AIR_GAS_CONSTANT * LAPSE)))


def has_standard_pressure(altitude: Floats) -> NDArray[np.bool_]:
    """Return where `standard_pressure` takes altitudes.

    Parameters
    ----------
    altitude : ndarray
        As in `standard_pressure` [m].

    Returns
    -------
    ndarray of bool
    """
    near = lies_within(altitude, *BEFORE)
    with np.errstate(all="ignore"):
        H = EARTH * altitude / (EARTH + altitude)
    return near & lies_within(H, LOWEST_GEOPOTENTIAL_ALTITUDE, HIGHEST_GEOPOTENTIAL_ALTITUDE)


EARTH = 6356766.0
"""Nominal radius of the earth [m] (ISO 2533)."""
BEFORE = (-6e3, 21e3)
"""Geometric altitudes that are turned into geopotential ones at all [m]."""


def _geopotential(altitude: Floats) -> Floats:
    within("altitude", altitude, *BEFORE, "m")
    H = EARTH * altitude / (EARTH + altitude)
    return within("altitude", H, LOWEST_GEOPOTENTIAL_ALTITUDE, HIGHEST_GEOPOTENTIAL_ALTITUDE, "m (geopotential)")


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
        raise OutsideValidity.about("dew_point", detail)
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
