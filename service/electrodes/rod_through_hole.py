"""A rod through a round hole of a plate, the edges of the hole rounded."""

from __future__ import annotations

from service.electrodes.flat_rod_plane import EDGE
from service.electrodes.rounded_rod_plane import ROD
from service.methods.computed import SOURCE_NOTE, Computed, computed_methods
from service.methods.criterion import SHORT_GAP_ADVICE
from service.methods.method import Arrangement, Case, FloatArray
from service.parameters import Parameter
from service.reference import Reference

THICKNESS = Parameter(
    "plate_thickness", "length", "Thickness of the plate.", low=1e-5, high=10.0, required=True, example="3mm"
)


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    thickness = case.dimensions["plate_thickness"]
    edge = case.dimensions["edge_radius"] / thickness
    return case.gap / (case.dimensions["rod_diameter"] / 2), thickness / case.gap, edge


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    computed = Computed(
        reference,
        "rod-through-hole",
        _proportions,
        ("gap over radius of the rod", "thickness over gap", "edge radius over thickness"),
    )
    return Arrangement(
        "rod-through-hole",
        "Rod through a hole",
        "A long rod through the middle of a round hole in an earthed plate: the gap is the ring between rod and hole.",
        computed_methods(reference, computed, lambda case: case.dimensions["rod_diameter"] / 2, "a rod through a hole"),
        (
            ROD,
            THICKNESS,
            EDGE,
        ),
        notes=(
            SOURCE_NOTE,
            "Without the insulator of a bushing: in a real one the voltage is lower.",
        ),
        advice=SHORT_GAP_ADVICE,
    )
