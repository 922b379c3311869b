"""Charge, energy and discharge of a capacitor."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive


def charge(capacitance: ArrayLike, voltage: ArrayLike) -> Floats:
    """Return the charge of a capacitor.

    ``charge = capacitance voltage``

    Parameters
    ----------
    capacitance : array_like
        Capacitance C [F]; greater than zero.
    voltage : array_like
        Voltage U [V]; greater than zero.

    Returns
    -------
    ndarray
        Charge Q [C].

    Raises
    ------
    OutsideValidity
        When an argument is not positive.

    References
    ----------
    iec-60335-1, 8.1.4: 45 uC, the charge of 4.5 nF at 10 kV.

    Examples
    --------
    >>> f"{charge(4.5e-9, 10e3) * 1e6:.1f} uC"
    '45.0 uC'
    """
    return np.asarray(positive("capacitance", capacitance, "F") * positive("voltage", voltage, "V"))


def stored_energy(capacitance: ArrayLike, voltage: ArrayLike) -> Floats:
    """Return the energy stored in a capacitor.

    ``energy = capacitance voltage^2 / 2``

    Parameters
    ----------
    capacitance : array_like
        Capacitance C [F]; greater than zero.
    voltage : array_like
        Voltage U [V]; greater than zero.

    Returns
    -------
    ndarray
        Energy W [J].

    Raises
    ------
    OutsideValidity
        When an argument is not positive.

    References
    ----------
    Definition of capacitance; any textbook.

    Examples
    --------
    >>> f"{stored_energy(10e-9, 12e3):.2f} J"
    '0.72 J'
    """
    return np.asarray(charge(capacitance, voltage) * np.asarray(voltage, dtype=np.float64) / 2)


def discharge_time(resistance: ArrayLike, capacitance: ArrayLike, voltage: ArrayLike, left: ArrayLike) -> Floats:
    """Return how long a resistor takes to discharge a capacitor to a voltage.

    ``time = resistance capacitance ln(voltage / left)``, zero where the voltage is not higher

    Parameters
    ----------
    resistance : array_like
        Resistance R across the capacitor [ohm]; greater than zero.
    capacitance : array_like
        Capacitance C [F]; greater than zero.
    voltage : array_like
        Voltage U at the beginning [V]; greater than zero.
    left : array_like
        Voltage at the end [V]; greater than zero.

    Returns
    -------
    ndarray
        Time t [s]. It holds only while the resistor is whole and connected.

    Raises
    ------
    OutsideValidity
        When an argument is not positive.

    References
    ----------
    Exponential discharge; any textbook.

    Examples
    --------
    12 kV on 10 nF through 100 Mohm to 60 V: one second times ln 200.

    >>> f"{discharge_time(100e6, 10e-9, 12e3, 60.0):.2f} s"
    '5.30 s'
    """
    constant = positive("resistance", resistance, "ohm") * positive("capacitance", capacitance, "F")
    ratio = positive("voltage", voltage, "V") / positive("left", left, "V")
    return np.asarray(constant * np.log(np.maximum(ratio, 1.0)))
