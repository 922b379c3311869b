"""A point over a plane as a hyperboloid; its low end is that of a rod of the same tip."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.electrodes import rounded_rod_plane
from service.methods.brackets import OTHER_GAS, bounds
from service.methods.case import AIR
from service.methods.criterion import WEAK_BAND, Computed, criterion_methods
from service.methods.drawing import DimensionLine, Drawing, Metal, Sizes, Sketch, disc, gap_line, plane
from service.methods.laws import ionization_fits
from service.methods.method import Arrangement, Case, Estimate, FloatArray, Method, single
from service.methods.shapes import Electrode, whole
from service.parameters import Parameter
from service.physics.criterion import inception
from service.physics.fields import HYPERBOLOID_PLANE, SPHERE_PLANE
from service.physics.numbers import Numbers
from service.reference import Reference

TIP = Parameter(
    "tip_radius", "length", "Radius of curvature of the tip.", low=1e-7, high=1.0, required=True, example="1mm"
)
ROD_NOTE = (
    "A hyperboloid is a cone without end that shields its own tip, opening wider the smaller the gap is; a rod or slim "
    "cone with the same tip starts up to 45 % lower, and the low end is that of a rod: for what you have ask "
    "electrodes=rounded-rod-plane or cone-plane."
)


_tip = whole("tip_radius")


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    point = Electrode(HYPERBOLOID_PLANE, _tip, corona="spheres")
    rod = _Rod(reference)
    return Arrangement(
        "point-plane",
        "Hyperboloid point and plane",
        "A point shaped as a hyperboloid: a cone without end whose rounded tip points at an earthed plate.",
        tuple(rod.lowered(method) for method in criterion_methods(reference, point)),
        (TIP,),
        notes=(ROD_NOTE,),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return a hyperboloid over a plate, with the circle that its tip has the curvature of."""
    radius = float(sizes["tip_radius"])
    high = gap + max(gap, 4 * radius)
    turn = np.linspace(-1, 1, 121) ** 3 * np.arccosh(1.05 * high / gap)
    point = np.sqrt(radius * gap) * np.sinh(turn) + 1j * gap * np.cosh(turn)
    middle = 1j * (gap + radius)
    return Drawing(
        (Metal(point), Metal(disc(middle, radius), solid=False, vague=True), plane(high)),
        (gap_line(gap), DimensionLine(middle, middle + radius, "tip_radius")),
        (1.5 * radius, -0.12 * high, high),
    )


class _Rod:
    """A rod with a hemispherical end of the tip's radius: what a bench has in place of a hyperboloid."""

    def __init__(self, reference: Reference) -> None:
        self.fit = ionization_fits(reference)["quadratic"]
        self.ends = bounds(reference)
        self.table = Computed(
            reference, "rounded-rod-plane", lambda case: (case.gap / _tip(case),), rounded_rod_plane.NAMES
        )

    def inception(self, case: Case) -> Numbers:
        """Return an inception voltage that the rod has at least [V].

        Before the rows it is that of a free ball, which is lower; beyond them that of the last row, since a larger gap
        never lowers the inception of a rod.
        """
        found: FloatArray = case.kept("inception-of-the-rod", lambda: self._inception(case.in_arrays))
        return single(found) if case.is_plain else found

    def _inception(self, case: Case) -> FloatArray:
        ratio, axis = case.gap / _tip(case), self.table.axes[0]
        within = replace(case, gap=np.minimum(case.gap, axis[-1] * _tip(case)))
        rod: FloatArray = self.table.lines(within).inception(case.reduced_pressure, self.fit).voltage
        before = ratio < axis[0]
        if before.any():
            near = case.select(before)
            ball = inception(SPHERE_PLANE, near.gap, _tip(near), near.reduced_pressure, self.fit).voltage
            rod[before] = np.minimum(ball, rod[before])
        return rod

    def lowered(self, method: Method) -> Method:
        """Return a method of the criterion in air whose low end is not above that of the rod."""
        if not method.by_criterion or AIR not in method.validity.gases:
            return method

        def function(case: Case) -> Estimate:
            of, found = case.of, method.estimate(case)
            below = of.where(of.isnan(found.value), 1 - WEAK_BAND, found.low / found.value)
            # no more than holds for a rod, but what the sharpest electrode holds, every rod does
            low = of.fmax(self.inception(case) * below, self.ends.floor(case))
            return replace(found, low=of.fmin(found.low, low))

        return replace(method, function=function, by_numbers=True)
