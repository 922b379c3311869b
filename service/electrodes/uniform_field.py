"""Parallel plates: a uniform field."""

from __future__ import annotations

from service.methods import Arrangement
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, gap_line, rounded_rectangle
from service.methods.plates import plates
from service.reference import Reference

NOTES = (
    "Plates with rounded rims, several gaps wide; a sharp rim or a burr breaks down earlier.",
    "The first sparks of new or dusty plates lie low, and an insulator across the gap flashes over earlier.",
)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    return Arrangement(
        "uniform-field",
        "Uniform field",
        "Two flat plates with rounded rims, much wider than their gap; also the middle of a very gentle curve.",
        plates(reference),
        notes=NOTES,
        sketch=Sketch(drawing),
        uniform=True,
    )


def drawing(_: Sizes, gap: float) -> Drawing:
    """Return two plates with rounded rims."""
    half, thick = 2.6 * gap, 0.7 * gap
    plates = (rounded_rectangle(half, gap, gap + thick, thick / 2), rounded_rectangle(half, -thick, 0.0, thick / 2))
    return Drawing(
        tuple(Metal(one) for one in plates),
        (gap_line(gap),),
        (2.8 * gap, -0.75 * gap, 1.75 * gap),
        remarks=("Only the gap is to scale: the plates are much wider than it.",),
    )
