"""Gaps below 10 um in air near atmospheric pressure, where Paschen's law ends: a range, not a law."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive


class Range(NamedTuple):
    """Lowest, likely and highest breakdown voltage, peak [V]."""

    low: Floats
    value: Floats
    high: Floats


def microgap_range(gap: ArrayLike, low_field: float, high_field: float, low_cap: float, high_cap: float) -> Range:
    """Return the range of breakdown voltages of a micrometre gap.

    ``low = min(low_field gap, low_cap)``, ``high = min(high_field gap, high_cap)``, ``value = sqrt(low high)``

    Parameters
    ----------
    gap : array_like
        Distance [m]; greater than zero, up to 10 um.
    low_field : float
        Field at which rough electrodes break down [V/m].
    high_field : float
        Field that smooth electrodes reach [V/m].
    low_cap : float
        Highest value of the lower bound, 0.9 of the Paschen minimum [V].
    high_cap : float
        Plateau of the measured curves [V].

    Returns
    -------
    Range
        The value is the geometric mean of the bounds.

    Raises
    ------
    OutsideValidity
        When a gap is not greater than zero.

    Notes
    -----
    Field emission lets such gaps break down below the Paschen minimum; measured fields run from 65 V/um (rough) to
    350 V/um (smooth). Air and nitrogen, 80 to 110 kPa.

    References
    ----------
    peschot-2014 (350 V/um); torres-dhariwal-1999 and slade-taylor-2002 (65 to 110 V/um); hourdakis-2006 (end at 10 um).

    Examples
    --------
    >>> [round(float(bound)) for bound in microgap_range(1e-6, 65e6, 350e6, 304.0, 360.0)]
    [65, 151, 350]
    """
    d = positive("gap", gap, "m")
    low, high = np.minimum(low_field * d, low_cap), np.minimum(high_field * d, high_cap)
    return Range(low, np.sqrt(low * high), high)
