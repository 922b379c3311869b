"""Wire and plane."""

from __future__ import annotations

from functools import partial

from service.electrodes.parallel_wires import DIAMETER
from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Sketch, disc_over_plane
from service.methods.method import Arrangement
from service.methods.shapes import Electrode, half
from service.physics.fields import CYLINDER_PLANE
from service.reference import Reference


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    wire = Electrode(CYLINDER_PLANE, half("wire_diameter"), corona="parallel-wires")
    return Arrangement(
        "wire-plane",
        "Wire and plane",
        "A bare round wire along a plate much wider than the gap.",
        criterion_methods(reference, wire),
        (DIAMETER,),
        advice=OTHER_GAS,
        sketch=Sketch(partial(disc_over_plane, "wire_diameter")),
    )
