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
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from service.physics import closed_criterion
from service.physics.axes import Axis
from service.physics.closed_criterion import (
    PLACES,
    SHARES,
    Moments,
    Way,
    ZoneField,
    field_at_nodes,
    inception_voltage,
    is_covered,
    moments,
    nodes,
)
from service.physics.domain import Floats, positive
from service.physics.fields import Shape
from service.physics.ionization import IonizationFit
from service.physics.numbers import Numbers, functions_for
from service.physics.root import find_root, find_root_of_one
from service.units import ROUNDING

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
            known = is_covered(gaps, radii) if shape.similar else np.zeros(gaps.size, dtype=np.bool_)
            for own in (known, ~known):
                if own.any():
                    some, place = cases.select(own), start + np.flatnonzero(own)
                    voltage[place], zone[place] = some.solve()
                    highest[place] = some.ends[0] / some.p
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
    voltage, zone = np.full((2, len(fits), gap.size), np.nan)
    if cases.moments is not None:
        voltage[:] = [voltage_of_whole_axis(cases.moments, gap, reduced_pressure, fit) for fit in fits]
        zone[:] = gap
    rest = [i for i, one in enumerate(voltage) if np.isnan(one).any()]
    if rest:
        searched = cases.by_all(tuple(fits[i] for i in rest)).searched()
        open_ = np.isnan(voltage[rest])
        for known, found in zip((voltage, zone), searched, strict=True):
            known[rest] = np.where(open_, found.reshape(len(rest), gap.size), known[rest])
    return [Inception(*one) for one in zip(voltage, zone, voltage * cases.ends[0] / reduced_pressure, strict=True)]


def inceptions_of_one(
    shape: Shape, gap: float, radius: float, pressure: float, fits: Sequence[IonizationFit]
) -> list[Inception]:
    """Return `inception` of one case in plain numbers, for several fits.

    Parameters
    ----------
    shape : Shape
    gap, radius : float
        [m].
    pressure : float
        Reduced to 20 degC [Pa].
    fits : sequence of IonizationFit

    Returns
    -------
    list of Inception
        Of plain numbers, one per fit.

    References
    ----------
    See `inception`.
    """
    if shape.axis is not None:
        axis = shape.axis(gap, radius)
        return [inception_on(axis, pressure, fit) for fit in fits]
    if shape.similar and is_covered(gap, radius):
        found = _of_similar(shape, gap, radius, pressure, fits)
        if not any(math.isnan(one.voltage) for one in found):
            return found
    gaps, radii, pressures = (np.array([one]) for one in (gap, radius, pressure))
    return [found.plain for found in inceptions(shape, gaps, radii, pressures, fits)]


def _of_similar(
    shape: Shape, gap: float, radius: float, pressure: float, fits: Sequence[IonizationFit]
) -> list[Inception]:
    """Return `inception` of one case from the moments of its axis; NaN where these do not tell it."""
    known, found = moments(shape, gap, radius), []
    sizes = np.array([gap]), np.array([radius])
    way: Way | None = None
    for fit in fits:
        volts, length = voltage_of_whole_axis(known, gap, pressure, fit), gap
        if math.isnan(volts):
            way = way or Way.of(shape, *sizes)
            volts, length = _zone_of_one(way, pressure, fit)
            if known.beyond and not math.isnan(volts):
                cases = _Cases(shape, fit, *sizes, np.array([pressure]))
                volts = math.nan if _brings_more(cases, volts) else volts
        found.append(Inception(volts, length, volts * known.highest / pressure))
    return found


def voltage_of_whole_axis(axis: Moments, gap: Numbers, pressure: Numbers, fit: IonizationFit) -> Numbers:
    """Return the voltage at which the whole axis brings K; NaN where its field leaves the quadratic, or a zone counts.

    The integral of the quadratic is a quadratic of the voltage, whose factors are moments of the field.

    Parameters
    ----------
    axis : Moments
    gap : float or ndarray
        [m].
    pressure : float or ndarray
        Reduced to 20 degC [Pa].
    fit : IonizationFit

    Returns
    -------
    float or ndarray
        Peak voltage [V].
    """
    of, critical = functions_for(gap), fit.critical_number
    volts = fit.quadratic_voltage(
        pressure * gap / critical, axis.potential / critical, axis.square / (pressure * critical)
    )
    weakest = volts * axis.lowest / pressure - fit.centre
    loss = fit.offset - fit.curvature * weakest * weakest
    reduced, beyond = volts / pressure, gap * axis.beyond
    square = reduced * reduced * axis.square * axis.square_beyond
    far = square - 2 * fit.centre * reduced * axis.potential * axis.potential_beyond + fit.centre**2 * beyond
    gain = fit.curvature * far - fit.offset * beyond
    # what lies beyond the lowest field brings more than all before it can cost: no zone alone brings K sooner
    alone = (loss <= 0) | (gain > (gap - beyond) * loss)
    holds = (weakest >= 0) & (volts * axis.highest <= fit.branch * pressure) & alone
    found: Numbers = of.where(holds, volts, math.nan)
    return found


def excess_of_zone(zone: ZoneField, pressure: Numbers, fit: IonizationFit) -> Numbers:
    """Return by how much the integral over a zone on the quadratic exceeds K, as a root of it.

    Parameters
    ----------
    zone : ZoneField
    pressure : float or ndarray
        Reduced to 20 degC [Pa].
    fit : IonizationFit

    Returns
    -------
    float or ndarray
        Cube root of the integral over K, less one.
    """
    reduced = fit.threshold / zone.field
    square = reduced * (reduced * zone.square - 2 * fit.centre * zone.potential) + fit.centre**2 * zone.length
    return np.cbrt(pressure * (fit.curvature * square - fit.offset * zone.length) / fit.critical_number) - 1


def _zone_of_one(way: Way, pressure: float, fit: IonizationFit) -> tuple[float, float]:
    """Return voltage and length of a zone that ends on its way; NaN where none does, or it leaves the quadratic."""
    excess = excess_of_zone(way.at_shares, pressure, fit)[0]
    after = int(np.argmax(excess >= 0))
    if not after:
        return math.nan, math.nan
    places, at = PLACES[after - 1 : after + 1], excess[after - 1 : after + 1].tolist()
    threshold, zone = float(fit.threshold), way.of_one

    def function(share: float) -> float:
        return float(excess_of_zone(zone(share), pressure, fit))

    share = find_root_of_one(function, (places[0], places[1]), (at[0], at[1]), 0.0, enough=ENOUGH)
    if share is None:
        return math.nan, math.nan
    found = zone(share)
    holds = threshold * way.known[0, 0, 0] <= fit.branch * found.field
    return (threshold * pressure / found.field, found.length) if holds else (math.nan, math.nan)


def _brings_more(cases: _Cases, volts: float) -> bool:
    """Return whether the whole axis of one case brings K at a voltage."""
    field, weights = cases.axis
    return bool(cases.excess(np.array([volts]), field[:, 2:], weights, 1.0)[0] >= 0)


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
        if self.moments is not None:
            found.__dict__["moments"] = Moments(*(np.concatenate([one] * len(fits)) for one in self.moments))
        return found

    @cached_property
    def lowest(self) -> Floats:
        """Distance of the lowest field [m]."""
        return self.shape.lowest(self.s, self.R)

    @cached_property
    def axis(self) -> tuple[Floats, Floats]:
        """Field per volt at the nodes of both sides of the lowest field, and the weights of the nodes."""
        if self.moments is not None:
            return self._axis_by_similarity()
        near, near_weights = nodes(self.lowest, self.R)
        beyond = self.s - self.lowest
        parts, weights = [np.zeros((self.s.size, 1)), self.lowest[:, None], near], near_weights
        if beyond.any():
            far, far_weights = nodes(beyond, self.R)
            parts.append(self.s[:, None] - far)
            weights = np.concatenate([near_weights, far_weights], axis=1)
        return self.field_at(np.concatenate(parts, axis=1)), weights

    def _axis_by_similarity(self) -> tuple[Floats, Floats]:
        weights = [nodes(self.lowest, self.R)[1], nodes(self.s - self.lowest, self.R)[1]]
        return field_at_nodes(self.shape, self.s, self.R), np.concatenate(weights, axis=1)

    @cached_property
    def moments(self) -> Moments | None:
        """Moments of the field along the axis, where they are known of every case."""
        known = self.shape.similar and self.s.size and is_covered(self.s, self.R).all()
        return moments(self.shape, self.s, self.R) if known else None

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Highest and lowest field per volt."""
        if self.moments is not None:
            return self.moments[:2]
        return self.axis[0][:, 0], self.axis[0][:, 1]

    def solve(self) -> tuple[Floats, Floats]:
        """Return voltage and length of the zone."""
        if self.moments is None:
            return self.searched()
        voltage, zone = voltage_of_whole_axis(self.moments, self.s, self.p, self.fit), self.s.copy()
        rest = np.flatnonzero(np.isnan(voltage))
        if rest.size:
            voltage[rest], zone[rest] = self.select(rest).searched()
        return voltage, zone

    def searched(self) -> tuple[Floats, Floats]:
        """Return voltage and length of the zone, whatever part of the axis ionizes."""
        (field, weights), count = self.axis, closed_criterion.NODES.size
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

    def excess_by_law(self, zone: Floats) -> Floats:
        """Return by how much the integral over a zone exceeds K, as a cube root, in which it is nearly linear."""
        z, weights = nodes(zone, self.R)
        field = self.field_at(np.concatenate([zone[:, None], z], axis=1))
        return self.excess(self.fit.threshold * self.p / field[:, 0], field[:, 1:], weights, 1 / 3)

    def zone_that_suffices(self, at_lowest: Floats) -> Floats:
        """Return the length of the zone where it ends inside the gap, from the excess of a zone to the lowest field."""
        if self.moments is None:
            return self.zone_searched(at_lowest)
        way, fit, row = Way.of(self.shape, self.s, self.R), self.fit.column, np.arange(self.s.size)
        excess = excess_of_zone(way.at_shares, self.p[:, None], fit)
        after = np.argmax(excess >= 0, axis=1)
        low, high = ((SHARES[np.maximum(after - i, 0)], excess[row, np.maximum(after - i, 0)]) for i in (1, 0))

        def function(share: Floats, which: Index) -> Floats:
            return np.asarray(excess_of_zone(way.at(share, which), self.p[which], self.fit.select(which)))

        share, _ = find_root(function, low[0], high[0], at=(low[1], high[1]), enough=ENOUGH)
        found = way.at(share, row)
        zone = np.asarray(found.length)
        known = (after > 0) & (self.fit.threshold * self.ends[0] <= self.fit.branch * found.field)
        if not known.all():
            rest = np.flatnonzero(~known)
            zone[rest] = self.select(rest).zone_searched(at_lowest[rest])
        return zone

    def zone_searched(self, at_lowest: Floats) -> Floats:
        """Return the same by the law of the field itself."""
        top = np.log1p(self.lowest / self.R)
        nothing = np.zeros_like(top)
        ends = nothing - 1, at_lowest
        reach, _ = find_root(self._excess_of_reach, nothing, top, at=ends, enough=ENOUGH)
        return np.asarray(self.R * np.expm1(reach))

    def _excess_of_reach(self, reach: Floats, which: Index) -> Floats:
        cases = self if which.size == self.s.size else self.select(which)
        return cases.excess_by_law(cases.R * np.expm1(reach))

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
        todo = np.sum(weights * fit.coefficient(high[:, None] * reduced), axis=1) >= 1
        volts = np.where(todo, np.minimum(np.maximum(self.fit.quadratic_voltage(*moments), low), high), high)
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
