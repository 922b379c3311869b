"""The field in a solid layer and in the air film beside it: the film, of lower permittivity, takes the larger field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from service.physics.domain import Floats, positive, within


@dataclass(frozen=True)
class LayerFields:
    """Fields in two layers in series.

    Parameters
    ----------
    solid : ndarray
        Largest field in the solid [V/m].
    film : ndarray
        Largest field in the air film, at the surface of the solid [V/m].
    film_voltage : ndarray
        Voltage across the film [V].
    """

    solid: Floats
    film: Floats
    film_voltage: Floats


def plane_layers(voltage: ArrayLike, thickness: ArrayLike, permittivity: ArrayLike, film: ArrayLike) -> LayerFields:
    """Return the fields in a plane solid layer with an air film beside it.

    ``film field = voltage / (film + thickness / permittivity)``, ``solid field = film field / permittivity``

    Parameters
    ----------
    voltage : array_like
        Across both layers [V]; greater than zero.
    thickness : array_like
        Of the solid [m]; greater than zero.
    permittivity : array_like
        Relative, of the solid; at least 1.
    film : array_like
        Thickness of the air film [m]; at least zero, where zero is a film much thinner than the solid.

    Returns
    -------
    LayerFields

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    Alternating voltage, where the permittivities share the voltage; at lasting direct voltage the resistances do, which
    are not known, and the film may get more or less.

    References
    ----------
    Continuity of the displacement; Kuffel, Zaengl, Kuffel, chapter 4 (from memory).

    Examples
    --------
    A layer of relative permittivity 1 shares like air:

    >>> fields = plane_layers(3e3, 1e-3, 1.0, 2e-3)
    >>> float(fields.solid), float(fields.film)
    (1000000.0, 1000000.0)
    """
    U, t, er = positive("voltage", voltage, "V"), positive("thickness", thickness, "m"), _relative(permittivity)
    d = within("air film", film, 0.0, np.inf, "m")
    E = U / (d + t / er)
    return LayerFields(np.asarray(E / er), np.asarray(E), np.asarray(E * d))


def coaxial_layers(
    voltage: ArrayLike, radius: ArrayLike, thickness: ArrayLike, permittivity: ArrayLike, film: ArrayLike
) -> LayerFields:
    """Return the fields in the insulation of a round conductor with an air film and an earthed tube around it.

    ``solid field = voltage / (r1 (ln(r2/r1) + er ln(r3/r2)))`` at the conductor, ``film field = er r1/r2 solid field``
    at the insulation, with r2 = r1 + thickness and r3 = r2 + film

    Parameters
    ----------
    voltage : array_like
        Between conductor and tube [V]; greater than zero.
    radius : array_like
        Of the conductor [m]; greater than zero.
    thickness : array_like
        Of the insulation [m]; greater than zero.
    permittivity : array_like
        Relative, of the insulation; at least 1.
    film : array_like
        Of air between insulation and tube [m]; at least zero.

    Returns
    -------
    LayerFields

    Raises
    ------
    OutsideValidity
        When a value leaves its range.

    Notes
    -----
    As `plane_layers`, which is the limit of a large radius.

    References
    ----------
    Gauss's law for coaxial cylinders; Kuffel, Zaengl, Kuffel, chapter 4 (from memory).

    Examples
    --------
    Without a film and with r2/r1 = e the field at the conductor is U/r1:

    >>> import math
    >>> f"{coaxial_layers(1e3, 1e-3, (math.e - 1) * 1e-3, 3.0, 0.0).solid:.6e}"
    '1.000000e+06'
    """
    U, r1, er = positive("voltage", voltage, "V"), positive("conductor radius", radius, "m"), _relative(permittivity)
    r2 = r1 + positive("thickness", thickness, "m")
    r3 = r2 + within("air film", film, 0.0, np.inf, "m")
    E1 = U / (r1 * (np.log(r2 / r1) + er * np.log(r3 / r2)))
    E2 = er * E1 * r1 / r2
    return LayerFields(np.asarray(E1), np.asarray(E2), np.asarray(E2 * r2 * np.log(r3 / r2)))


def _relative(permittivity: ArrayLike) -> Floats:
    return within("relative permittivity", permittivity, 1.0, np.inf, "")
