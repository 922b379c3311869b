"""Electrodes of unknown shape: the bracket between what sharp points and what a uniform field would do."""

from __future__ import annotations

import numpy as np

from service.methods import Arrangement
from service.methods.brackets import air_brackets, gas_brackets
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, gap_line
from service.reference import Reference


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    return Arrangement(
        "unknown",
        "Unknown electrodes",
        "Anything: bare wire ends, solder joints, screw heads, plates; the answer is a bracket.",
        (*air_brackets(reference), *gas_brackets(reference)),
        sketch=Sketch(drawing),
        shapeless=True,
    )


BLOT = (0.0, 0.35, 0.75, 0.6, 0.95, 0.7, 0.05, -0.3, -0.85, -0.65, -0.8, -0.3)
BLOT_HEIGHT = (0.0, 0.18, 0.2, 0.5, 0.7, 1.0, 0.9, 1.05, 0.95, 0.55, 0.3, 0.12)
"""An outline that is no shape in particular, in gaps."""


def drawing(_: Sizes, gap: float) -> Drawing:
    """Return two outlines that stand for anything."""
    blot = gap * (np.array(BLOT) + 1j * np.array(BLOT_HEIGHT))
    return Drawing(
        (Metal(1j * gap + blot, vague=True), Metal(-blot, vague=True)),
        (gap_line(gap),),
        (1.1 * gap, -1.2 * gap, 2.2 * gap),
        earthed=False,
        remarks=("The shape is not known: the outlines stand for anything; only the gap is to scale.",),
    )
