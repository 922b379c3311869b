"""Two needle points: the handbook table."""

from __future__ import annotations

import numpy as np

from service.methods.laws import constants
from service.methods.method import Arrangement, Case, Estimate, Limit, Method, Validity, banded
from service.methods.points import HELD_NOTE, POWER_FREQUENCY, NeedleTable, lowest_density, spacing_row
from service.physics.atmospheric_correction import HIGHEST_DENSITY
from service.reference import Reference

UNCERTAINTY = 0.10
"""Half width of the band; the source states none: common practice, no source."""
NOTE = "New sewing needles; used or blunt ones differ, and the voltage depends strongly on humidity."


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    printed = reference.table("needle-gap")
    table = NeedleTable.of(reference)
    held_widening = constants(reference, "correction-constants")["beyond-humidity-range-widening"]

    def function(case: Case) -> Estimate:
        volts, factor, held = table.voltage(case)
        band = UNCERTAINTY + np.where(held, held_widening, 0.0)
        notes = (NOTE, *((HELD_NOTE,) if held.any() else ()))
        return banded(
            volts,
            band,
            corrections={"atmospheric_correction_factor": factor},
            notes=notes,
            provenance=printed.provenance[0],
            row=spacing_row(table.spacings, float(case.gap[0])),
        )

    limits = (
        Limit("gap", "length", float(table.spacings[0]), float(table.spacings[-1])),
        Limit("relative_density", "number", lowest_density(reference), HIGHEST_DENSITY),
        POWER_FREQUENCY,
    )
    method = Method(
        "needle-gap-table",
        "Needle-gap table of the handbooks",
        "table",
        function,
        Validity(
            frozenset({"air"}),
            frozenset({"ac"}),
            limits=limits,
            words="needle points in air, alternating voltage of 50 or 60 Hz, 4.2 to 547 mm, relative density from 0.7",
        ),
        UNCERTAINTY * 100,
        printed.source,
        printed.provenance_words[0],
    )
    return Arrangement(
        "needle-gap",
        "Needle gap",
        "Two new sewing needles or equally sharp points facing each other.",
        (method,),
        advice="The needle table is for 50 or 60 Hz from 4.2 mm (5 kV); below and for other voltages ask "
        "electrodes=unknown.",
    )
