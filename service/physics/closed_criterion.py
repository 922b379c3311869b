"""The streamer criterion without a quadrature: axes of elementary integrals, and shapes of gap over radius alone.

By similarity both are smooth series of the logarithm of gap over radius, made once from the laws, which are series of
images.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.physics.axes import Axis
from service.physics.domain import Floats
from service.physics.fields import Shape
from service.physics.ionization import IonizationFit
from service.physics.numbers import PLAIN, Numbers, functions_for

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
NODES, WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2
"""Gauss-Legendre rule on 0 to 1."""
SHARES = np.concatenate([[0.0], NODES, [1.0]])
"""The same with both ends."""
BARYCENTRIC = 1 / np.array([np.prod(np.delete(x - SHARES, i) * 4) for i, x in enumerate(SHARES)])
"""Barycentric weights of the polynomial through what is known at the shares."""
TERMS = 96
NARROWEST, WIDEST = 1e-4, 1e2
"""Gap over radius between which the logarithms are Chebyshev series, within 1e-12."""
MIDDLE, HALF = float(np.log(NARROWEST * WIDEST) / 2), float(np.log(WIDEST / NARROWEST) / 2)
ORDERS = np.arange(TERMS)


class Moments(NamedTuple):
    """Of the field per volt along an axis.

    Parameters
    ----------
    highest, lowest : float or ndarray
        [1/m].
    square : float or ndarray
        Integral of its square along the whole axis [1/m].
    potential : float or ndarray
        Its own integral, one within the error of the series of images.
    beyond, potential_beyond, square_beyond : float or ndarray
        Shares that lie beyond the lowest field: of the length, the voltage and the square.
    """

    highest: Numbers
    lowest: Numbers
    square: Numbers
    potential: Numbers
    beyond: Numbers
    potential_beyond: Numbers
    square_beyond: Numbers


class ZoneField(NamedTuple):
    """What lies between the surface and places on the way to the lowest field.

    Parameters
    ----------
    length : float or ndarray
        [m].
    field : float or ndarray
        Per volt, at the end [1/m].
    potential, square : float or ndarray
        Integrals of the field per volt, and of its square [1, 1/m].
    """

    length: Numbers
    field: Numbers
    potential: Numbers
    square: Numbers


def nodes(length: Floats, radius: Floats) -> tuple[Floats, Floats]:
    """Return distances from a surface up to a length, and weights: even steps of ``ln(1 + distance / radius)``.

    In that variable the fields of all shapes are smooth, however small the radius is.

    Parameters
    ----------
    length, radius : ndarray
        One-dimensional [m].

    Returns
    -------
    tuple of ndarray
        One row per length [m].
    """
    top = np.log1p(length / radius)[:, None]
    reach, R = top * NODES, radius[:, None]
    return R * np.expm1(reach), top * WEIGHTS * R * np.exp(reach)


def is_covered(gap: Numbers, radius: Numbers) -> Numbers:
    """Return where the series hold, for lengths [m] as plain numbers or arrays."""
    ratio = gap / radius
    return (ratio >= NARROWEST) & (ratio <= WIDEST)


def field_at_nodes(shape: Shape, gap: Floats, radius: Floats) -> Floats:
    """Return the field per volt at the surface, at its lowest, and at the nodes of both sides of that [1/m].

    Parameters
    ----------
    shape : Shape
        A similar one.
    gap, radius : ndarray
        One-dimensional [m], covered by the series.

    Returns
    -------
    ndarray
        One row per case [1/m].
    """
    return np.asarray(np.exp(_terms(gap / radius) @ _series(shape)[0]) / gap[:, None])


def moments(shape: Shape, gap: Numbers, radius: Numbers) -> Moments:
    """Return the moments of the field per volt along the whole axis.

    Parameters
    ----------
    shape : Shape
        A similar one.
    gap, radius : float or ndarray
        Covered by the series [m].

    Returns
    -------
    Moments
    """
    found = (_terms(gap / radius) @ _series(shape)[1]).T
    found[:3] = np.exp(found[:3]) / gap
    return Moments(*(found.tolist() if isinstance(gap, float) else found))


@dataclass(frozen=True)
class Way:
    """The ways of cases from the surface to the lowest field: polynomials through what is known at `SHARES` of them.

    Parameters
    ----------
    reach, radius : ndarray
        Logarithm of one and the length over the radius; the radius [m].
    known : ndarray
        Of the zones that end at the shares: field, potential and square, ``(3, cases, shares)``.
    """

    reach: Floats
    radius: Floats
    known: Floats

    @classmethod
    def of(cls, shape: Shape, gap: Floats, radius: Floats) -> Way:
        """Return the ways of cases of a similar shape, one-dimensional [m], covered by the series."""
        reach = np.log1p((1 - moments(shape, gap, radius).beyond) * gap / radius)
        field = field_at_nodes(shape, gap, radius)[:, ORDER]
        inner, rise = field[:, 1:-1], reach[:, None]
        steps = rise * radius[:, None] * np.exp(rise * NODES) * inner
        return cls(reach, radius, np.stack([field, steps @ CUMULATIVE, (steps * inner) @ CUMULATIVE]))

    @property
    def at_shares(self) -> ZoneField:
        """The zones that end at `SHARES`, one row per case."""
        return ZoneField(self.radius[:, None] * np.expm1(self.reach[:, None] * SHARES), *self.known)

    def at(self, share: Floats, which: NDArray[np.intp]) -> ZoneField:
        """Return the zone that ends at a share of the way, of each of some cases."""
        apart = share[:, None] - SHARES
        exact = apart == 0
        weights = BARYCENTRIC / np.where(exact, 1.0, apart)
        weights = np.where(exact.any(axis=1, keepdims=True), exact * 1.0, weights)
        found = np.einsum("ni,kni->kn", weights, self.known[:, which]) / weights.sum(axis=1)
        return ZoneField(self.radius[which] * np.expm1(self.reach[which] * share), *found)

    @cached_property
    def of_one(self) -> Callable[[float], ZoneField]:
        """The same of the first case, in plain numbers."""
        reach, radius = float(self.reach[0]), float(self.radius[0])
        rows = list(zip(PLACES, FACTORS, *self.known[:, 0].tolist(), strict=True))

        def at(share: float) -> ZoneField:
            total = field = potential = square = 0.0
            for place, factor, *known in rows:
                weight = factor / (share - place or 1e-300)
                total += weight
                field += weight * known[0]
                potential += weight * known[1]
                square += weight * known[2]
            return ZoneField(radius * math.expm1(reach * share), field / total, potential / total, square / total)

        return at


PLACES, FACTORS = SHARES.tolist(), BARYCENTRIC.tolist()


def _cumulative() -> Floats:
    """Return the weights of values at the nodes in the integrals from 0 to every share: of Legendre's polynomials."""
    orders = np.arange(NODES.size)
    at_nodes = np.polynomial.legendre.legvander(2 * NODES - 1, NODES.size - 1)
    above = np.polynomial.legendre.legvander(2 * SHARES - 1, NODES.size)
    integrals = (above[:, 1:] - np.column_stack([-np.ones(SHARES.size), above[:, :-2]])) / (2 * (2 * orders + 1))
    return np.asarray((WEIGHTS[:, None] * at_nodes * (2 * orders + 1)) @ integrals.T)


ORDER = np.array([0, *range(2, 2 + NODES.size), 1])
"""Places of the surface, the nodes and the lowest field in what `field_at_nodes` returns."""
CUMULATIVE = _cumulative()


def _terms(ratio: Numbers) -> Floats:
    of = functions_for(ratio)
    turn = np.arccos(of.minimum(of.maximum((of.log(ratio) - MIDDLE) / HALF, -1.0), 1.0))
    return np.asarray(np.cos(np.multiply.outer(turn, ORDERS)))


@lru_cache(maxsize=16)
def _series(shape: Shape) -> tuple[Floats, Floats]:
    """Return the coefficients of the logarithm, times the gap, of the field at the nodes, and of the moments."""
    turns = np.pi * (ORDERS + 0.5) / TERMS
    ratio = np.exp(np.cos(turns) * HALF + MIDDLE)
    one = np.ones_like(ratio)
    lowest = shape.lowest(ratio, one)
    (near, near_weights), (far, far_weights) = nodes(lowest, one), nodes(ratio - lowest, one)
    z = np.concatenate([np.zeros((TERMS, 1)), lowest[:, None], near, ratio[:, None] - far], axis=1)
    field = shape.law(z, ratio[:, None], one[:, None])
    weights = np.concatenate([near_weights, far_weights], axis=1)
    halves = np.split(np.stack([weights * field[:, 2:], weights * field[:, 2:] ** 2]), 2, axis=2)
    near_half, far_half = (half.sum(axis=2) for half in halves)
    potential, square = near_half + far_half
    shares = [potential, 1 - lowest / ratio, *(far_half / (potential, square))]
    logs = np.log(ratio[:, None] * np.column_stack([field[:, :2], square]))
    cosines = 2 / TERMS * np.cos(np.outer(ORDERS, turns))
    cosines[0] /= 2
    at_nodes = cosines @ np.log(field * ratio[:, None])
    return np.asarray(at_nodes), np.asarray(cosines @ np.column_stack([logs, *shares]))


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
