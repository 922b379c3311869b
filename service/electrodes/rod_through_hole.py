"""A rod through a round hole of a plate, the edges of the hole rounded."""

from __future__ import annotations

from service.electrodes.flat_rod_plane import EDGE
from service.electrodes.rounded_rod_plane import ROD
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import DimensionLine, Drawing, Metal, Sizes, box, gap_line, rounded_rectangle
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import half
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
    """Return the arrangement."""
    computed = Computed(
        reference,
        "rod-through-hole",
        _proportions,
        {
            "gap over radius of the rod": "gap",
            "thickness over gap": "plate_thickness",
            "edge radius over thickness": "edge_radius",
        },
    )
    return computed_arrangement(
        computed,
        "Rod through a hole",
        "A long rod through the middle of a round hole in an earthed plate: the gap is the ring between rod and hole.",
        half("rod_diameter"),
        (ROD, THICKNESS, EDGE),
        drawing,
        "Without the insulator of a bushing: in a real one the voltage is lower.",
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a section along the rod: the plate shows above and below it."""
    rod, thick = float(sizes["rod_diameter"]), float(sizes["plate_thickness"])
    edge = min(float(sizes["edge_radius"]), thick / 2)
    upper, far = 2 * gap + rod, 1e3 * (gap + rod + thick)
    plates = (rounded_rectangle(thick / 2, -far, 0.0, edge), rounded_rectangle(thick / 2, upper, upper + far, edge))
    beside = 0.75 * thick + 0.25 * gap
    deep = max(0.6 * thick, 0.6 * gap, rod / 2)
    corner = complex(thick / 2 - edge, -edge)
    return Drawing(
        (Metal(box(far, gap, gap + rod)), *(Metal(one) for one in plates)),
        (
            gap_line(gap),
            DimensionLine(complex(beside, gap), complex(beside, gap + rod), "rod_diameter"),
            DimensionLine(complex(-thick / 2, -0.7 * deep), complex(thick / 2, -0.7 * deep), "plate_thickness"),
            DimensionLine(corner, corner + edge * complex(0.5**0.5, 0.5**0.5), "edge_radius"),
        ),
        (1.5 * thick + gap, -deep, upper + deep),
    )
