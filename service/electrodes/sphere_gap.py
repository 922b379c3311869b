"""Two equal spheres: the published tables, and the streamer criterion where they begin and end."""

from __future__ import annotations

from dataclasses import replace

from service.methods.brackets import OTHER_GAS, bounded
from service.methods.criterion import criterion_methods
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, box, pair_of_discs
from service.methods.method import Arrangement
from service.methods.shapes import Electrode, half
from service.methods.sphere_tables import FREE_NOTE, SIZES, Hall, table_methods
from service.parameters import Parameter
from service.physics.fields import SPHERES_ONE_EARTHED, SPHERES_SYMMETRICAL
from service.reference import Reference

DIAMETER = Parameter(
    "sphere_diameter", "length", "Diameter of the spheres.", low=1e-4, high=10.0, required=True, example="2cm"
)
EARTHING = Parameter(
    "earthing",
    "choice",
    "Whether one sphere is earthed, or both are at half the voltage.",
    default="one-earthed",
    choices=("one-earthed", "symmetrical"),
)
STEADY = frozenset({"ac", "dc"})
IMPULSES = frozenset({"lightning-impulse", "switching-impulse"})


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    radius = half("sphere_diameter")
    diameters = reference.table("iec-60052-table-2")["sphere_diameter"]
    one = Electrode(
        SPHERES_ONE_EARTHED,
        radius,
        (("earthing", "one-earthed"),),
        "spheres",
        checked_radii=(float(diameters.min()) / 2, float(diameters.max()) / 2),
    )
    both = Electrode(SPHERES_SYMMETRICAL, radius, (("earthing", "symmetrical"),), "spheres")
    models = [criterion_methods(reference, electrode) for electrode in (one, both)]
    inception = models[0][0]
    pairs = (
        table_methods(reference, 2, STEADY, None, inception),
        table_methods(reference, 2, IMPULSES, "negative", inception),
        table_methods(reference, 3, IMPULSES, "positive", inception),
    )
    tables, beyond, before = zip(*pairs, strict=True)
    hall = Hall(reference)
    printed = (bounded(reference, table) for table in (*tables, *beyond, *before))
    return Arrangement(
        "sphere-gap",
        "Sphere gap",
        "Two equal polished balls on insulating shanks, one of them earthed: the measuring gap of the laboratory.",
        tuple(hall.told(method) for method in (*printed, *models[0], *models[1])),
        (DIAMETER, EARTHING, *SIZES),
        notes=("Clean, polished spheres with nothing near but their shanks, as the standard places them.", FREE_NOTE),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


SHANK = 0.075
"""Half of the shank's thickness in diameters of the sphere; at most 0.1 is allowed."""


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return two spheres on their shanks."""
    radius = float(sizes["sphere_diameter"]) / 2
    found = pair_of_discs("sphere_diameter", sizes, gap, earthed=sizes["earthing"] == "one-earthed")
    half, far = 2 * SHANK * radius, 3 * radius
    shanks = (box(half, gap + 2 * radius, gap + far), box(half, -far, -2 * radius))
    return replace(
        found,
        metals=(*(Metal(one, solid=False, vague=True) for one in shanks), *found.metals),
        reach=(1.1 * radius, -2.6 * radius, gap + 2.6 * radius),
    )
