"""A ball over a plane."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from service.electrodes.sphere_gap import DIAMETER
from service.methods.brackets import OTHER_GAS
from service.methods.criterion import criterion_methods
from service.methods.drawing import Sketch, disc_over_plane
from service.methods.method import Arrangement
from service.methods.shapes import Electrode, half
from service.physics.fields import SPHERE_PLANE
from service.reference import Reference


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    ball = Electrode(SPHERE_PLANE, half("sphere_diameter"), corona="spheres")
    return Arrangement(
        "sphere-plane",
        "Sphere and plane",
        "A polished ball over an earthed plate that is much wider than ball and gap.",
        criterion_methods(reference, ball),
        (replace(DIAMETER, meaning="Diameter of the sphere or spheres."),),
        advice=OTHER_GAS,
        sketch=Sketch(partial(disc_over_plane, "sphere_diameter")),
    )
