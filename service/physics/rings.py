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

STEPS, SMALL, MOST_STEPS = 4, 1e-4, 8
"""Steps of the mean, and those where the complementary parameter is below a limit."""
ENOUGH = ((STEPS, SMALL), (5, 6.3e-10), (6, 2.5e-20))
"""Steps and the least complementary parameter for which they suffice: a step less from four times its square root."""
SHARES = np.array([1.0, *(-(2.0 ** (step - 2)) for step in range(1, MOST_STEPS + 1))])
"""Of the squares of the first mean and of the differences after it in the ratio of E to K."""
FEW = 12_000
"""Elements below which all take the steps of the smallest."""
ON_AXIS = 1e-10
"""Distance from the axis, over the radius of a ring, below which a place is on it."""


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
    sums, ratio = _sums_and_ratio(complement)
    first = np.pi / sums
    return first, first * ratio


def _steps(complement: Floats) -> int:
    """Return the steps that suffice for all of few elements."""
    least = complement.min(initial=1.0)
    return next((steps for steps, end in ENOUGH if least >= end), MOST_STEPS)


def _sums(complement: Floats) -> Floats:
    """Return pi over the complete elliptic integral K: twice the arithmetic-geometric mean.

    Here and below few arrays are written again and again: what stays in the cache costs a fourth. Of many elements
    those that need more steps are taken apart.
    """
    if complement.size < FEW:
        return _sum(complement, _steps(complement))
    found = _sum(complement, STEPS)
    small = complement < SMALL
    if small.any():
        found[small] = _sum(complement[small], MOST_STEPS)
    return found


def _sum(complement: Floats, steps: int) -> Floats:
    b = np.sqrt(complement)
    a, product = b + 1.0, np.empty_like(b)
    a *= 0.5
    np.sqrt(b, out=b)
    for _ in range(steps - 1):
        np.multiply(a, b, out=product)
        a += b
        a *= 0.5
        np.sqrt(product, out=b)
    a += b
    return a


def _sums_and_ratio(complement: Floats) -> tuple[Floats, Floats]:
    """Return pi over K, and the ratio of E to K."""
    if complement.size < FEW:
        return _sum_and_ratio(complement, _steps(complement))
    sums, ratio = _sum_and_ratio(complement, STEPS)
    small = complement < SMALL
    if small.any():
        sums[small], ratio[small] = _sum_and_ratio(complement[small], MOST_STEPS)
    return sums, ratio


def _sum_and_ratio(complement: Floats, steps: int) -> tuple[Floats, Floats]:
    # E over K is one less half of (1 - complement), and less the squares of the halved differences times 1, 2, 4 ...;
    # with the first of these it is the square of the first mean
    b = np.sqrt(complement)
    squares = np.empty((steps + 1, *b.shape))
    a = np.add(b, 1.0, out=np.empty_like(b))
    a *= 0.5
    squares[0] = a
    np.sqrt(b, out=b)
    product = np.empty_like(b)
    for step in range(1, steps + 1):
        np.subtract(a, b, out=squares[step])
        if step < steps:
            np.multiply(a, b, out=product)
            a += b
            a *= 0.5
            np.sqrt(product, out=b)
    a += b
    squares *= squares
    ratio = SHARES[: steps + 1] @ squares.reshape(steps + 1, -1)
    return a, ratio.reshape(b.shape)


def ring_potential(radius: Floats, across: Floats, height: Floats) -> Floats:
    """Return the potential of rings, per `sigma / eps`, radius of the ring and length of its strip.

    Parameters
    ----------
    radius : ndarray
        Of where it is asked, broadcast with the others [m].
    across, height : ndarray
        From the strip to there [m]; given as such, so that near a strip nothing cancels.

    Returns
    -------
    ndarray
        [1/m]; the same when ring and place are exchanged.
    """
    outer = radius - across
    outer *= 4 * radius
    inner = across * across
    inner += height * height
    outer += inner
    inner /= outer
    sums = _sums(inner)
    np.sqrt(outer, out=outer)
    sums *= outer
    return np.divide(1.0, sums, out=sums)


def ring_field(radius: Floats, across: Floats, height: Floats) -> tuple[Floats, Floats, Floats]:
    """Return potential and field of rings; see `ring_potential`.

    Parameters
    ----------
    radius, across, height : ndarray
        As there [m].

    Returns
    -------
    tuple of ndarray
        Potential, and the radial and the axial field; the radial one is zero on the axis.
    """
    q = radius - across
    square, inner, outer = height * height, across * across, q * (4 * radius)
    inner += square
    outer += inner
    sums, share = _sums_and_ratio(inner / outer)
    np.sqrt(outer, out=outer)
    sums *= outer
    potential = 1.0 / sums
    share /= inner
    # potential (1 - (square - across (q + radius)) share) / (2 radius), and potential height share; zero on the axis
    along = q + radius
    along *= across
    along -= square
    along *= share
    along += 1.0
    along *= potential
    off = radius > ON_AXIS * q
    along /= radius
    along *= 0.5
    if not off.all():
        along[~np.broadcast_to(off, along.shape)] = 0.0
    share *= potential
    share *= height
    return potential, along, share


def line_potential(radius: Floats, across: Floats, height: Floats) -> Floats:
    """Return the potential of straight lines of charge, per `sigma / eps` and length of their strip.

    Parameters
    ----------
    radius, across, height : ndarray
        As there; the first is not used.

    Returns
    -------
    ndarray
        As there.
    """
    square = across * across
    square += height * height
    np.log(square, out=square)
    square *= -0.25 / np.pi
    return square


def line_field(radius: Floats, across: Floats, height: Floats) -> tuple[Floats, Floats, Floats]:
    """Return potential and field of straight lines of charge; see `ring_field`.

    Parameters
    ----------
    radius, across, height : ndarray
        As there; the first is not used.

    Returns
    -------
    tuple of ndarray
        As there.
    """
    square = across * across
    square += height * height
    over = (0.5 / np.pi) / square
    np.log(square, out=square)
    square *= -0.25 / np.pi
    return square, across * over, height * over
