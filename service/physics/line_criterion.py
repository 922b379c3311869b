"""Streamer criterion on any line: the voltage at which the largest integral over a part of it reaches K.

The field along the line is given in small steps. An avalanche may begin and end anywhere on it: at the surface of
highest field, across the gap with attachment between two zones, or at the far end. The largest integral over a part is
the largest of the running sum less the least of it before, so that nothing has to be known of which end is sharper.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats
from service.physics.root import Indices, find_root
from service.physics.streamer import IonizationFit


def largest_part(steps: Floats) -> Floats:
    """Return the largest sum of consecutive steps of each row; zero where none is positive.

    Parameters
    ----------
    steps : ndarray
        ``(lines, steps)``.

    Returns
    -------
    ndarray
        One a line.

    Examples
    --------
    >>> largest_part(np.array([[1.0, -3.0, 2.0, -1.0, 4.0]])).tolist()
    [5.0]
    """
    running = np.cumsum(steps, axis=1)
    before = np.minimum.accumulate(np.concatenate([np.zeros((steps.shape[0], 1)), running[:, :-1]], axis=1), axis=1)
    return np.asarray(np.maximum((running - before).max(axis=1), 0.0))


def line_inception(strength: Floats, length: Floats, reduced_pressure: ArrayLike, fit: IonizationFit) -> Floats:
    """Return the voltage at which the criterion holds on each line.

    Parameters
    ----------
    strength : ndarray
        Field per volt in small steps, ``(lines, steps)`` [1/m]; greater than zero.
    length : ndarray
        Length of the steps [m].
    reduced_pressure : array_like
        Pressure of the same density at 20 degC, one or one a line [Pa].
    fit : IonizationFit

    Returns
    -------
    ndarray
        Peak voltage [V], one a line.

    References
    ----------
    See `service.physics.criterion`.
    """
    p = np.broadcast_to(np.asarray(reduced_pressure, dtype=np.float64), strength.shape[:1])
    weighed, reduced = p[:, None] * length / fit.critical_number, strength / p[:, None]

    def excess(volts: Floats, which: Indices) -> Floats:
        coefficient = fit.coefficient(volts[:, None] * reduced[which])
        return np.asarray(np.cbrt(largest_part(weighed[which] * coefficient)) - 1)

    low = np.asarray(fit.threshold / np.where(length > 0, reduced, 0.0).max(axis=1))
    high, every = 2 * low, np.arange(low.size)
    for _ in range(200):
        short = excess(high, every) < 0
        if not short.any():
            break
        low, high = np.where(short, high, low), np.where(short, 2 * high, high)
    return find_root(excess, low, high)[0]
