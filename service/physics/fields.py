r"""Exact fields on the axis of the electrode shapes that have a law, per volt between the electrodes.

Every shape has two dimensions, the gap and one radius, and one elementwise function of them and of the distance
from the electrode where the field is highest; `service.physics.criterion` takes any of them.

Image charges of two spheres of radius R at the gap s: with ``cosh(m) = 1 + s/(2R)``, ``a = R sinh(m)``, the n-th image
has the charge ``a / sinh(n m)`` at the distance ``a coth(n m)`` from the middle. At the axis point ``a tanh(h)`` its
field is ``cosh(h)^2 / a * S(n m, h)`` with ``S(t, h) = sinh(t) / cosh(t - h)^2``, free of cancellation. Near spheres
need many images, but then neighbouring terms differ little: a few are added one by one and the rest is their integral,
which has a closed form, with the first correction of the midpoint rule. The error is below 1e-6 at any gap.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from service.physics import axes
from service.physics.domain import Floats, positive, positive_numbers, within
from service.physics.numbers import ARRAYS, PLAIN, Numbers, functions_for

FieldLaw = Callable[[Numbers, Numbers, Numbers], Numbers]
"""Distance from the electrode of highest field, gap, radius [m] to field per volt [1/m]; unchecked.

Of plain numbers, or of arrays element by element.
"""


def end_of_gap(gap: Floats, radius: Floats) -> Floats:
    """Return the distance of the lowest field where it falls all the way: the gap itself [m]."""
    return gap + np.zeros_like(radius)


def middle_of_gap(gap: Floats, radius: Floats) -> Floats:
    """Return the distance of the lowest field between equal electrodes: half the gap [m]."""
    return gap / 2 + np.zeros_like(radius)


@dataclass(frozen=True, eq=False)
class Shape:
    """An electrode shape with the field on its axis.

    Parameters
    ----------
    title : str
        For a person.
    law : callable
        Field per volt on the axis, see `FieldLaw`.
    lowest : callable
        Gap and radius to the distance at which the field is lowest [m].
    axis : callable, optional
        Gap and radius to the axis with its integrals, where they are elementary.
    similar : bool
        Whether a series of the field over gap over radius is to be kept, since the law itself is slow.
    """

    title: str
    law: FieldLaw
    lowest: Callable[[Floats, Floats], Floats] = end_of_gap
    axis: Callable[[Numbers, Numbers], axes.Axis] | None = None
    similar: bool = False

    def axis_field(self, distance: ArrayLike, gap: ArrayLike, radius: ArrayLike) -> Floats:
        """Return the field on the axis for one volt between the electrodes.

        Parameters
        ----------
        distance : array_like
            Distance from the surface where the field is highest [m]; 0 to the gap.
        gap : array_like
            Shortest distance between the surfaces [m]; greater than zero.
        radius : array_like
            Radius of the electrode of highest field [m]; greater than zero.

        Returns
        -------
        ndarray
            Field per volt [1/m], broadcast.

        Raises
        ------
        OutsideValidity
            When a length is not positive, or the distance leaves the gap.
        """
        s, R = positive("gap", gap, "m"), positive("radius", radius, "m")
        fraction = within("distance over gap", np.asarray(distance, dtype=np.float64) / s, 0.0, 1.0, "")
        return np.asarray(self.law(fraction * s, s, R))

    def maximum_field(self, gap: Numbers, radius: Numbers) -> Numbers:
        """Return the highest field for one volt between the electrodes.

        Parameters
        ----------
        gap, radius : array_like
            As in `axis_field` [m].

        Returns
        -------
        ndarray
            Field per volt [1/m].

        Raises
        ------
        OutsideValidity
            When a length is not positive.
        """
        s, R = positive_numbers("gap", gap, "m"), positive_numbers("radius", radius, "m")
        return self.law(0.0 * s, s, R)

    def utilization_factor(self, gap: Numbers, radius: Numbers) -> Numbers:
        """Return the field utilization factor: mean field over highest field, 0 to 1.

        Parameters
        ----------
        gap, radius : array_like
            As in `axis_field` [m].

        Returns
        -------
        ndarray
            Dimensionless, often written eta.

        Raises
        ------
        OutsideValidity
            When a length is not positive.
        """
        return 1 / (positive_numbers("gap", gap, "m") * self.maximum_field(gap, radius))


def coaxial_cylinders(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between coaxial cylinders: ``1 / ((r + z) ln((r + gap) / r))``, r the inner radius.

    Examples
    --------
    Outer over inner radius e, the most favourable ratio: utilization factor 1 / (e - 1).

    >>> f"{COAXIAL_CYLINDERS.utilization_factor(np.e - 1, 1.0):.6f}"
    '0.581977'
    """
    return 1 / ((radius + distance) * functions_for(gap).log1p(gap / radius))


def concentric_spheres(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between concentric spheres: ``r (r + gap) / (gap (r + z)^2)``, r the inner radius."""
    return radius * (radius + gap) / (gap * (radius + distance) ** 2)


def parallel_cylinders(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between equal parallel cylinders, one volt between them and none to earth.

    ``a / (m (r gap + z (gap - z)))`` with ``a^2 = r gap + gap^2 / 4`` (line charges at distance a from the middle)
    and ``cosh(m) = 1 + gap / (2 r)``; at the surface ``sqrt((D + 2 r)/(D - 2 r)) / (2 r arcosh(D / (2 r)))`` with the
    axis distance D.
    """
    of, s, r, z = functions_for(gap), gap, radius, distance
    a = of.sqrt(s * (r + s / 4))
    m = 2 * of.asinh(of.sqrt(s / r) / 2)
    return a / (m * (r * s + z * (s - z)))


def cylinder_plane(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between a cylinder and a plane: half of two cylinders at twice the gap and voltage."""
    return 2 * parallel_cylinders(distance, 2 * gap, radius)


def hyperboloid_plane(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between a hyperboloid of revolution and the plane of its confocal family.

    ``a / (y (r gap + z (2 gap - z)))`` with ``a^2 = gap (gap + r)``, ``sinh(y)^2 = gap / r``, r the radius of
    curvature at the tip; at the tip ``2 / (r h ln((1 + h)/(1 - h)))`` with ``h^2 = gap / (gap + r)``.
    """
    of, d, r, z = functions_for(gap), gap, radius, distance
    y = of.asinh(of.sqrt(d / r))
    return of.sqrt(d * (d + r)) / (y * (r * d + z * (2 * d - z)))


COAXIAL_CYLINDERS = Shape("coaxial cylinders", coaxial_cylinders, axis=axes.coaxial_cylinders)
CONCENTRIC_SPHERES = Shape("concentric spheres", concentric_spheres, axis=axes.concentric_spheres)
PARALLEL_CYLINDERS = Shape("parallel cylinders", parallel_cylinders, middle_of_gap, axes.parallel_cylinders)
CYLINDER_PLANE = Shape("cylinder and plane", cylinder_plane, axis=axes.cylinder_plane)
HYPERBOLOID_PLANE = Shape("hyperboloid and plane", hyperboloid_plane, axis=axes.hyperboloid_plane)


EXPLICIT_TERMS = 12
"""Images that are added one by one before the integral takes over."""

SEARCH_POINTS = 17
SEARCH_ROUNDS = 3
"""Grid on which the lowest field is located, and how often it is refined."""


def _image_sum(first: Numbers, step: Numbers, w: Numbers) -> Numbers:
    """Return the sum of ``S(first + k step, h)`` over k = 0, 1, ..., with ``w = exp(2 h)``."""
    if isinstance(w, float):
        total = sum(_image(first + k * step, w, PLAIN) for k in range(EXPLICIT_TERMS))
    else:
        k = np.arange(EXPLICIT_TERMS).reshape(-1, *(1,) * max(np.ndim(first), w.ndim))
        total = np.sum(_image(first + k * step, w, ARRAYS), axis=0)
    return 2 * w * total + _tail(first + (EXPLICIT_TERMS - 0.5) * step, step, w)


def _image(t: Numbers, w: Numbers, of: Any) -> Numbers:
    """Return S(t, h) over ``2 w``, by the functions that go with the numbers."""
    q = of.exp(-t)
    return q * -of.expm1(-2 * t) / (1 + w * (q * q)) ** 2


def _tail(t: Numbers, step: Numbers, w: Numbers) -> Numbers:
    """Return the rest of the sum: the integral of S from t on over the step, plus step/24 of its slope at t."""
    of = functions_for(w)
    e_h = of.sqrt(w)
    e_u = of.exp(-t) * e_h
    sech_u = 2 * e_u / (1 + e_u * e_u)
    cosh_h, sinh_h = (e_h + 1 / e_h) / 2, (e_h - 1 / e_h) / 2
    integral = cosh_h * sech_u + 2 * sinh_h * of.atan(e_u)
    tanh_u = (1 - e_u * e_u) / (1 + e_u * e_u)
    # sinh(t) sech(u) and cosh(t) sech(u) with t = u + h, so that nothing large is formed
    sinh_t, cosh_t = cosh_h * tanh_u + sinh_h, cosh_h + sinh_h * tanh_u
    slope = sech_u * (cosh_t - 2 * sinh_t * tanh_u)
    return integral / step + step / 24 * slope


def _bispherical(z: Numbers, s: Numbers, R: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Return m, ``exp(2 h)`` and ``cosh(h)^2 / a`` at the distance z from the first sphere."""
    of = functions_for(s)
    m = 2 * of.asinh(of.sqrt(s / R) / 2)
    a = of.sqrt(s * (R + s / 4))
    near = R * s / (a + s / 2)
    w = (near + (s - z)) / (near + z)
    return m, w, a / (R * s + z * (s - z))


def spheres_symmetrical(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between equal spheres at plus and minus half a volt.

    Examples
    --------
    Gap equal to the radius: the utilization factor of the textbooks is 0.7358.

    >>> f"{SPHERES_SYMMETRICAL.utilization_factor(1.0, 1.0):.4f}"
    '0.7358'
    """
    m, w, scale = _bispherical(distance, gap, radius)
    return scale * (_image_sum(m, m, w) + _image_sum(m, m, 1 / w)) / 2


def spheres_one_earthed(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
    """Return the field between equal spheres, the first at one volt and the other at none, far from other things.

    Odd images belong to the first sphere, even ones to the earthed sphere.

    Examples
    --------
    Highest over mean field at a gap of one radius: 1.517 (Russell's table, from memory).

    >>> f"{1 / SPHERES_ONE_EARTHED.utilization_factor(1.0, 1.0):.3f}"
    '1.517'
    """
    m, w, scale = _bispherical(distance, gap, radius)
    return scale * (_image_sum(m, 2 * m, w) + _image_sum(2 * m, 2 * m, 1 / w))


def sphere_plane(distance: Numbers, gap: Numbers, radius: Numbers) -> Numbers:
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


_ORDERS = np.arange(31)
"""Of the terms of that series."""


def _scaled_logarithm(ratio: Floats) -> Floats:
    return np.minimum(np.maximum((np.log10(ratio) + 0.5) / 3.5, -1.0), 1.0)


def lowest_with_one_earthed(gap: Floats, radius: Floats) -> Floats:
    """Return the distance of the lowest field, which lies between the middle and the earthed sphere [m].

    By similarity the place over the gap depends on gap over radius alone; a smooth series of it is kept. The field
    there is right within 1e-6; the place itself is as vague as a flat minimum is.
    """
    turns = np.arccos(_scaled_logarithm(gap / radius))
    return np.asarray(gap * (np.cos(np.multiply.outer(turns, _ORDERS)) @ _places()))


SPHERES_SYMMETRICAL = Shape("equal spheres, symmetrical voltages", spheres_symmetrical, middle_of_gap, similar=True)
SPHERES_ONE_EARTHED = Shape("equal spheres, one earthed", spheres_one_earthed, lowest_with_one_earthed, similar=True)
SPHERE_PLANE = Shape("sphere and plane", sphere_plane, similar=True)
