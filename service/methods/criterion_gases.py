"""Non-uniform fields in other gases than air: a criterion in sulfur hexafluoride, elsewhere a bound from above."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.methods.brackets import bounds
from service.methods.gas_rows import gas_rows
from service.methods.laws import constants
from service.methods.method import (
    FREQUENCY,
    GAP,
    PRESSURE,
    PRODUCT,
    Case,
    Estimate,
    FloatArray,
    Limit,
    Method,
    Validity,
)
from service.methods.plates import plates
from service.methods.shapes import Electrode, fineness, strength, utilization_limits
from service.methods.weak_field import FASTEST, WeakField
from service.physics.ionization import IonizationFit
from service.reference import Reference

SULFUR_HEXAFLUORIDE = "sulfur-hexafluoride"
LOW, HIGH = 0.25, 0.10
"""Band of the criterion in sulfur hexafluoride; wide below, as in a uniform field at 5 bar; not checked, no source."""
FINEST = 100.0
"""Smallest reduced pressure times radius [Pa m]: 1 mm at 1 bar; below it the surface decides; no source."""
SURFACE_NOTE = (
    "Clean, smooth electrodes; in this gas roughness and particles lower the voltage by half and more. The criterion "
    "is checked in a uniform field only."
)
NO_CRITERION = (
    "No criterion is offered for this gas and shape: only the uniform-field voltage bounds it, from above; how early "
    "breakdown comes is not known here."
)


def gas_methods(reference: Reference, electrode: Electrode, weak: WeakField) -> tuple[Method, ...]:
    """Return the methods of a shape in other gases than air.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    weak : WeakField
    """
    others = [method for method in plates(reference) if not method.validity.gases & {"air", "vacuum"}]
    return (_linear_gas(reference, electrode, weak), *(_from_above(method, electrode) for method in others))


def _linear_gas(reference: Reference, electrode: Electrode, weak: WeakField) -> Method:
    """Return the criterion with an ionization linear in the field."""
    value, ends = constants(reference, "gas-constants"), bounds(reference)
    row = next(row for row in gas_rows(reference) if row.key == "streamer-sulfur-hexafluoride-kuffel")
    fit = IonizationFit(
        row.far_exponent,
        branch=0.0,
        slope=value["sulfur-hexafluoride-kuffel-slope"],
        intercept=value["sulfur-hexafluoride-kuffel-offset"],
        highest=value["sulfur-hexafluoride-field-to"],
    )

    def function(case: Case) -> Estimate:
        volts = electrode.inception(case, fit).voltage
        eta = electrode.utilization(case)
        band = (volts * (1 - LOW), volts * (1 + HIGH))
        estimate = Estimate(volts, *band, inception=volts, utilization=eta, notes=(SURFACE_NOTE,))
        corrected = weak.corrected(case, estimate)
        return replace(corrected, high=np.fmax(np.fmin(corrected.high, ends.uniform(case)[1]), corrected.value))

    def highest_field(case: Case) -> FloatArray:
        return electrode.inception(case, fit).maximum_reduced_field

    limits = (
        Limit("gap", PRODUCT, row.pd_from, row.pd_to),
        Limit("pressure", PRESSURE, high=row.pressure_to),
        Limit("gap", GAP, 1e-4, 1.0),
        fineness(electrode, FINEST),
        Limit("frequency", FREQUENCY, 0.0, FASTEST),
        utilization_limits(electrode)[0],
        strength(electrode, fit.highest, highest_field),
    )
    return Method(
        "streamer-sulfur-hexafluoride",
        "Streamer criterion, ionization linear in the field",
        "model",
        function,
        Validity(
            frozenset({SULFUR_HEXAFLUORIDE}),
            options=electrode.chosen,
            limits=limits,
        ),
        LOW * 100,
        row.source,
        row.provenance,
    )


def _from_above(uniform_method: Method, electrode: Electrode) -> Method:
    """Return the bracket without a low end under a method of the uniform field."""

    def function(case: Case) -> Estimate:
        uniform = uniform_method.function(case)
        nothing = np.full(case.size, np.nan)
        eta = electrode.utilization(case)
        return Estimate(nothing, nothing, uniform.high, utilization=eta, notes=(NO_CRITERION, *uniform.notes))

    return Method(
        f"below-{uniform_method.key}",
        f"Bounded by the uniform field ({uniform_method.title})",
        "bracket",
        function,
        Validity(
            uniform_method.validity.gases,
            options=electrode.chosen,
            limits=uniform_method.validity.limits,
        ),
        None,
        uniform_method.source,
        uniform_method.provenance,
    )
