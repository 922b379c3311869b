"""Parallel wires."""

from __future__ import annotations

from functools import partial

from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Sketch, pair_of_discs
from service.methods.laws import constants
from service.methods.method import Arrangement
from service.methods.shapes import Electrode, half
from service.parameters import Parameter
from service.physics.fields import PARALLEL_CYLINDERS
from service.reference import Reference

DIAMETER = Parameter(
    "wire_diameter", "length", "Diameter of the wire or wires.", low=1e-6, high=10.0, required=True, example="2mm"
)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    # printed as axis distance over radius; the gap is two radii shorter
    slender = constants(reference, "peek-constants")["parallel-wires-corona-first"] - 2
    wire = Electrode(PARALLEL_CYLINDERS, half("wire_diameter"), corona="parallel-wires", corona_first=slender)
    return Arrangement(
        "parallel-wires",
        "Parallel wires",
        "Two bare round wires or rods side by side, the voltage between them.",
        criterion_methods(reference, wire),
        (DIAMETER,),
        advice=OTHER_GAS,
        sketch=Sketch(partial(pair_of_discs, "wire_diameter", earthed=False)),
    )
