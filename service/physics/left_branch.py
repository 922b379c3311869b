"""The steep branch left of the Paschen minimum, beyond the end of the ionization tables: rough, and said to be so.

On this branch a shorter gap needs more voltage, so the discharge takes the longest path it finds.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within
from service.physics.root import find_root


def left_branch_voltage(pd: ArrayLike, minimum_voltage: float, scale: float) -> Floats:
    """Return the breakdown voltage left of the minimum.

    ``voltage = minimum_voltage r / (1 + ln r)`` with ``r = pd / scale``

    Parameters
    ----------
    pd : array_like
        Pressure times gap at 20 degC [Pa m]; above scale/e, up to scale.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].
    scale : float
        pd at which this curve has its minimum [Pa m], of `left_branch_scale`.

    Returns
    -------
    ndarray
        Breakdown voltage, peak [V].

    Raises
    ------
    OutsideValidity
        When a pd lies outside its limits.

    Notes
    -----
    The shape of the exponential closed form, 40 %: for orientation, to 5 kV.

    References
    ----------
    naidu-kamaraju, chapter 2, Paschen's law in reduced coordinates.

    Examples
    --------
    >>> float(left_branch_voltage(0.96, 338.0, 0.96))
    338.0
    """
    r = within("pd", pd, np.exp(-1.0) * scale, scale, "Pa m") / scale
    return np.asarray(minimum_voltage * r / positive("distance from the pole", 1 + np.log(r), ""))


def left_branch_pd(voltage: ArrayLike, minimum_voltage: float, scale: float) -> Floats:
    """Return the pd left of the minimum that breaks down at a voltage.

    ``r = exp(u - 1)`` with ``exp(u - 1) / u = voltage / minimum_voltage`` and u from 0 to 1

    Parameters
    ----------
    voltage : array_like
        Voltage, peak [V]; at least the minimum.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].
    scale : float
        pd at which this curve has its minimum [Pa m].

    Returns
    -------
    ndarray
        Pressure times gap at 20 degC [Pa m].

    Raises
    ------
    OutsideValidity
        When a voltage is below the minimum.

    Notes
    -----
    The inverse of `left_branch_voltage`, solved by bracketing; in closed form u is minus the principal branch of
    Lambert's function at ``-minimum_voltage / (e voltage)``.

    References
    ----------
    corless-1996, on the Lambert W function.

    Examples
    --------
    >>> float(left_branch_pd(338.0, 338.0, 0.96).round(6))
    0.96
    """
    V = within("voltage", voltage, minimum_voltage, np.inf, "V")
    q = np.maximum(V / minimum_voltage, 1.0)

    flat = np.ravel(q)
    ratio = np.log(flat)
    u, _ = find_root(
        lambda u, which: u - 1 - np.log(u) - ratio[which], np.exp(-1) / flat * (1 - 1e-12), np.ones_like(flat)
    )
    u = u.reshape(q.shape)
    return np.asarray(scale * np.exp(u - 1))


def left_branch_scale(pd: float, voltage: float, minimum_voltage: float) -> float:
    """Return the scale with which the branch begins at the end of another method.

    ``left_branch_voltage(pd, minimum_voltage, scale) = voltage``

    Parameters
    ----------
    pd : float
        End of the other method [Pa m].
    voltage : float
        Its voltage there [V]; at least the minimum.
    minimum_voltage : float
        Minimum breakdown voltage of the gas [V].

    Returns
    -------
    float
        pd at which this curve has its minimum [Pa m].

    Raises
    ------
    OutsideValidity
        When the voltage is below the minimum.

    Notes
    -----
    The computed table of air ends at 0.427 Torr cm with 422 V; the scale is then 0.72 Torr cm.

    References
    ----------
    naidu-kamaraju, chapter 2.

    Examples
    --------
    >>> round(left_branch_scale(0.427, 422.0, 338.0), 2)
    0.72
    """
    return pd / float(left_branch_pd(voltage, minimum_voltage, 1.0))
