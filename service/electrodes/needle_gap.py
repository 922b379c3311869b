"""Two needle points: the handbook table, and brackets beyond it."""

from __future__ import annotations

import numpy as np

from service.methods.brackets import NEEDLE_AIR, OTHER_GAS
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, gap_line
from service.methods.method import Arrangement
from service.methods.rods import RodLaw, rod_methods
from service.reference import Reference, Tabulated

UNCERTAINTY = 0.10
"""Half width of the band; the source states none: common practice, no source."""
NOTE = "New sewing needles; used or blunt ones differ, and the voltage depends strongly on humidity."


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    table = reference.table("needle-gap")
    spacings, voltages = table["spacing"], table["voltage"]
    law = RodLaw(
        "needle-gap-table",
        "Needle-gap table of the handbooks",
        "table",
        table,
        Tabulated(spacings, voltages),
        (float(spacings[0]), float(spacings[-1])),
        NEEDLE_AIR,
        "alternating",
        UNCERTAINTY,
        frozenset({"ac"}),
        notes=(NOTE,),
        spacings=spacings,
        ceiling_of=frozenset({"ac", "dc"}),
    )
    return Arrangement(
        "needle-gap",
        "Needle gap",
        "Two new sewing needles or equally sharp points facing each other.",
        rod_methods(reference, (law,)),
        advice=OTHER_GAS,
        sketch=Sketch(drawing),
    )


def drawing(_: Sizes, gap: float) -> Drawing:
    """Return two needles; the table states no more of them than that they are sewing needles."""
    half, far = gap / 24, 1.2 * gap
    upper = np.array([1j * gap, half + 1j * (gap + 8 * half), half + 3j * gap, 3j * gap - half])
    upper = np.append(upper, -half + 1j * (gap + 8 * half))
    return Drawing(
        (Metal(upper), Metal(1j * gap - upper)),
        (gap_line(gap),),
        (0.5 * gap, -far, gap + far),
        remarks=("Only the gap is to scale: the table does not state how thick its needles were.",),
    )
