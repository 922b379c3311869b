"""A cone with a rounded tip over a plane."""

from __future__ import annotations

import numpy as np

from service.electrodes.point_plane import TIP
from service.methods.computed import SOURCE_NOTE, Computed, computed_methods
from service.methods.criterion import SHORT_GAP_ADVICE
from service.methods.method import Arrangement, Case, FloatArray
from service.parameters import Parameter
from service.reference import Reference

ANGLE = Parameter(
    "half_angle", "angle", "Half of the angle of the cone.", low=0.08, high=0.79, required=True, example="15deg"
)


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    return case.gap / case.dimensions["tip_radius"], np.degrees(case.dimensions["half_angle"])


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    computed = Computed(reference, "cone-plane", _proportions, ("gap over tip radius", "half angle in degrees"))
    return Arrangement(
        "cone-plane",
        "Cone and plane",
        "A long cone with a rounded tip, pointing at an earthed plate much wider than the gap.",
        computed_methods(reference, computed, lambda case: case.dimensions["tip_radius"], "a cone over a plane"),
        (
            TIP,
            ANGLE,
        ),
        notes=(SOURCE_NOTE,),
        advice=SHORT_GAP_ADVICE,
    )
