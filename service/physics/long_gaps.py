"""Breakdown of rod gaps and of long gaps, in the forms in which they are published.

All hold in the reference atmosphere of their source, 20 degC, 101.3 kPa and 11 g/m3; to other air by
`service.physics.corrections`. The ranges of the gap stand with the constants.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within


def straight_line(gap: ArrayLike, gradient: float, constant: float = 0.0) -> Floats:
    """Return the breakdown voltage by a straight line.

    ``voltage = constant + gradient gap``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    gradient : float
        [V/m].
    constant : float
        [V].

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-rod, direct voltage of either polarity: 2 kV + 534 kV/m, 0.25 to 2.5 m, 3 %. Rod-plane, positive lightning
    impulse: about 530 kV/m.

    References
    ----------
    iec-60052-2002; iec-60071-2; from memory.

    Examples
    --------
    Rod-rod, direct, 500 mm: 269 kV.

    >>> f"{straight_line(0.5, 534e3, 2e3) / 1e3:.0f}"
    '269'
    """
    return np.asarray(constant + gradient * positive("gap", gap, "m"))


def power_law(gap: ArrayLike, coefficient: float, exponent: float) -> Floats:
    """Return the 50 % breakdown voltage by a power law.

    ``voltage = coefficient gap^exponent``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    coefficient : float
        Voltage at 1 m [V/m^exponent].
    exponent : float
        Dimensionless.

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 500 kV, 0.6, for 2 to 5 m. Negative: 1180 kV,
    0.45, from 2 m on; negative lightning impulse: 950 kV, 0.8, to 10 m.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 967 kV.

    >>> f"{power_law(3.0, 500e3, 0.6) / 1e3:.0f}"
    '967'
    """
    return np.asarray(coefficient * positive("gap", gap, "m") ** exponent)


def saturating_quotient(gap: ArrayLike, numerator: float, length: float) -> Floats:
    """Return the 50 % breakdown voltage by a quotient that tends to a limit.

    ``voltage = numerator / (1 + length / gap)``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    numerator : float
        Limit [V].
    length : float
        Gap at which half of it is reached [m].

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 3400 kV, 8 m, for 1 to 30 m.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 927 kV.

    >>> f"{saturating_quotient(3.0, 3400e3, 8.0) / 1e3:.0f}"
    '927'
    """
    return np.asarray(numerator / (1 + length / positive("gap", gap, "m")))


def logarithmic_law(gap: ArrayLike, coefficient: float, slope: float, exponent: float = 1.0) -> Floats:
    """Return the 50 % breakdown voltage by a logarithm.

    ``voltage = coefficient ln(1 + slope gap^exponent)``

    Parameters
    ----------
    gap : array_like
        Distance of the electrodes [m]; greater than zero.
    coefficient : float
        [V].
    slope : float
        [1/m^exponent].
    exponent : float
        Of the gap; dimensionless.

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap is not positive.

    Notes
    -----
    Rod-plane, positive switching impulse, lowest over the time to crest: 1080 kV, 0.46 per metre, to 25 m. Rod-plane,
    power frequency: 750 sqrt(2) kV, 0.55 per m^1.2, 1.2.

    References
    ----------
    iec-60071-2; from memory.

    Examples
    --------
    3 m: 936 kV; at power frequency 1185 kV.

    >>> f"{logarithmic_law(3.0, 1080e3, 0.46) / 1e3:.0f}"
    '936'
    >>> f"{logarithmic_law(3.0, 750e3 * 2**0.5, 0.55, 1.2) / 1e3:.0f}"
    '1185'
    """
    return np.asarray(coefficient * np.log1p(slope * positive("gap", gap, "m") ** exponent))


def with_gap_factor(rod_plane_voltage: ArrayLike, gap_factor: ArrayLike) -> Floats:
    """Return the 50 % breakdown voltage of another electrode arrangement.

    ``voltage = gap_factor rod_plane_voltage``

    Parameters
    ----------
    rod_plane_voltage : array_like
        Voltage of a rod-plane gap of the same length [V]; greater than zero.
    gap_factor : array_like
        Gap factor of the arrangement; 1 (rod-plane) to 2 (1.8 is the highest of the table).

    Returns
    -------
    ndarray
        Peak voltage [V].

    Raises
    ------
    OutsideValidity
        When the gap factor leaves the range or the voltage is not positive.

    Notes
    -----
    A gap factor K is for slow-front voltages; it is a typical value with a range of its own. At power frequency the
    factor is 1.35 K - 0.35 K^2, at positive lightning impulse 0.74 + 0.26 K.

    References
    ----------
    iec-60071-2, table of gap factors; from memory.
    """
    factor = within("gap_factor", gap_factor, 1.0, 2.0, "")
    return np.asarray(factor * positive("rod_plane_voltage", rod_plane_voltage, "V"))
