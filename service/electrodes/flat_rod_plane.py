"""A rod cut flat over a plane, its edge rounded."""

from __future__ import annotations

from functools import partial

from service.electrodes.rounded_rod_plane import ROD
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import edged_over_plane
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import whole
from service.parameters import Parameter
from service.reference import Reference

EDGE = Parameter(
    "edge_radius",
    "length",
    "Radius of the edges; sharper ones start earlier.",
    low=1e-6,
    high=1.0,
    required=True,
    example="0.2mm",
)


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    radius = case.dimensions["rod_diameter"] / 2
    return case.gap / radius, case.dimensions["edge_radius"] / radius


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    computed = Computed(
        reference,
        "flat-rod-plane",
        _proportions,
        {
            "gap over radius": "gap",
            "edge radius over radius": "edge_radius",
        },
    )
    return computed_arrangement(
        computed,
        "Flat rod and plane",
        "A round rod cut at a right angle, its edge rounded, facing an earthed plate much wider than the gap.",
        whole("edge_radius"),
        (ROD, EDGE),
        partial(edged_over_plane, "rod_diameter", None),
    )
