"""Two needle points: the handbook table."""

from __future__ import annotations

import numpy as np

from service.electrodes._base import Arrangement, Case, Estimate, Limit, Method, Validity, banded
from service.electrodes._laws import constants
from service.electrodes._points import NeedleTable, lowest_density
from service.reference import Reference

UNCERTAINTY = 0.10
"""Half width of the band; the source states none (physics of the trade: 10 %, common practice, no source)."""


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
        notes = ("New needles; used or blunt ones differ. The table is printed for 50 or 60 Hz.",)
        held_note = ("The humidity lies outside the range of the correction, which is held at its end.",)
        return banded(
            volts,
            band,
            corrections={"atmospheric_correction_factor": factor},
            notes=(*notes, *(held_note if held.any() else ())),
            provenance=printed.provenance[0],
            row=_rows(table, float(case.gap[0])),
        )

    limits = (
        Limit("gap", "length", float(table.spacings[0]), float(table.spacings[-1])),
        Limit("relative_density", "number", lowest_density(reference), 1.3),
        Limit("frequency", "frequency", 0.0, 20e3),
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
            words="needle points in air, alternating voltage, 4.2 to 547 mm, relative density from 0.7; "
            "below 4.2 mm (5 kV) ask electrodes=unknown",
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
    )


def _rows(table: NeedleTable, gap: float) -> str:
    after = int(np.clip(np.searchsorted(table.spacings, gap), 1, table.spacings.size - 1))
    pair = table.spacings[after - 1 : after + 1] * 100
    return f"spacings {pair[0]:g} and {pair[1]:g} cm"
