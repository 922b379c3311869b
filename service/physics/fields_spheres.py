r"""Exact fields on the axis of two equal spheres, and of a sphere and a plane.

Image charges of two spheres of radius R at the gap s: with ``cosh(m) = 1 + s/(2R)``, ``a = R sinh(m)``, the n-th image
has the charge ``a / sinh(n m)`` at the distance ``a coth(n m)`` from the middle. At the axis point ``a tanh(h)`` its
field is ``cosh(h)^2 / a * S(n m, h)`` with ``S(t, h) = sinh(t) / cosh(t - h)^2``, free of cancellation. Near spheres
need many images, but then neighbouring terms differ little: a few are added one by one and the rest is their integral,
which has a closed form, with the first correction of the midpoint rule. The error is below 1e-6 at any gap.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from service.physics.domain import Floats
from service.physics.fields import Shape, middle_of_gap

EXPLICIT_TERMS = 12
"""Images that are added one by one before the integral takes over."""

SEARCH_POINTS = 17
SEARCH_ROUNDS = 3
"""Grid on which the lowest field is located, and how often it is refined."""


def _image_sum(first: Floats, step: Floats, w: Floats) -> Floats:
    """Return the sum of ``S(first + k step, h)`` over k = 0, 1, ..., with ``w = exp(2 h)``."""
    k = np.arange(EXPLICIT_TERMS).reshape(-1, *(1,) * max(first.ndim, w.ndim))
    t = first + k * step
    q = np.exp(-t)
    total = np.sum(q * -np.expm1(-2 * t) / (1 + w * (q * q)) ** 2, axis=0)
    return np.asarray(2 * w * total + _tail(first + (EXPLICIT_TERMS - 0.5) * step, step, w))


def _tail(t: Floats, step: Floats, w: Floats) -> Floats:
    """Return the rest of the sum: the integral of S from t on over the step, plus step/24 of its slope at t."""
    e_h = np.sqrt(w)
    e_u = np.exp(-t) * e_h
    sech_u = 2 * e_u / (1 + e_u * e_u)
    cosh_h, sinh_h = (e_h + 1 / e_h) / 2, (e_h - 1 / e_h) / 2
    integral = cosh_h * sech_u + 2 * sinh_h * np.arctan(e_u)
    tanh_u = (1 - e_u * e_u) / (1 + e_u * e_u)
    # sinh(t) sech(u) and cosh(t) sech(u) with t = u + h, so that nothing large is formed
    sinh_t, cosh_t = cosh_h * tanh_u + sinh_h, cosh_h + sinh_h * tanh_u
    slope = sech_u * (cosh_t - 2 * sinh_t * tanh_u)
    return np.asarray(integral / step + step / 24 * slope)


def _bispherical(z: Floats, s: Floats, R: Floats) -> tuple[Floats, Floats, Floats]:
    """Return m, ``exp(2 h)`` and ``cosh(h)^2 / a`` at the distance z from the first sphere."""
    m = 2 * np.arcsinh(np.sqrt(s / R) / 2)
    a = np.sqrt(s * (R + s / 4))
    near = R * s / (a + s / 2)
    w = (near + (s - z)) / (near + z)
    return m, w, a / (R * s + z * (s - z))


def spheres_symmetrical(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between equal spheres at plus and minus half a volt.

    Examples
    --------
    Gap equal to the radius: the utilization factor of the textbooks is 0.7358.

    >>> f"{SPHERES_SYMMETRICAL.utilization_factor(1.0, 1.0):.4f}"
    '0.7358'
    """
    m, w, scale = _bispherical(distance, gap, radius)
    return np.asarray(scale * (_image_sum(m, m, w) + _image_sum(m, m, 1 / w)) / 2)


def spheres_one_earthed(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between equal spheres, the first at one volt and the other at none, far from other things.

    Odd images belong to the first sphere, even ones to the earthed sphere.

    Examples
    --------
    Highest over mean field at a gap of one radius: 1.517 (Russell's table, from memory).

    >>> f"{1 / SPHERES_ONE_EARTHED.utilization_factor(1.0, 1.0):.3f}"
    '1.517'
    """
    m, w, scale = _bispherical(distance, gap, radius)
    return np.asarray(scale * (_image_sum(m, 2 * m, w) + _image_sum(2 * m, 2 * m, 1 / w)))


def sphere_plane(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between a sphere and a plane: two spheres at twice the gap and twice the voltage.

    Examples
    --------
    Gap equal to the radius: the utilization factor of the textbooks is 0.5649.

    >>> f"{SPHERE_PLANE.utilization_factor(1.0, 1.0):.4f}"
    '0.5649'
    """
    return 2 * spheres_symmetrical(distance, 2 * gap, radius)


def searched_lowest(gap: Floats, radius: Floats) -> Floats:
    """Return the distance of the lowest field, which lies between the middle and the earthed sphere [m], by search.

    The field there is right within 1e-6; the place itself is as vague as a flat minimum is.
    """
    s, R = np.broadcast_arrays(gap, radius)
    lower, upper = s / 2, s + 0.0
    for _ in range(SEARCH_ROUNDS):
        grid = np.linspace(lower, upper, SEARCH_POINTS)
        best = np.argmin(spheres_one_earthed(grid, s, R), axis=0)[None]
        lower = np.take_along_axis(grid, np.maximum(best - 1, 0), 0)[0]
        upper = np.take_along_axis(grid, np.minimum(best + 1, SEARCH_POINTS - 1), 0)[0]
    return np.asarray((lower + upper) / 2)


@lru_cache(maxsize=1)
def _places() -> Floats:
    """Return a smooth series of the place of the lowest field over the gap, by the logarithm of gap over radius."""
    ratio = np.geomspace(1e-4, 1e3, 400)
    found = searched_lowest(ratio, np.ones_like(ratio)) / ratio
    return np.asarray(np.polynomial.chebyshev.chebfit(_scaled_logarithm(ratio), found, 30), dtype=np.float64)


def _scaled_logarithm(ratio: Floats) -> Floats:
    return np.clip((np.log10(ratio) + 0.5) / 3.5, -1.0, 1.0)


def lowest_with_one_earthed(gap: Floats, radius: Floats) -> Floats:
    """Return the distance of the lowest field, which lies between the middle and the earthed sphere [m].

    By similarity the place over the gap depends on gap over radius alone; a smooth series of it is kept. The field
    there is right within 1e-6; the place itself is as vague as a flat minimum is.
    """
    return np.asarray(gap * np.polynomial.chebyshev.chebval(_scaled_logarithm(gap / radius), _places()))


SPHERES_SYMMETRICAL = Shape("equal spheres, symmetrical voltages", spheres_symmetrical, middle_of_gap, similar=True)
SPHERES_ONE_EARTHED = Shape("equal spheres, one earthed", spheres_one_earthed, lowest_with_one_earthed, similar=True)
SPHERE_PLANE = Shape("sphere and plane", sphere_plane, similar=True)
