"""A bar along a plane, its edges rounded."""

from __future__ import annotations

from functools import partial

import numpy as np

from service.electrodes.flat_rod_plane import EDGE
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import edged_over_plane
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import whole
from service.parameters import Parameter
from service.reference import Reference

WIDTH = Parameter(
    "bar_width", "length", "Width of the bar, along the plane.", low=1e-5, high=10.0, required=True, example="30mm"
)
THICKNESS = Parameter(
    "bar_thickness",
    "length",
    "Thickness of the bar, across the gap.",
    low=1e-5,
    high=10.0,
    required=True,
    example="5mm",
)


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    width, high = case.dimensions["bar_width"], case.dimensions["bar_thickness"]
    return case.gap / width, high / width, case.dimensions["edge_radius"] / np.minimum(width, high)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    computed = Computed(
        reference,
        "bar-plane",
        _proportions,
        {
            "gap over width": "gap",
            "thickness over width": "bar_thickness",
            "edge radius over the smaller side": "edge_radius",
        },
    )
    return computed_arrangement(
        computed,
        "Bar and plane",
        "A long bar of rectangular section along an earthed plate, its edges rounded: a busbar in its box.",
        whole("edge_radius"),
        (WIDTH, THICKNESS, EDGE),
        partial(edged_over_plane, "bar_width", "bar_thickness"),
    )
