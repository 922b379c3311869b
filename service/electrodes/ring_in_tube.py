"""A ring of round wire in a tube."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.electrodes.coaxial_cylinders import OUTER
from service.electrodes.parallel_wires import DIAMETER
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import DimensionLine, Drawing, Metal, Sizes, across, disc, gap_line
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import half
from service.reference import Reference


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    wire, tube = case.dimensions["wire_diameter"] / 2, case.dimensions["outer_diameter"] / 2
    return case.gap / wire, (case.gap + 2 * wire) / tube


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    computed = Computed(
        reference,
        "ring-in-tube",
        _proportions,
        {
            "gap over radius of the wire": "gap",
            "gap and wire over radius of the tube": "outer_diameter",
        },
    )
    return computed_arrangement(
        computed,
        "Ring in a tube",
        "A ring of round wire in the middle of a long earthed tube about the same axis.",
        half("wire_diameter"),
        (
            DIAMETER,
            replace(OUTER, required=True),
        ),
        drawing,
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a section along the axis of the tube: the ring shows as two discs."""
    radius, tube = float(sizes["wire_diameter"]) / 2, float(sizes["outer_diameter"])
    far = 1e3 * tube
    rings = (1j * (gap + radius), 1j * (tube - gap - radius))
    walls = (Metal(np.array([-far, far]) + 1j * level, solid=False) for level in (0.0, tube))
    return Drawing(
        (*walls, Metal(disc(rings[0], radius)), Metal(disc(rings[1], radius, 1.0))),
        (
            gap_line(gap),
            across(rings[0], radius, "wire_diameter"),
            DimensionLine(complex(0.3 * tube), complex(0.3 * tube, tube), "outer_diameter"),
        ),
        (0.5 * tube, -0.06 * tube, 1.06 * tube),
    )
