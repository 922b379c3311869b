"""Corona onset by the classical formula: the field at a conductor's surface at which its corona starts."""

from __future__ import annotations

from dataclasses import dataclass

from service.physics.domain import positive_numbers, within_numbers
from service.physics.numbers import Numbers, functions_for


@dataclass(frozen=True)
class CoronaLaw:
    """Constants of the corona onset field of one shape.

    Parameters
    ----------
    field : float
        Peak field of a large conductor at the law's own reference density [V/m].
    root : float
        Weight of the curvature [m^0.5].
    reference_density : float
        Density at which delta of the law is one, relative to 20 degC and 101.3 kPa.
    """

    field: float
    root: float
    reference_density: float = 1.0


def onset_field(law: CoronaLaw, radius: Numbers, relative_density: Numbers, surface_factor: Numbers = 1.0) -> Numbers:
    """Return the field at the surface at which corona starts.

    ``field = g0 delta m (1 + c / sqrt(delta radius))``, delta referred to the reference density of the law

    Parameters
    ----------
    law : CoronaLaw
        Constants g0 and c of the shape: parallel wires, coaxial cylinders or spheres.
    radius : array_like
        Radius of the conductor [m]; greater than zero.
    relative_density : array_like
        Air density relative to 20 degC and 101.3 kPa, as everywhere here; greater than zero.
    surface_factor : array_like
        Factor m: 1 for polished, about 0.93 to 0.98 for weathered, 0.80 to 0.87 for stranded wire; above 0, to 1.

    Returns
    -------
    ndarray
        Peak field [V/m]; over the highest field per volt of the shape it is the onset voltage.

    Raises
    ------
    OutsideValidity
        When an argument is not positive, or the surface factor exceeds one.

    Notes
    -----
    Alternating voltage, isolated conductors, dry weather. The formula was written for 25 degC and 76 cm of mercury.

    References
    ----------
    peek-1929; from memory.

    Examples
    --------
    Parallel wires of 1 cm radius at the reference density: 39.0 kV/cm.

    >>> f"{onset_field(CoronaLaw(field=30e5, root=0.0301), 0.01, 1.0) / 1e5:.1f}"
    '39.0'
    """
    r = positive_numbers("radius", radius, "m")
    delta = positive_numbers("relative_density", relative_density, "") / law.reference_density
    m = within_numbers("surface_factor", positive_numbers("surface_factor", surface_factor, ""), 0.0, 1.0, "")
    return law.field * delta * m * (1 + law.root / functions_for(delta * r).sqrt(delta * r))
