"""The field of shapes that depend on gap over radius alone: at the nodes of an axis, and its moments along it.

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

from service.physics.domain import Floats
from service.physics.fields import Shape
from service.physics.numbers import Numbers, functions_for

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
