"""Concentric spheres."""

from __future__ import annotations

from service.electrodes.coaxial_cylinders import INNER, OUTER, completed, gap_between
from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Sketch, one_in_another
from service.methods.method import Arrangement
from service.methods.shapes import Electrode, half
from service.physics.fields import CONCENTRIC_SPHERES
from service.reference import Reference


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    inner = Electrode(CONCENTRIC_SPHERES, half("inner_diameter"), corona="spheres")
    return Arrangement(
        "concentric-spheres",
        "Concentric spheres",
        "A ball in the middle of a hollow ball.",
        criterion_methods(reference, inner),
        (INNER, OUTER),
        gap_from=gap_between,
        completes=completed,
        gap_by="outer_diameter",
        advice=OTHER_GAS,
        sketch=Sketch(one_in_another),
    )
