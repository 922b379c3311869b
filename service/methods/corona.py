"""Corona onset by the classical formulas: shown beside the criterion, never in its place."""

from __future__ import annotations

import numpy as np

from service.methods.air_forms import handover
from service.methods.brackets import LONGEST, LOWER, bounds
from service.methods.form import NARROWEST_GAP
from service.methods.laws import corona_laws
from service.methods.method import (
    DENSITY,
    FREQUENCY,
    GAP,
    PRODUCT,
    Case,
    Estimate,
    Limit,
    Method,
    Quantity,
    Validity,
)
from service.methods.shapes import Electrode
from service.physics.corona import onset_field
from service.reference import Reference

RADII = {"parallel-wires": (1e-4, 0.05), "coaxial-cylinders": (1e-4, 0.05), "spheres": (1e-3, 0.25)}
"""Radii times relative density at which the formulas are used [m]; about those they were measured on, memory."""
DENSITIES, POWER = (0.3, 3.0), 1e3
"""Relative densities, and the highest frequency [Hz], at which they are used; common practice, no source."""
UNCERTAINTY_PERCENT = 10.0
"""Of the onset; common practice, no source. The criterion agrees with it within 10 % over these radii."""
NOTE = (
    "Onset of corona on smooth, clean, dry conductors at power frequency, not breakdown; weathered or stranded wire "
    "starts at 0.8 to 0.98 of it."
)


def corona_method(reference: Reference, electrode: Electrode) -> tuple[Method, ...]:
    """Return the corona formula of a shape, or nothing where it has none.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    """
    if electrode.corona is None:
        return ()
    key = electrode.corona
    law, table, ends = corona_laws(reference)[key], reference.table("peek-constants"), bounds(reference)

    def function(case: Case) -> Estimate:
        radius = electrode.radius(case)
        onset = onset_field(law, radius, case.relative_density) / electrode.maximum_field(case)
        low, high = ends.bracket(case, LOWER * onset)
        eta = electrode.utilization(case)
        return Estimate(np.full(case.size, np.nan), low, high, inception=onset, utilization=eta, notes=(NOTE,))

    name = "radius times relative density"
    scaled = Quantity(name, "length", name, lambda case: electrode.radius(case) * case.relative_density)
    smallest, largest = RADII[key]
    limits = (
        Limit("gap", PRODUCT, handover(reference)[0], 5e5),
        Limit("gap", GAP, NARROWEST_GAP, LONGEST),
        Limit("pressure", DENSITY, *DENSITIES),
        Limit(electrode.radius.parameter, scaled, smallest, largest),
        Limit("frequency", FREQUENCY, 0.0, POWER),
    )
    method = Method(
        f"corona-onset-{key}",
        f"Corona onset by the classical formula ({key.replace('-', ' ')})",
        "formula",
        function,
        Validity(
            frozenset({"air"}),
            options=electrode.chosen,
            limits=limits,
        ),
        UNCERTAINTY_PERCENT,
        table.source,
        table.provenance_words[-1],
    )
    return (method,)
