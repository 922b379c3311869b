"""Potential and field of a ring of charge, and of a straight line of charge: the kernels of drawn electrodes.

A surface charge is told by the field that it leaves at a conductor, ``sigma / eps`` [V/m]; a strip of it, ds long in
the section, makes at a point

- of a body of revolution ``phi = sigma q K(m) / (pi a) ds`` with ``a^2 = (r + q)^2 + z^2``, ``b^2 = (r - q)^2 + z^2``,
  ``1 - m = b^2 / a^2``, q the radius of the ring, z the height of the point over it;
- of a section without end ``phi = -sigma ln(distance) / (2 pi) ds``.

References
----------
Smythe, Static and Dynamic Electricity, section 5.03, from memory; complete elliptic integrals by the
arithmetic-geometric mean, NIST Digital Library of Mathematical Functions 19.8.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.physics.domain import Floats

Points = NDArray[np.complex128]
"""Places in a section: r + i z of a body of revolution, x + i y of a section without end [m]."""

STEPS, MORE = 4, 8
"""Steps of the mean, and those where the complementary parameter is below `SMALL`."""
SMALL = 1e-4


def elliptic(complement: Floats) -> tuple[Floats, Floats]:
    """Return the complete elliptic integrals K and E of a complementary parameter.

    Parameters
    ----------
    complement : ndarray
        ``1 - m``, greater than zero and at most one; given as such, so that near a ring nothing cancels.

    Returns
    -------
    tuple of ndarray
        K and E, within 1e-11.

    Examples
    --------
    >>> K, E = elliptic(np.array([0.5]))
    >>> f"{K[0]:.10f} {E[0]:.10f}"
    '1.8540746773 1.3506438810'
    """
    first, ratio = _means(complement, STEPS)
    small = complement < SMALL
    if small.any():
        first[small], ratio[small] = _means(complement[small], MORE)
    return first, first * ratio


def first_kind(complement: Floats) -> Floats:
    """Return the complete elliptic integral K alone; see `elliptic`.

    Parameters
    ----------
    complement : ndarray
        As there.

    Returns
    -------
    ndarray
        K, within 1e-11.
    """
    found = _first(complement, STEPS)
    small = complement < SMALL
    if small.any():
        found[small] = _first(complement[small], MORE)
    return found


def _first(complement: Floats, steps: int) -> Floats:
    a, b = np.ones_like(complement), np.sqrt(complement)
    for _ in range(steps):
        a, b = (a + b) * 0.5, np.sqrt(a * b)
    return np.asarray(np.pi / (a + b))


def _means(complement: Floats, steps: int) -> tuple[Floats, Floats]:
    a, b = np.ones_like(complement), np.sqrt(complement)
    lost, weight = 0.5 * (1 - complement), 1.0
    for _ in range(steps):
        half = (a - b) * 0.5
        lost += weight * half * half
        a, b, weight = (a + b) * 0.5, np.sqrt(a * b), 2 * weight
    half = (a - b) * 0.5
    lost += weight * half * half
    return np.asarray(np.pi / (a + b)), 1 - lost


def ring_potential(point: Points, offset: Points) -> Floats:
    """Return the potential of rings, per `sigma / eps` and length of their strip.

    Parameters
    ----------
    point : ndarray
        Where it is asked [m].
    offset : ndarray
        From the strip to the point [m], broadcast with it; given as such, so that near a strip nothing cancels.

    Returns
    -------
    ndarray
        [m], for a density in V/m a potential per length of strip.
    """
    q = point.real - offset.real
    inner = offset.real * offset.real + offset.imag * offset.imag
    outer = inner + 4 * point.real * q
    return np.asarray(q * first_kind(inner / outer) / (np.pi * np.sqrt(outer)))


def ring_field(point: Points, offset: Points) -> tuple[Floats, Points]:
    """Return potential and field of rings; see `ring_potential`.

    Parameters
    ----------
    point, offset : ndarray
        As there [m].

    Returns
    -------
    tuple of ndarray
        Potential, and field as ``Er + i Ez``, whose radial part is zero on the axis.
    """
    r, across, height = (np.asarray(one) for one in (point.real, offset.real, offset.imag))
    q = r - across
    square = height * height
    inner = across * across + square
    outer = inner + 4 * r * q
    K, E = elliptic(inner / outer)
    a = np.pi * np.sqrt(outer)
    share = E / inner
    found = np.empty(K.shape, dtype=np.complex128)
    found.imag = q * height * share / a
    with np.errstate(all="ignore"):
        found.real = np.where(r > 1e-10 * q, q * (K - (square - across * (q + r)) * share) / (2 * r * a), 0.0)
    return q * K / a, found


def line_potential(point: Points, offset: Points) -> Floats:
    """Return the potential of straight lines of charge; see `ring_potential`.

    Parameters
    ----------
    point, offset : ndarray
        As there [m].

    Returns
    -------
    ndarray
        As there.
    """
    return np.asarray(-np.log(np.abs(offset)) / (2 * np.pi))


def line_field(point: Points, offset: Points) -> tuple[Floats, Points]:
    """Return potential and field of straight lines of charge; see `ring_field`.

    Parameters
    ----------
    point, offset : ndarray
        As there [m].

    Returns
    -------
    tuple of ndarray
        As there.
    """
    square = offset.real**2 + offset.imag**2
    return -np.log(square) / (4 * np.pi), offset / (2 * np.pi * square)
