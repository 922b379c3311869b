"""Breakdown of rod gaps and of long gaps: published formulas at 20 degC, 101.3 kPa and 11 g/m3."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, within


def rod_rod_direct(gap: ArrayLike) -> Floats:
    """Return the breakdown voltage of a rod-rod gap at direct voltage.

    ``voltage = 2 kV + 534 kV/m gap``

    Parameters
    ----------
    gap : array_like
        Distance of the rod ends [m]; 0.25 to 2.5 m.

    Returns
    -------
    ndarray
        Voltage [V] at 20 degC, 101.3 kPa, 11 g/m3.

    Raises
    ------
    OutsideValidity
        When the gap leaves the range.

    Notes
    -----
    Square rods of 15 to 25 mm, either polarity, 3 %. Change of atmosphere: ``relative_density k`` with `ROD_ROD` of
    `service.physics.corrections`.

    References
    ----------
    iec-60052-2002, clause on the rod-rod gap; from memory.

    Examples
    --------
    500 mm: 269 kV.

    >>> f"{rod_rod_direct(0.5) / 1e3:.0f}"
    '269'
    """
    d = within("gap", gap, 0.25, 2.5, "m")
    return np.asarray(2e3 + 534e3 * d)


def rod_plane_switching_power(gap: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of a rod-plane gap, positive switching impulse, by the power law.

    ``voltage = 500 kV (gap / m)^0.6``

    Parameters
    ----------
    gap : array_like
        Distance of rod and plane [m]; 2 to 5 m.

    Returns
    -------
    ndarray
        Peak voltage [V], lowest over the time to crest.

    Raises
    ------
    OutsideValidity
        When the gap leaves the range.

    References
    ----------
    iec-60071-2-1996, annex on insulation response; from memory.

    Examples
    --------
    3 m: 967 kV.

    >>> f"{rod_plane_switching_power(3.0) / 1e3:.0f}"
    '967'
    """
    d = within("gap", gap, 2.0, 5.0, "m")
    return np.asarray(500e3 * d**0.6)


def rod_plane_switching_quotient(gap: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of a rod-plane gap, positive switching impulse, by the quotient.

    ``voltage = 3400 kV / (1 + 8 m / gap)``

    Parameters
    ----------
    gap : array_like
        Distance of rod and plane [m]; 1 to 30 m.

    Returns
    -------
    ndarray
        Peak voltage [V], lowest over the time to crest.

    Raises
    ------
    OutsideValidity
        When the gap leaves the range.

    References
    ----------
    gallet-1975, quoted by the textbooks on long gaps; from memory.

    Examples
    --------
    3 m: 927 kV.

    >>> f"{rod_plane_switching_quotient(3.0) / 1e3:.0f}"
    '927'
    """
    d = within("gap", gap, 1.0, 30.0, "m")
    return np.asarray(3400e3 / (1 + 8 / d))


def rod_plane_switching_logarithm(gap: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of a rod-plane gap, positive switching impulse, by the logarithm.

    ``voltage = 1080 kV ln(0.46 gap / m + 1)``

    Parameters
    ----------
    gap : array_like
        Distance of rod and plane [m]; 1 to 25 m (upper end from memory, lower end as for the quotient, our choice).

    Returns
    -------
    ndarray
        Peak voltage [V], lowest over the time to crest.

    Raises
    ------
    OutsideValidity
        When the gap leaves the range.

    References
    ----------
    iec-60071-2-1996, annex on insulation response; from memory.

    Examples
    --------
    3 m: 936 kV.

    >>> f"{rod_plane_switching_logarithm(3.0) / 1e3:.0f}"
    '936'
    """
    d = within("gap", gap, 1.0, 25.0, "m")
    return np.asarray(1080e3 * np.log(0.46 * d + 1))


def rod_plane_lightning(gap: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of a rod-plane gap, positive lightning impulse.

    ``voltage = 530 kV/m gap``

    Parameters
    ----------
    gap : array_like
        Distance of rod and plane [m]; 1 to 10 m (ends from memory).

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap leaves the range.

    References
    ----------
    iec-60071-2-1996, annex on insulation response; from memory.

    Examples
    --------
    2 m: 1060 kV.

    >>> f"{rod_plane_lightning(2.0) / 1e3:.0f}"
    '1060'
    """
    d = within("gap", gap, 1.0, 10.0, "m")
    return np.asarray(530e3 * d)


def with_gap_factor(rod_plane_voltage: ArrayLike, gap_factor: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of another electrode arrangement, positive switching impulse.

    ``voltage = gap_factor rod_plane_voltage``

    Parameters
    ----------
    rod_plane_voltage : array_like
        Voltage of a rod-plane gap of the same length [V].
    gap_factor : array_like
        Gap factor of the arrangement; 1 (rod-plane) to 2 (1.8 is the highest of the table).

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap factor leaves the range.

    Notes
    -----
    A gap factor is for slow-front voltages; it is a typical value with a range of its own.

    References
    ----------
    iec-60071-2-1996, table of gap factors; from memory.
    """
    return np.asarray(within("gap_factor", gap_factor, 1.0, 2.0, "") * np.asarray(rod_plane_voltage))
