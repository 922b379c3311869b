"""Streamer criterion on the axis of any electrode shape: the voltage at which a discharge starts.

``integral of alpha_eff(E(z)) dz = K`` from the surface of highest field to where alpha_eff is zero. The unknown is the
length of that zone: it fixes the voltage, so that nothing has to be searched inside the search. An avalanche that
starts at the other electrode may bring more: where the integral along the whole axis, attachment between the zones
counted as loss, reaches K at a lower voltage, that voltage holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import elementwise

from service.errors import OutsideValidity
from service.physics.domain import Floats, positive
from service.physics.fields import Shape
from service.physics.streamer import IonizationFit

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
NODES, WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2
"""Gauss-Legendre rule on 0 to 1."""

CHUNK = 2048
"""Cases that are solved at a time, which bounds the memory."""

Index = NDArray[np.intp]


@dataclass(frozen=True)
class Inception:
    """Where the criterion holds.

    Parameters
    ----------
    voltage : ndarray
        Peak voltage between the electrodes [V].
    zone : ndarray
        Length of the ionizing zone [m]; the whole gap where the avalanche crosses it.
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
    voltage, zone = np.empty(s.size), np.empty(s.size)
    every = _Cases(shape, fit, s.ravel(), R.ravel(), p.ravel())
    for start in range(0, s.size, CHUNK):
        part = slice(start, start + CHUNK)
        voltage[part], zone[part] = every.select(part).solve()
    highest = every.field_at(np.zeros((s.size, 1)))[:, 0] / every.p
    return Inception(voltage.reshape(s.shape), zone.reshape(s.shape), (voltage * highest).reshape(s.shape))


@dataclass(frozen=True)
class _Cases:
    """Cases of one shape and fit: gap s, radius R, reduced pressure p, one-dimensional and of equal length."""

    shape: Shape
    fit: IonizationFit
    s: Floats
    R: Floats
    p: Floats

    def select(self, which: slice | Index | NDArray[np.bool_]) -> _Cases:
        """Return some of the cases."""
        return _Cases(self.shape, self.fit, self.s[which], self.R[which], self.p[which])

    @cached_property
    def lowest(self) -> Floats:
        """Distance of the lowest field [m]."""
        return self.shape.lowest(self.s, self.R)

    def solve(self) -> tuple[Floats, Floats]:
        """Return voltage and length of the zone."""
        ends_inside = self.excess_of_zone(self.lowest) >= 0
        zone, voltage = self.s.copy(), np.full(self.s.size, np.inf)
        inside = self.select(ends_inside)
        zone[ends_inside] = inside.zone_that_suffices()
        voltage[ends_inside] = inside.threshold_voltage(zone[ends_inside])
        crossing = ~ends_inside | (self.lowest < self.s)
        across = self.select(crossing).voltage_across_the_gap(voltage[crossing])
        zone[crossing] = np.where(across < voltage[crossing], self.s[crossing], zone[crossing])
        voltage[crossing] = across
        return voltage, zone

    def threshold_voltage(self, zone: Floats) -> Floats:
        """Return the voltage at which the field at the end of a zone just ionizes."""
        return np.asarray(self.fit.threshold * self.p / self.shape.law(zone, self.s, self.R))

    def excess_of_zone(self, zone: Floats) -> Floats:
        """Return by how much the integral over a zone exceeds K, as a cube root, in which it is nearly linear."""
        z, weights = _nodes(zone, self.R)
        return self.excess(self.threshold_voltage(zone), self.field_at(z), weights, 1 / 3)

    def zone_that_suffices(self) -> Floats:
        """Return the length of the zone where it ends inside the gap."""
        top = np.log1p(self.lowest / self.R)

        def excess(reach: Floats, index: Index) -> Floats:
            cases = self.select(index)
            return cases.excess_of_zone(cases.R * np.expm1(reach))

        return np.asarray(self.R * np.expm1(_root(excess, np.zeros_like(top), top)))

    def voltage_across_the_gap(self, ceiling: Floats) -> Floats:
        """Return the voltage at which the integral along the whole axis reaches K, or the ceiling if that is lower.

        The two sides of the lowest field are integrated apart, each from its electrode.
        """
        near, near_weights = _nodes(self.lowest, self.R)
        far, far_weights = _nodes(self.s - self.lowest, self.R)
        z = np.concatenate([near, self.s[:, None] - far], axis=1)
        field, weights = self.field_at(z), np.concatenate([near_weights, far_weights], axis=1)

        def excess(voltage: Floats, index: Index) -> Floats:
            return self.select(index).excess(voltage, field[index], weights[index], 1 / 2)

        nothing_ionizes = self.threshold_voltage(np.zeros_like(self.s))
        # at this voltage the lowest field alone, over the whole gap, would suffice
        uniform = self.fit.uniform_field_voltage(self.s, self.p) / (self.s * self.p * self.fit.threshold)
        enough = self.threshold_voltage(self.lowest) * uniform * (1 + 1e-6)
        return _root(excess, nothing_ionizes, np.minimum(ceiling, enough))

    def field_at(self, distance: Floats) -> Floats:
        """Return the field per volt at several distances a case."""
        return self.shape.law(distance, self.s[:, None], self.R[:, None])

    def excess(self, voltage: Floats, field: Floats, weights: Floats, power: float) -> Floats:
        """Return ``(integral / K)^power - 1`` from the field per volt at nodes with weights."""
        p = self.p[:, None]
        coefficient = p * self.fit.coefficient(voltage[:, None] * field / p)
        integral = np.sum(weights * coefficient, axis=1) / self.fit.critical_number
        return np.asarray(np.sign(integral) * np.abs(integral) ** power - 1)


def _nodes(length: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Return distances from a surface up to a length, and weights: even steps of ``ln(1 + distance / radius)``.

    In that variable the fields of all shapes are smooth, however small the radius is.
    """
    top = np.log1p(length / radius)[:, None]
    reach, R = top * NODES, radius[:, None]
    return R * np.expm1(reach), top * WEIGHTS * R * np.exp(reach)


def _root(function: Callable[[Floats, Index], Floats], low: Floats, high: Floats) -> Floats:
    """Return the root of each element's function, or the upper end where it is still negative there."""
    index = np.arange(low.size)
    found = high.copy()
    above = function(high, index) > 0 if low.size else index > 0
    if np.any(above):
        bracket = (low[above], high[above])
        result = elementwise.find_root(
            function, bracket, args=(index[above],), tolerances={"xatol": 1e-300, "xrtol": 1e-12}
        )
        if not np.all(result.success):
            raise OutsideValidity("The streamer criterion is fulfilled at no voltage for these dimensions.")
        found[above] = result.x
    return found
