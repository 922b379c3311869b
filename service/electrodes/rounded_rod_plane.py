"""A rod with a hemispherical end over a plane."""

from __future__ import annotations

from dataclasses import replace

from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import Drawing, Sizes, edged_over_plane
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import half
from service.parameters import Parameter
from service.reference import Reference

ROD = Parameter("rod_diameter", "length", "Diameter of the rod.", low=1e-4, high=10.0, required=True, example="10mm")


NAMES = {"gap over radius": "gap"}


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    return (case.gap / (case.dimensions["rod_diameter"] / 2),)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    computed = Computed(reference, "rounded-rod-plane", _proportions, NAMES)
    return computed_arrangement(
        computed,
        "Rounded rod and plane",
        "A round rod with a hemispherical end, pointing at an earthed plate much wider than the gap.",
        half("rod_diameter"),
        (ROD,),
        drawing,
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a rod with a round end over a plate."""
    found = edged_over_plane("rod_diameter", None, {**sizes, "edge_radius": float(sizes["rod_diameter"]) / 2}, gap)
    return replace(found, dimensions=found.dimensions[:2])  # the edge is the whole end
