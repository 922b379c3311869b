"""Exact fields on the axis of the electrode shapes that have a law, per volt between the electrodes.

Every shape has two dimensions, the gap and one radius, and one elementwise function of them and of the distance
from the electrode where the field is highest; `service.physics.criterion` takes any of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from service.physics import axes
from service.physics.domain import Floats, positive, within

FieldLaw = Callable[[Floats, Floats, Floats], Floats]
"""Distance from the electrode of highest field, gap, radius [m] to field per volt [1/m]; elementwise, unchecked."""


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
    axis: Callable[[axes.Numbers, axes.Numbers], axes.Axis] | None = None
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
        return self.law(fraction * s, s, R)

    def maximum_field(self, gap: ArrayLike, radius: ArrayLike) -> Floats:
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
        return self.axis_field(0.0, gap, radius)

    def utilization_factor(self, gap: ArrayLike, radius: ArrayLike) -> Floats:
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
        return np.asarray(1 / (np.asarray(gap, dtype=np.float64) * self.maximum_field(gap, radius)))


def coaxial_cylinders(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between coaxial cylinders: ``1 / ((r + z) ln((r + gap) / r))``, r the inner radius.

    Examples
    --------
    Outer over inner radius e, the most favourable ratio: utilization factor 1 / (e - 1).

    >>> f"{COAXIAL_CYLINDERS.utilization_factor(np.e - 1, 1.0):.6f}"
    '0.581977'
    """
    return np.asarray(1 / ((radius + distance) * np.log1p(gap / radius)))


def concentric_spheres(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between concentric spheres: ``r (r + gap) / (gap (r + z)^2)``, r the inner radius."""
    return np.asarray(radius * (radius + gap) / (gap * (radius + distance) ** 2))


def parallel_cylinders(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between equal parallel cylinders, one volt between them and none to earth.

    ``a / (m (r gap + z (gap - z)))`` with ``a^2 = r gap + gap^2 / 4`` (line charges at distance a from the middle)
    and ``cosh(m) = 1 + gap / (2 r)``; at the surface ``sqrt((D + 2 r)/(D - 2 r)) / (2 r arcosh(D / (2 r)))`` with the
    axis distance D.
    """
    s, r, z = gap, radius, distance
    a = np.sqrt(s * (r + s / 4))
    m = 2 * np.arcsinh(np.sqrt(s / r) / 2)
    return np.asarray(a / (m * (r * s + z * (s - z))))


def cylinder_plane(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between a cylinder and a plane: half of two cylinders at twice the gap and voltage."""
    return 2 * parallel_cylinders(distance, 2 * gap, radius)


def hyperboloid_plane(distance: Floats, gap: Floats, radius: Floats) -> Floats:
    """Return the field between a hyperboloid of revolution and the plane of its confocal family.

    ``a / (y (r gap + z (2 gap - z)))`` with ``a^2 = gap (gap + r)``, ``sinh(y)^2 = gap / r``, r the radius of
    curvature at the tip; at the tip ``2 / (r h ln((1 + h)/(1 - h)))`` with ``h^2 = gap / (gap + r)``.
    """
    d, r, z = gap, radius, distance
    y = np.arcsinh(np.sqrt(d / r))
    return np.asarray(np.sqrt(d * (d + r)) / (y * (r * d + z * (2 * d - z))))


COAXIAL_CYLINDERS = Shape("coaxial cylinders", coaxial_cylinders, axis=axes.coaxial_cylinders)
CONCENTRIC_SPHERES = Shape("concentric spheres", concentric_spheres, axis=axes.concentric_spheres)
PARALLEL_CYLINDERS = Shape("parallel cylinders", parallel_cylinders, middle_of_gap, axes.parallel_cylinders)
CYLINDER_PLANE = Shape("cylinder and plane", cylinder_plane, axis=axes.cylinder_plane)
HYPERBOLOID_PLANE = Shape("hyperboloid and plane", hyperboloid_plane, axis=axes.hyperboloid_plane)
