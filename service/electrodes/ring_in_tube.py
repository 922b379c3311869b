"""A ring of round wire in a tube."""

from __future__ import annotations

from dataclasses import replace

from service.electrodes.coaxial_cylinders import OUTER
from service.electrodes.parallel_wires import DIAMETER
from service.methods.computed import SOURCE_NOTE, Computed, computed_methods
from service.methods.criterion import SHORT_GAP_ADVICE
from service.methods.method import Arrangement, Case, FloatArray
from service.methods.shapes import half
from service.reference import Reference


def _proportions(case: Case) -> tuple[FloatArray, ...]:
    wire, tube = case.dimensions["wire_diameter"] / 2, case.dimensions["outer_diameter"] / 2
    return case.gap / wire, (case.gap + 2 * wire) / tube


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    computed = Computed(
        reference, "ring-in-tube", _proportions, ("gap over radius of the wire", "gap and wire over radius of the tube")
    )
    return Arrangement(
        "ring-in-tube",
        "Ring in a tube",
        "A ring of round wire in the middle of a long earthed tube about the same axis.",
        computed_methods(reference, computed, half("wire_diameter"), "a ring in a tube"),
        (
            DIAMETER,
            replace(OUTER, required=True),
        ),
        notes=(SOURCE_NOTE,),
        advice=SHORT_GAP_ADVICE,
    )
