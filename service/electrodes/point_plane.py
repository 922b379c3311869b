"""A rounded point over a plane: a hyperboloid of the tip's radius."""

from __future__ import annotations

import numpy as np

from service.methods.criterion import criterion_methods
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import Electrode
from service.parameters import Parameter
from service.physics.fields import HYPERBOLOID_PLANE
from service.reference import Reference

TIP = Parameter(
    "tip_radius", "length", "Radius of curvature of the tip.", low=1e-7, high=1.0, required=True, example="1mm"
)


def _tip(case: Case) -> FloatArray:
    return np.asarray(case.dimensions["tip_radius"])


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    point = Electrode(HYPERBOLOID_PLANE, _tip, "a hyperboloid point over a plane", corona="spheres")
    return Arrangement(
        "point-plane",
        "Point and plane",
        "A rod ground to a rounded tip, pointing at an earthed plate.",
        criterion_methods(reference, point),
        (TIP,),
        advice="A tip too fine for the criterion: ask electrodes=unknown, whose low end is for sharp points.",
    )
