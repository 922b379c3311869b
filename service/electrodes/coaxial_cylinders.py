"""Coaxial cylinders."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Sketch, one_in_another
from service.methods.method import Arrangement, FloatArray
from service.methods.shapes import Electrode, half
from service.parameters import Parameter
from service.physics.fields import COAXIAL_CYLINDERS
from service.reference import Reference

INNER = Parameter(
    "inner_diameter", "length", "Diameter of the inner electrode.", low=1e-6, high=10.0, required=True, example="10mm"
)
OUTER = Parameter(
    "outer_diameter", "length", "Inside diameter of the outer electrode.", low=1e-6, high=100.0, example="30mm"
)
RATIO_NOTE = (
    "Beyond a diameter ratio of e (2.718) the field at the inner cylinder falls as its corona grows: corona may come "
    "before breakdown."
)


def gap_between(dimensions: Mapping[str, FloatArray]) -> FloatArray:
    """Return the gap between inner and outer diameter [m]."""
    return np.asarray((dimensions["outer_diameter"] - dimensions["inner_diameter"]) / 2)


def completed(dimensions: Mapping[str, FloatArray], gap: FloatArray) -> Mapping[str, FloatArray]:
    """Return the dimensions with the outer diameter that a gap [m] makes."""
    return {**dimensions, "outer_diameter": dimensions["inner_diameter"] + 2 * gap}


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    inner = Electrode(
        COAXIAL_CYLINDERS,
        half("inner_diameter"),
        corona="coaxial-cylinders",
        remark=(np.e - 1, RATIO_NOTE),
    )
    return Arrangement(
        "coaxial-cylinders",
        "Coaxial cylinders",
        "A rod or wire in the middle of a tube, away from the ends.",
        criterion_methods(reference, inner),
        (INNER, OUTER),
        gap_from=gap_between,
        completes=completed,
        gap_by="outer_diameter",
        advice=OTHER_GAS,
        sketch=Sketch(one_in_another),
    )
