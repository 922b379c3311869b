"""Two rods end to end: tables of half-inch square rods, and the law at direct voltage."""

from __future__ import annotations

from service.methods.laws import constants
from service.methods.method import Arrangement, FloatArray
from service.methods.rods import ADVICE, AMERICAN, STANDARD, RodLaw, rod_methods
from service.physics.long_gaps import straight_line
from service.reference import Reference, interpolate

ACCURACY = 0.08
"""Stated accuracy of the rod-gap tables (ieee-4)."""
SQUARE_RODS = ("Printed for rods of 15 to 25 mm square section; the direct voltage of either polarity.",)


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    laws = (_alternating(reference), _direct(reference), *_impulse(reference))
    return Arrangement(
        "rod-gap",
        "Rod gap",
        "Two half-inch square rods end to end, cut at right angles.",
        rod_methods(reference, laws),
        advice=ADVICE,
    )


def _alternating(reference: Reference) -> RodLaw:
    table = reference.table("rod-gap-60hz")
    spacing, voltage = table["spacing"], table["voltage"]

    def volts(gap: FloatArray) -> FloatArray:
        return interpolate(spacing, voltage, gap)

    return RodLaw(
        "rod-gap-table-60hz",
        "Rod-gap table, half-inch square rods, 60 Hz",
        "table",
        table,
        volts,
        (float(spacing[0]), float(spacing[-1])),
        AMERICAN,
        "alternating",
        ACCURACY,
        frozenset({"ac"}),
        spacings=spacing,
    )


def _direct(reference: Reference) -> RodLaw:
    value = constants(reference, "rod-rod-direct")

    def volts(gap: FloatArray) -> FloatArray:
        return straight_line(gap, value["slope"], value["intercept"])

    return RodLaw(
        "rod-rod-direct",
        "Rod-rod gap at direct voltage, U = 2 + 0.534 d",
        "formula",
        reference.table("rod-rod-direct"),
        volts,
        (value["lowest-spacing"], value["largest-spacing"]),
        STANDARD,
        "rod-rod-direct",
        value["uncertainty"],
        frozenset({"dc"}),
        notes=SQUARE_RODS,
    )


def _impulse(reference: Reference) -> list[RodLaw]:
    table = reference.table("rod-gap-impulse")

    def law(polarity: str) -> RodLaw:
        spacing, voltage = table["spacing"], table[f"voltage_1_50_{polarity}"]
        return RodLaw(
            f"rod-gap-table-impulse-{polarity}",
            f"Rod-gap table, 1/50 impulse, {polarity}",
            "table",
            table,
            lambda gap: interpolate(spacing, voltage, gap),
            (float(spacing[0]), float(spacing[-1])),
            AMERICAN,
            "impulse",
            ACCURACY,
            frozenset({"lightning-impulse"}),
            frozenset({polarity}),
            ("The table is printed for an impulse of 1/50 microseconds, near the standard lightning impulse.",),
            spacing,
        )

    return [law("positive"), law("negative")]
