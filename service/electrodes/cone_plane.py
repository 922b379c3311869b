"""A cone with a rounded tip over a plane."""

from __future__ import annotations

import numpy as np

from service.electrodes.point_plane import TIP
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import DimensionLine, Drawing, Metal, Sizes, disc, gap_line, plane
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import whole
from service.parameters import Parameter
from service.reference import Reference

ANGLE = Parameter(
    "half_angle", "angle", "Half of the angle of the cone.", low=0.08, high=0.79, required=True, example="15deg"
)


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    return case.gap / case.dimensions["tip_radius"], np.degrees(case.dimensions["half_angle"])


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    computed = Computed(
        reference,
        "cone-plane",
        _proportions,
        {
            "gap over tip radius": "gap",
            "half angle in degrees": "half_angle",
        },
    )
    return computed_arrangement(
        computed,
        "Cone and plane",
        "A long cone with a rounded tip, pointing at an earthed plate much wider than the gap.",
        whole("tip_radius"),
        (TIP, ANGLE),
        drawing,
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a cone over a plate, with the circle that its tip is part of."""
    radius, half = float(sizes["tip_radius"]), float(sizes["half_angle"])
    middle, high = 1j * (gap + radius), gap + max(gap, 6 * radius)
    tip = middle + radius * np.exp(1j * np.linspace(-np.pi + half, -half, 41))
    flank = 3 * high * np.exp(1j * (np.pi / 2 - half))
    cone = np.concatenate([[tip[0] - np.conj(flank)], tip, [tip[-1] + flank]])
    side = tip[-1] + flank * np.array([0.05, 0.12])
    return Drawing(
        (Metal(cone), Metal(disc(middle, radius), solid=False, vague=True), plane(high)),
        (
            gap_line(gap),
            DimensionLine(middle, middle + radius, "tip_radius"),
            DimensionLine(complex(side[0]), complex(side[1]), "half_angle", "angle"),
        ),
        (1.5 * radius + high * np.tan(half) / 2, -0.12 * high, high),
    )
