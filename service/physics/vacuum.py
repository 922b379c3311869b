"""Breakdown in vacuum: proportional to short gaps, a root law over long ones; within a factor, not a percentage."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive


def vacuum_voltage(gap: ArrayLike, product: float, hand_over: float) -> Floats:
    """Return the breakdown voltage of a vacuum gap between broad electrodes.

    ``voltage = sqrt(product gap)`` from ``hand_over`` on; below it proportional to the gap, joined there

    Parameters
    ----------
    gap : array_like
        Distance [m]; greater than zero.
    product : float
        Voltage times field, the constant of the root law [V2/m].
    hand_over : float
        Gap at which the proportional law ends [m].

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V]; within a factor of 2.

    Raises
    ------
    OutsideValidity
        When a gap is not greater than zero.

    Notes
    -----
    Metal, polish and conditioning decide: 37 kV (copper) to 122 kV (steel) at 1 mm. Independent of pressure below
    10 mPa. X-rays are possible above 5 kV.

    References
    ----------
    cranberg-1952 (0.2 mm to 6 m, its end points imply 2e12 to 8e12 V2/m); latham (proportional below 0.3 to 1 mm).

    Examples
    --------
    >>> float((vacuum_voltage(1e-3, 4e12, 0.76e-3) / 1e3).round())
    63.0
    """
    d = positive("gap", gap, "m")
    return np.asarray(np.sqrt(product * np.maximum(d, hand_over)) * np.minimum(d / hand_over, 1.0))
