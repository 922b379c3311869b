"""The streamer criterion on the axis of any electrode shape: the voltage at which a discharge starts.

``integral of alpha_eff(E(z)) dz = K`` from the surface of highest field to where alpha_eff is zero, alpha_eff being a
fit with its critical number K. The unknown is the length of that zone: it fixes the voltage, so that nothing has to be
searched inside the search. An avalanche that starts at the other electrode may bring more: where the integral along
the whole axis, attachment between the zones counted as loss, reaches K at a lower voltage, that voltage holds.

Where the integrals of the field are elementary they are solved in closed form, one case in plain numbers or many in
arrays; elsewhere they are integrated numerically, and that quadrature is what the tests compare the closed forms with.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics.axes import Axis
from service.physics.domain import Floats, positive
from service.physics.fields import Shape
from service.physics.ionization import IonizationFit
from service.physics.numbers import PLAIN, Numbers, functions_for
from service.physics.root import find_root
from service.units import ROUNDING

STEPS = 60
"""Most steps of Newton's method; four to six are usual."""
CLOSE = 1e-8
"""Relative step at which it has converged: the next would be about its square."""
FIRST = 1.3
"""First guess, over the voltage at which anything ionizes at all."""

Integral = tuple[Numbers, Numbers]
"""Integral of the coefficient, and its slope over the voltage."""


def inception_voltage(axis: Axis, pressure: Numbers, fit: IonizationFit) -> tuple[Numbers, Numbers]:
    """Return the voltage at which the criterion holds, and how far the zone reaches.

    Parameters
    ----------
    axis : Axis
        Of plain numbers or of arrays.
    pressure : float or ndarray
        Reduced to 20 degC [Pa].
    fit : IonizationFit
        Of plain numbers, or for arrays also of arrays.

    Returns
    -------
    tuple of float or of ndarray
        Peak voltage [V], and length of the zone [m]: the whole gap where the avalanche crosses it.

    Notes
    -----
    The zone is tried first; where it would reach the lowest field, or where another electrode faces it, the whole
    axis is tried too and the lower voltage holds.
    """
    with np.errstate(all="ignore"):
        of = functions_for(pressure)
        threshold = float(fit.threshold) if of is PLAIN else fit.threshold
        case = _Case(axis, pressure, fit, threshold * pressure, axis.field(axis.length))
        zone = case.solve(case.of_zone, 1 / 3)
        length, crosses = case.reach(case.threshold / zone), zone * case.lowest >= case.threshold
        if axis.sides == 1 and not of.any(crosses):
            return zone, length
        whole = case.solve(case.of_whole, 1 / 2)
    crosses = crosses | (whole < zone) & (axis.sides > 1)
    return of.where(crosses, whole, zone), of.where(crosses, axis.length * axis.sides, length)


@dataclass(frozen=True)
class _Case:
    """A gap, or many: axis, reduced pressure [Pa], fit, field at which ionization ends [V/m], lowest field per volt."""

    axis: Axis
    p: Numbers
    fit: IonizationFit
    threshold: Numbers
    lowest: Numbers

    @cached_property
    def branched(self) -> bool:
        """Whether the fit has a linear branch at all."""
        return bool(np.any(np.asarray(self.fit.branch) < np.inf))

    def solve(self, integral: Callable[[Numbers], Integral], power: float) -> Numbers:
        """Return the voltage at which an integral reaches K: Newton's method on its root, kept inside a bracket."""
        of, wanted = functions_for(self.p), self.fit.critical_number
        low = self.threshold / self.axis.field(0.0)
        volts, high, done = low * FIRST, low + math.inf, low < 0
        for _ in range(STEPS):
            value, slope = integral(volts)
            below = value < wanted
            low, high = of.where(below, volts, low), of.where(below, high, volts)
            # (I / K)^q = 1, in which I is nearly straight; where nothing ionizes yet the bracket is halved or doubled
            some = of.maximum(value, 1e-300)
            step = ((wanted / some) ** power - 1) * some / (power * of.maximum(slope, 1e-300))
            close = (abs(step) <= CLOSE * volts) & (value > 0)
            proposed = volts + step
            kept = close | ((proposed >= low) & (proposed <= high) & (value > 0))
            middle = of.where(high == math.inf, 2 * low, (low + high) / 2)
            volts, done = of.where(done, volts, of.where(kept, proposed, middle)), done | close
            if of.all(done):
                break
        return volts

    def of_zone(self, volts: Numbers) -> Integral:
        """Return the integral from the electrode to where ionization ends, or to the lowest field."""
        return self.between(volts, 0.0 * volts, self.reach(self.threshold / volts), 1.0)

    def of_whole(self, volts: Numbers) -> Integral:
        """Return the integral along the whole axis, the zone of attachment counted as loss."""
        middle = self.reach(self.fit.centre * self.p / volts)
        first = self.between(volts, 0.0 * volts, middle, 1.0)
        rest = self.between(volts, middle, self.axis.length, -1.0)
        return self.axis.sides * (first[0] + rest[0]), self.axis.sides * (first[1] + rest[1])

    def reach(self, field: Numbers) -> Numbers:
        """Return the distance at which the field per volt has fallen to a value, at most that of the lowest [m]."""
        of = functions_for(field)
        within = self.axis.place(of.maximum(field, self.lowest))
        return of.where(field <= self.lowest, self.axis.length, of.maximum(within, 0.0))

    def between(self, volts: Numbers, start: Numbers, end: Numbers, sign: float) -> Integral:
        """Return the integral between two places on one side of the centre of the quadratic."""
        axis, fit, of, reduced = self.axis, self.fit, functions_for(volts), volts / self.p
        join, passed = start, axis.potential(start)
        value = slope = 0.0
        if sign > 0 and self.branched:
            join = of.minimum(of.maximum(self.reach(fit.branch / reduced), start), end)
            begin, passed = passed, axis.potential(join)
            value = self.p * (fit.slope * reduced * (passed - begin) - fit.intercept * (join - start))
            slope = fit.slope * (passed - begin)
        one, two = axis.potential(end) - passed, axis.square(end) - axis.square(join)
        length = end - join
        square = reduced * reduced * two - 2 * fit.centre * reduced * one + fit.centre**2 * length
        value = value + self.p * (sign * fit.curvature * square - fit.offset * length)
        return value, slope + sign * fit.curvature * 2 * (reduced * two - fit.centre * one)


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
NODES, WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2
"""Gauss-Legendre rule on 0 to 1."""

CHUNK = 4096
"""Cases that are solved at a time, which bounds the memory."""
CHUNK_OF_NODES = 128
"""The same where every case has many nodes: products of larger matrices would start threads."""

ENOUGH = 1e-12
"""Excess of the cube root of a zone's integral at which its length is known."""
NEWTON_STEPS = 80
NEWTON_CLOSE = 1e-8
"""Relative step at which Newton's method has converged: the next is about its square."""

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

    voltage: Numbers
    zone: Numbers
    maximum_reduced_field: Numbers

    @property
    def plain(self) -> Inception:
        """The same of one case in plain numbers."""
        return Inception(self.voltage.item(), self.zone.item(), self.maximum_reduced_field.item())


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
    voltage, zone, highest = np.empty(s.size), np.empty(s.size), np.empty(s.size)
    flat = s.ravel(), R.ravel(), p.ravel()
    size = CHUNK if shape.axis is not None else CHUNK_OF_NODES
    for start in range(0, s.size, size):
        part = slice(start, start + size)
        gaps, radii, pressures = (array[part] for array in flat)
        if shape.axis is not None:
            axis = shape.axis(gaps, radii)
            voltage[part], zone[part] = inception_voltage(axis, pressures, fit.select(part))
            highest[part] = axis.field(np.zeros_like(gaps)) / pressures
        else:
            cases = _Cases(shape, fit.select(part), gaps, radii, pressures)
            voltage[part], zone[part] = cases.solve()
            highest[part] = cases.ends[0] / cases.p
    return Inception(voltage.reshape(s.shape), zone.reshape(s.shape), (voltage * highest).reshape(s.shape))


def inceptions(
    shape: Shape, gap: Floats, radius: Floats, reduced_pressure: Floats, fits: Sequence[IonizationFit]
) -> list[Inception]:
    """Return `inception` for several fits, solved together: for few cases the time is that of one fit.

    Parameters
    ----------
    shape, gap, radius, reduced_pressure
        As in `inception`; one-dimensional and of equal length.
    fits : sequence of IonizationFit

    Returns
    -------
    list of Inception
        One per fit.
    """
    if shape.axis is not None:
        return [_of_few(shape.axis, gap, radius, reduced_pressure, fit) for fit in fits]
    cases = _Cases(shape, fits[0], gap, radius, reduced_pressure)
    voltage, zone = (found.reshape(len(fits), gap.size) for found in cases.by_all(tuple(fits)).solve())
    return [Inception(*one) for one in zip(voltage, zone, voltage * cases.ends[0] / reduced_pressure, strict=True)]


def _of_few(
    make: Callable[[Numbers, Numbers], Axis], gap: Floats, radius: Floats, pressure: Floats, fit: IonizationFit
) -> Inception:
    """Return `inception` of few cases, each in plain numbers."""
    cases = zip(gap.tolist(), radius.tolist(), pressure.tolist(), strict=True)
    rows = [inception_on(make(s, R), p, fit) for s, R, p in cases]
    return Inception(*np.array([(one.voltage, one.zone, one.maximum_reduced_field) for one in rows]).T)


def inception_on(axis: Axis, pressure: float, fit: IonizationFit) -> Inception:
    """Return `inception` of one case in plain numbers, from its axis.

    Parameters
    ----------
    axis : Axis
        Of plain numbers.
    pressure : float
        Reduced to 20 degC [Pa].
    fit : IonizationFit

    Returns
    -------
    Inception
        Of plain numbers.

    References
    ----------
    See `inception`.
    """
    volts, zone = inception_voltage(axis, pressure, fit)
    return Inception(volts, zone, volts * axis.field(0.0) / pressure)


@dataclass(frozen=True)
class _Cases:
    """Cases of one shape and fit: gap s, radius R, reduced pressure p, one-dimensional and of equal length."""

    shape: Shape
    fit: IonizationFit
    s: Floats
    R: Floats
    p: Floats

    def select(self, which: Index | NDArray[np.bool_]) -> _Cases:
        """Return some of the cases."""
        return _Cases(self.shape, self.fit.select(which), self.s[which], self.R[which], self.p[which])

    def by_all(self, fits: tuple[IonizationFit, ...]) -> _Cases:
        """Return the cases by every fit in a row; the field, which does not depend on the fit, is found once."""
        s, R, p, lowest, field, weights = (
            np.concatenate([array] * len(fits)) for array in (self.s, self.R, self.p, self.lowest, *self.axis)
        )
        found = _Cases(self.shape, IonizationFit.stacked(fits, self.s.size), s, R, p)
        found.__dict__.update(lowest=lowest, axis=(field, weights))
        return found

    @cached_property
    def lowest(self) -> Floats:
        """Distance of the lowest field [m]."""
        return self.shape.lowest(self.s, self.R)

    @cached_property
    def axis(self) -> tuple[Floats, Floats]:
        """Field per volt at the nodes of both sides of the lowest field, and the weights of the nodes."""
        if self.shape.similar and self.s.size and _in_table(self.s, self.R):
            return self._axis_by_similarity()
        near, near_weights = _nodes(self.lowest, self.R)
        beyond = self.s - self.lowest
        parts, weights = [np.zeros((self.s.size, 1)), self.lowest[:, None], near], near_weights
        if beyond.any():
            far, far_weights = _nodes(beyond, self.R)
            parts.append(self.s[:, None] - far)
            weights = np.concatenate([near_weights, far_weights], axis=1)
        return self.field_at(np.concatenate(parts, axis=1)), weights

    def _axis_by_similarity(self) -> tuple[Floats, Floats]:
        weights = [_nodes(self.lowest, self.R)[1], _nodes(self.s - self.lowest, self.R)[1]]
        return _similar_field(self.shape, self.s, self.R), np.concatenate(weights, axis=1)

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Highest and lowest field per volt."""
        return self.axis[0][:, 0], self.axis[0][:, 1]

    def solve(self) -> tuple[Floats, Floats]:
        """Return voltage and length of the zone."""
        (field, weights), count = self.axis, NODES.size
        at_lowest = self.fit.threshold * self.p / self.ends[1]
        beyond = self.excess(at_lowest, field[:, 2 : 2 + count], weights[:, :count], 1 / 3)
        ends_inside = beyond >= 0
        zone, voltage = self.s.copy(), np.full(self.s.size, np.inf)
        if ends_inside.any():
            inside = self if ends_inside.all() else self.select(ends_inside)
            zone[ends_inside] = inside.zone_that_suffices(beyond[ends_inside])
            voltage[ends_inside] = inside.threshold_voltage(zone[ends_inside])
        crossing = ~ends_inside | (self.lowest < self.s)
        if crossing.any():
            across = self.voltage_across_the_gap(crossing, at_lowest, voltage[crossing])
            sooner = across < voltage[crossing] * (1 - ROUNDING)
            zone[crossing] = np.where(sooner, self.s[crossing], zone[crossing])
            voltage[crossing] = np.where(sooner, across, voltage[crossing])
        return voltage, zone

    def threshold_voltage(self, zone: Floats) -> Floats:
        """Return the voltage at which the field at the end of a zone just ionizes."""
        return np.asarray(self.fit.threshold * self.p / self.shape.law(zone, self.s, self.R))

    def excess_of_zone(self, zone: Floats) -> Floats:
        """Return by how much the integral over a zone exceeds K, as a cube root, in which it is nearly linear."""
        z, weights = _nodes(zone, self.R)
        if self.shape.similar and self.s.size <= FEW and _in_table(self.s, self.R):
            field = self._within(np.log1p(zone / self.R) / np.log1p(self.lowest / self.R))
        else:
            field = self.field_at(np.concatenate([zone[:, None], z], axis=1))
        return self.excess(self.fit.threshold * self.p / field[:, 0], field[:, 1:], weights, 1 / 3)

    def _within(self, share: Floats) -> Floats:
        """Return the field at the end of a zone and at its nodes, by the polynomial through the nodes near it."""
        wanted = share[:, None] * np.concatenate([[1.0], NODES])
        apart = wanted[:, :, None] - KNOWN
        exact = apart == 0
        weighed = BARYCENTRIC / np.where(exact, 1.0, apart)
        weighed = np.where(exact.any(axis=2, keepdims=True), exact * 1.0, weighed)
        known = self.axis[0][:, : 2 + NODES.size][:, ORDER]
        return np.asarray(np.einsum("nij,nj->ni", weighed, known) / weighed.sum(axis=2))

    def zone_that_suffices(self, at_lowest: Floats) -> Floats:
        """Return the length of the zone where it ends inside the gap, from the excess of a zone to the lowest field."""
        top = np.log1p(self.lowest / self.R)
        nothing = np.zeros_like(top)
        ends = nothing - 1, at_lowest
        reach, _ = find_root(self._excess_of_reach, nothing, top, at=ends, enough=ENOUGH)
        return np.asarray(self.R * np.expm1(reach))

    def _excess_of_reach(self, reach: Floats, which: Index) -> Floats:
        cases = self if which.size == self.s.size else self.select(which)
        return cases.excess_of_zone(cases.R * np.expm1(reach))

    def voltage_across_the_gap(self, which: NDArray[np.bool_], at_lowest: Floats, ceiling: Floats) -> Floats:
        """Return the voltage at which the integral along the whole axis reaches K, or the ceiling if that is lower.

        The two sides of the lowest field are integrated apart, each from its electrode.
        """
        cases = self if which.all() else self.select(which)
        field, weights = self.axis[0][which, 2:], self.axis[1][which]
        nothing_ionizes = cases.fit.threshold * cases.p / self.ends[0][which]
        # at this voltage the lowest field alone, over the whole gap, would suffice
        uniform = cases.fit.uniform_field_voltage(cases.s, cases.p) / (cases.s * cases.p * cases.fit.threshold)
        top = np.minimum(ceiling, at_lowest[which] * uniform * (1 + 1e-6))
        return cases.across(field, weights, nothing_ionizes, top)

    def across(self, field: Floats, weights: Floats, low: Floats, high: Floats) -> Floats:
        """Return the voltage at which the integral over the nodes reaches K, or the upper end where it never does.

        Newton's method on the square root of the integral, in which it is nearly straight, kept inside the bracket.
        """
        fit, p = self.fit.column, self.p[:, None]
        reduced = field / p
        weights = p * weights / fit.critical_number
        slopes = weights * reduced
        # where every node ionizes on the quadratic branch, the integral is a quadratic of the voltage: a first guess
        moments = np.sum(weights, axis=1), np.sum(slopes, axis=1), np.sum(slopes * reduced, axis=1)
        volts = np.minimum(np.maximum(self.fit.quadratic_voltage(*moments), low), high)
        todo = np.ones(volts.shape, dtype=np.bool_)
        for _ in range(NEWTON_STEPS):
            value, slope = fit.coefficient_and_slope(volts[:, None] * reduced)
            integral, rise = np.sum(weights * value, axis=1), np.sum(slopes * slope, axis=1)
            below = integral < 1
            low, high = np.where(below & todo, volts, low), np.where(below | ~todo, high, volts)
            with np.errstate(all="ignore"):
                step = (1 / np.sqrt(integral) - 1) * 2 * integral / rise
            proposed = volts + step
            close = np.abs(step) <= NEWTON_CLOSE * volts
            kept = close | ((proposed >= low) & (proposed <= high))
            volts = np.where(todo, np.where(kept, proposed, (low + high) / 2), volts)
            todo &= ~close & (high - low > 4e-16 * high)
            if not todo.any():
                break
        return np.minimum(volts, high)

    def field_at(self, distance: Floats) -> Floats:
        """Return the field per volt at several distances a case."""
        return np.asarray(self.shape.law(distance, self.s[:, None], self.R[:, None]))

    def excess(self, voltage: Floats, field: Floats, weights: Floats, power: float) -> Floats:
        """Return ``(integral / K)^power - 1`` from the field per volt at nodes with weights."""
        p = self.p[:, None]
        coefficient = p * self.fit.column.coefficient(voltage[:, None] * field / p)
        integral = np.sum(weights * coefficient, axis=1) / self.fit.critical_number
        return np.asarray(np.sign(integral) * np.abs(integral) ** power - 1)


ORDER = np.array([0, *range(2, 2 + NODES.size), 1])
KNOWN = np.concatenate([[0.0], NODES, [1.0]])
"""Shares of the way to the lowest field at which the field is known, and their place among the nodes of an axis."""
BARYCENTRIC = 1 / np.array([np.prod(np.delete(x - KNOWN, i) * 4) for i, x in enumerate(KNOWN)])
"""Barycentric weights of the polynomial through them."""

FEW = 16
"""Most cases for which the polynomial is faster than the series of images."""

TERMS = 96
NARROWEST, WIDEST = 1e-4, 1e2
"""Gap over radius between which the field at the nodes is a Chebyshev series of its logarithm, within 1e-12."""


def _in_table(gap: Floats, radius: Floats) -> bool:
    ratio = gap / radius
    return bool((ratio >= NARROWEST).all() and (ratio <= WIDEST).all())


def _angle(ratio: Floats) -> Floats:
    middle, half = np.log(NARROWEST * WIDEST) / 2, np.log(WIDEST / NARROWEST) / 2
    return np.asarray(np.arccos(np.minimum(np.maximum((np.log(ratio) - middle) / half, -1.0), 1.0)))


@lru_cache(maxsize=16)
def _series(shape: Shape) -> Floats:
    """Return the coefficients of the logarithm of field times gap at the nodes of an axis, by gap over radius."""
    turns = np.pi * (np.arange(TERMS) + 0.5) / TERMS
    ratio = np.exp(np.cos(turns) * np.log(WIDEST / NARROWEST) / 2 + np.log(NARROWEST * WIDEST) / 2)
    one = np.ones_like(ratio)
    lowest = shape.lowest(ratio, one)
    near, far = _nodes(lowest, one)[0], _nodes(ratio - lowest, one)[0]
    z = np.concatenate([np.zeros((TERMS, 1)), lowest[:, None], near, ratio[:, None] - far], axis=1)
    logs = np.log(shape.law(z, ratio[:, None], one[:, None]) * ratio[:, None])
    series = 2 / TERMS * np.cos(np.outer(np.arange(TERMS), turns)) @ logs
    series[0] /= 2
    return np.asarray(series)


def _similar_field(shape: Shape, gap: Floats, radius: Floats) -> Floats:
    """Return the field per volt at the nodes of an axis."""
    terms = np.cos(_angle(gap / radius)[:, None] * np.arange(TERMS))
    return np.asarray(np.exp(terms @ _series(shape)) / gap[:, None])


def _nodes(length: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Return distances from a surface up to a length, and weights: even steps of ``ln(1 + distance / radius)``.

    In that variable the fields of all shapes are smooth, however small the radius is.
    """
    top = np.log1p(length / radius)[:, None]
    reach, R = top * NODES, radius[:, None]
    return R * np.expm1(reach), top * WEIGHTS * R * np.exp(reach)
