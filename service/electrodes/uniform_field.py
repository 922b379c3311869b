"""Parallel plates: a uniform field."""

from __future__ import annotations

from service.methods import Arrangement
from service.methods.plates import plates
from service.reference import Reference

NOTES = (
    "Plates with rounded rims, several gaps wide; a sharp rim or a burr breaks down earlier.",
    "The first sparks of new or dusty plates lie low, and an insulator across the gap flashes over earlier.",
)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    return Arrangement(
        "uniform-field",
        "Uniform field",
        "Two flat plates with rounded rims, much wider than their gap; also the middle of a very gentle curve.",
        plates(reference),
        notes=NOTES,
    )
