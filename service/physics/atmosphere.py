"""Density of a gas, and the pressure of the standard atmosphere."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within

REFERENCE_PRESSURE = 101.3e3
"""Pressure at which the relative density is one [Pa] (IEC 60052, IEC 60060-1)."""

REFERENCE_TEMPERATURE = 293.15
"""Temperature at which the relative density is one [K] (IEC 60052, IEC 60060-1)."""

LOWEST_GEOPOTENTIAL_ALTITUDE = -5000.0
HIGHEST_GEOPOTENTIAL_ALTITUDE = 20000.0
"""Ends of the two lower layers of ISO 2533 that are used here [m]."""


def relative_density(pressure: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the density of a gas relative to 101.3 kPa and 20 degC.

    ``relative_density = (pressure / 101.3 kPa) (293.15 K / temperature)``

    Parameters
    ----------
    pressure : array_like
        Absolute pressure [Pa]; greater than zero.
    temperature : array_like
        Temperature [K]; greater than zero.

    Returns
    -------
    ndarray
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
    p, T = positive("pressure", pressure, "Pa"), positive("temperature", temperature, "K")
    return np.asarray(p / REFERENCE_PRESSURE * (REFERENCE_TEMPERATURE / T))


def number_density(pressure: ArrayLike, temperature: ArrayLike) -> Floats:
    """Return the number of molecules per volume.

    ``number_density = pressure / (k temperature)``

    Parameters
    ----------
    pressure : array_like
        Absolute pressure [Pa]; greater than zero.
    temperature : array_like
        Temperature [K]; greater than zero.

    Returns
    -------
    ndarray
        Number density [1/m3].

    Raises
    ------
    OutsideValidity
        When a value is not finite or not greater than zero.

    Notes
    -----
    Ideal gas: sulfur hexafluoride at 10 bar is about 10 % denser than this says.

    References
    ----------
    codata-2018, Boltzmann constant (exact) and Loschmidt constant.

    Examples
    --------
    >>> f"{number_density(101325.0, 273.15):.6e}"
    '2.686780e+25'
    """
    p, T = positive("pressure", pressure, "Pa"), positive("temperature", temperature, "K")
    return np.asarray(p / (1.380649e-23 * T))


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
    T0, p0, lapse, T11 = 288.15, 101325.0, 6.5e-3, 216.65
    exponent = 9.80665 / (287.05287 * lapse)
    below = p0 * (1 - lapse * np.minimum(H, 11000.0) / T0) ** exponent
    return np.asarray(below * np.exp(-9.80665 * np.maximum(H - 11000.0, 0.0) / (287.05287 * T11)))


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
        return np.asarray(p * standard_pressure(z) / 101325.0)
    T, H, lapse = positive("temperature", temperature, "K"), _geopotential(z), 6.5e-3
    return np.asarray(p * (T / (T + lapse * H)) ** (9.80665 / (287.05287 * lapse)))


def _geopotential(altitude: Floats) -> Floats:
    r = 6356766.0
    within("altitude", altitude, -6e3, 21e3, "m")
    H = r * altitude / (r + altitude)
    return within("altitude", H, LOWEST_GEOPOTENTIAL_ALTITUDE, HIGHEST_GEOPOTENTIAL_ALTITUDE, "m (geopotential)")
