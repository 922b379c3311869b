"""Corona onset by the classical formulas: the field at a conductor's surface at which its corona starts.

All take the relative density referred to 20 degC and 101.3 kPa, as everywhere here; the formulas were written for 25
degC and 76 cm of mercury, and the change is made inside. The onset voltage is the field divided by the highest field
per volt of the shape (`service.physics.fields.Shape.maximum_field`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within

DENSITY_AT_25_DEGREES = (101.3e3 / 101325.0) * (298.15 / 293.15)
"""Density at 20 degC and 101.3 kPa over that at 25 degC and 76 cmHg."""


def onset_field_parallel_wires(
    radius: ArrayLike, relative_density: ArrayLike, surface_factor: ArrayLike = 1.0
) -> Floats:
    """Return the corona onset field of parallel wires.

    ``field = 30 delta m (1 + 0.301 / sqrt(delta radius))`` kV/cm, radius in cm

    Parameters
    ----------
    radius : array_like
        Radius of the wire [m]; greater than zero.
    relative_density : array_like
        Air density relative to 20 degC and 101.3 kPa; greater than zero.
    surface_factor : array_like
        Surface factor m: 1 for polished wire, about 0.93 to 0.98 for weathered, 0.80 to 0.87 for stranded; 0 to 1.

    Returns
    -------
    ndarray
        Peak field at the surface [V/m].

    Raises
    ------
    OutsideValidity
        When an argument is not positive, or the surface factor exceeds one.

    Notes
    -----
    Alternating voltage; measured on wires of 1 to 10 mm. The sources print 0.301 or 0.3.

    References
    ----------
    peek-1929, law of corona for parallel wires; from memory.

    Examples
    --------
    Wire of 1 cm radius at 25 degC and 76 cmHg: 39.0 kV/cm.

    >>> f"{onset_field_parallel_wires(0.01, 1 / DENSITY_AT_25_DEGREES) / 1e5:.1f}"
    '39.0'
    """
    m = within("surface_factor", surface_factor, 0.0, 1.0, "")
    return _onset(3.0e6 * positive("surface_factor", m, ""), 0.0301, radius, relative_density)


def onset_field_coaxial(radius: ArrayLike, relative_density: ArrayLike, surface_factor: ArrayLike = 1.0) -> Floats:
    """Return the corona onset field of the inner of two coaxial cylinders.

    ``field = 31 delta m (1 + 0.308 / sqrt(delta radius))`` kV/cm, radius in cm

    Parameters
    ----------
    radius : array_like
        Radius of the inner cylinder [m]; greater than zero.
    relative_density : array_like
        Air density relative to 20 degC and 101.3 kPa; greater than zero.
    surface_factor : array_like
        Surface factor m, see `onset_field_parallel_wires`; 0 to 1.

    Returns
    -------
    ndarray
        Peak field at the surface [V/m].

    Raises
    ------
    OutsideValidity
        When an argument is not positive, or the surface factor exceeds one.

    References
    ----------
    peek-1929, law of corona for concentric cylinders; from memory.
    """
    m = within("surface_factor", surface_factor, 0.0, 1.0, "")
    return _onset(3.1e6 * positive("surface_factor", m, ""), 0.0308, radius, relative_density)


def onset_field_spheres(radius: ArrayLike, relative_density: ArrayLike) -> Floats:
    """Return the corona onset field of a sphere.

    ``field = 27.2 delta (1 + 0.54 / sqrt(delta radius))`` kV/cm, radius in cm

    Parameters
    ----------
    radius : array_like
        Radius of the sphere [m]; greater than zero.
    relative_density : array_like
        Air density relative to 20 degC and 101.3 kPa; greater than zero.

    Returns
    -------
    ndarray
        Peak field at the surface [V/m].

    Raises
    ------
    OutsideValidity
        When an argument is not positive.

    Notes
    -----
    For spacings at which corona or breakdown starts at the surface, not for near spheres, whose field is uniform.

    References
    ----------
    peek-1929, sphere gaps; from memory.
    """
    return _onset(np.asarray(2.72e6), 0.054, radius, relative_density)


def _onset(field: Floats, root: float, radius: ArrayLike, relative_density: ArrayLike) -> Floats:
    r = positive("radius", radius, "m")
    delta = positive("relative_density", relative_density, "") * DENSITY_AT_25_DEGREES
    return np.asarray(field * delta * (1 + root / np.sqrt(delta * r)))
