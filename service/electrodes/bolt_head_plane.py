"""The head of a hexagon screw over a plane."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.electrodes.flat_rod_plane import EDGE
from service.methods.criterion import Computed, computed_arrangement
from service.methods.drawing import DimensionLine, Drawing, Metal, Sizes, box, edged_over_plane
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import whole
from service.parameters import Parameter
from service.reference import Reference

THREAD = Parameter(
    "thread",
    "choice",
    "Thread of the screw.",
    default="M6",
    choices=("M3", "M4", "M5", "M6", "M8", "M10", "M12", "M16", "M20"),
)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    heads = reference.table("hexagon-heads")
    flats = dict(zip(heads.text("size"), heads["across_flats"].tolist(), strict=True))

    tall = dict(zip(heads.text("size"), heads["head_height"].tolist(), strict=True))

    def drawing(sizes: Sizes, gap: float) -> Drawing:
        thread = str(sizes["thread"])
        return head_drawing(sizes, gap, flats[thread], tall[thread])

    def proportions(case: Case) -> tuple[FloatArray, ...]:
        thread = case.options["thread"]
        size = np.full(case.size, float(thread.removeprefix("M")))
        return size, case.gap / flats[thread], case.dimensions["edge_radius"] / flats[thread]

    computed = Computed(
        reference,
        "bolt-head-plane",
        proportions,
        {
            "thread in mm": "thread",
            "gap over width across flats": "gap",
            "edge radius over width across flats": "edge_radius",
        },
    )
    return computed_arrangement(
        computed,
        "Bolt head and plane",
        "The head of a hexagon screw on its shank, facing an earthed plate much wider than the gap.",
        whole("edge_radius"),
        (THREAD, EDGE),
        drawing,
        "A body of revolution across the flats: the corners of a real head start somewhat earlier.",
    )


def head_drawing(sizes: Sizes, gap: float, flats: float, high: float) -> Drawing:
    """Return a screw head on its shank over a plate."""
    width, height = "width across flats", "height of the head"
    found = edged_over_plane(width, height, {**sizes, width: flats, height: high}, gap)
    half, top = float(str(sizes["thread"]).removeprefix("M")) / 2e3, gap + high
    shank = Metal(box(half, top, top + 2 * high))
    thread = DimensionLine(complex(-half, top + 0.5 * high), complex(half, top + 0.5 * high), "thread")
    reach = (*found.reach[:2], top + high)
    return replace(found, metals=(shank, *found.metals), dimensions=(*found.dimensions, thread), reach=reach)
