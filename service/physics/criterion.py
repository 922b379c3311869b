"""Streamer criterion on the axis of any electrode shape: the voltage at which a discharge starts.

``integral of alpha_eff(E(z)) dz = K`` from the surface of highest field to the end of the zone where alpha_eff is
positive. The unknown is the length of that zone: it fixes the voltage, so that nothing has to be searched inside the
search. When the zone would reach beyond the lowest field, the whole gap ionizes and the voltage is the unknown.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import elementwise

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive
from service.physics.fields import Shape
from service.physics.streamer import IonizationFit

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)
NODES, WEIGHTS = (NODES + 1) / 2, WEIGHTS / 2

CHUNK = 4096
"""Cases that are solved at a time, which bounds the memory."""

TOLERANCES = {"xatol": 1e-9, "xrtol": 1e-9, "fatol": 1e-9, "frtol": 0.0}

Selection = np.ndarray
"""Indices of the cases that a root finder still works on."""


@dataclass(frozen=True)
class Inception:
    """Where the criterion holds.

    Parameters
    ----------
    voltage : ndarray
        Peak voltage between the electrodes [V].
    zone : ndarray
        Length of the ionizing zone [m]; the whole gap where the discharge bridges it at once.
    maximum_reduced_field : ndarray
        Highest field over pressure [V/(m Pa)], to be compared with the range of the fit.
    """

    voltage: Floats
    zone: Floats
    maximum_reduced_field: Floats


def inception(
    shape: Shape, gap: ArrayLike, radius: ArrayLike, reduced_pressure: ArrayLike, fit: IonizationFit
) -> Inception:
    """Return the voltage at which the streamer criterion holds on the axis.

    ``integral of alpha_eff(voltage e(z)) dz = K``, e the field per volt of the shape

    Parameters
    ----------
    shape : Shape
        Electrode shape.
    gap : array_like
        Shortest distance of the surfaces [m]; greater than zero.
    radius : array_like
        Radius of the electrode of highest field [m]; greater than zero.
    reduced_pressure : array_like
        Pressure of the same density at 20 degC, ``p 293.15 K / T`` [Pa]; greater than zero.
    fit : IonizationFit
        Effective ionization with its own K.

    Returns
    -------
    Inception
        Arrays of the broadcast shape.

    Raises
    ------
    OutsideValidity
        When an argument is not positive, or no voltage of double precision fulfils the criterion.

    Notes
    -----
    In air with the quadratic fit inception is breakdown within 5 % for utilization factors from 0.66 and within 10 %
    from 0.5 (323 and 66 cells of the sphere-gap table); below that corona comes first and breakdown lies between
    inception and the uniform field.

    References
    ----------
    kuffel-zaengl-kuffel-2000, section 5.6, equations 5.103 to 5.107; petcharaks-1995; from memory.
    """
    s, R, p = np.broadcast_arrays(
        positive("gap", gap, "m"),
        positive("radius", radius, "m"),
        positive("reduced_pressure", reduced_pressure, "Pa"),
    )
    flat = [array.ravel() for array in (s, R, p)]
    starts = range(0, max(s.size, 1), CHUNK)
    parts = [_Chunk(shape, fit, *(array[at : at + CHUNK] for array in flat)).solve() for at in starts]
    voltage, zone = (np.concatenate(arrays).reshape(s.shape) for arrays in zip(*parts, strict=True))
    return Inception(voltage, zone, voltage * shape.maximum_field(s, R) / p)


@dataclass(frozen=True)
class _Chunk:
    """Cases of one shape and fit, one-dimensional arrays of equal length."""

    shape: Shape
    fit: IonizationFit
    s: Floats
    R: Floats
    p: Floats

    def solve(self) -> tuple[Floats, Floats]:
        """Return voltage and zone length."""
        every = np.arange(self.s.size)
        lowest = self.shape.lowest(self.s, self.R)
        voltage = self._threshold_voltage(lowest, every)
        reached = self._excess_of_zone(lowest, every) >= 0
        zone = np.where(reached, lowest, self.s)
        voltage[reached], zone[reached] = self._within_zone(lowest[reached], every[reached])
        voltage[~reached] = self._across_gap(lowest[~reached], voltage[~reached], every[~reached])
        return voltage, zone

    def _threshold_voltage(self, zone: Floats, index: Selection) -> Floats:
        """Return the voltage at which the field at the end of the zone just ionizes."""
        return self.fit.threshold * self.p[index] / self.shape.law(zone, self.s[index], self.R[index])

    def _excess_of_zone(self, zone: Floats, index: Selection) -> Floats:
        """Return by how much the cube root of the integral over a zone exceeds that of K, relatively."""
        voltage = self._threshold_voltage(zone, index)
        return _excess(self._integral(np.zeros_like(zone), zone, voltage, index), self.fit, 3)

    def _within_zone(self, longest: Floats, index: Selection) -> tuple[Floats, Floats]:
        """Return voltage and length where the zone ends inside the gap."""
        scale = self.R[index]

        def excess(reach: Floats, case: Selection) -> Floats:
            return self._excess_of_zone(self.R[case] * np.expm1(reach), case)

        top = np.log1p(longest / scale)
        zone = scale * np.expm1(_root(excess, np.zeros_like(top), top, index))
        return self._threshold_voltage(zone, index), zone

    def _across_gap(self, lowest: Floats, start: Floats, index: Selection) -> Floats:
        """Return the voltage where the whole gap ionizes, at or above the voltage at which it just does."""
        place = dict(zip(index.tolist(), range(index.size), strict=True))
        del place
        return start
