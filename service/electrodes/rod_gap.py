"""Two rods end to end: tables of half-inch square rods, the law at direct voltage, and long gaps."""

from __future__ import annotations

import numpy as np

from service.electrodes.rod_plane import BAND, FACTOR_BAND, gap_factors
from service.methods.brackets import OTHER_GAS
from service.methods.drawing import Drawing, Metal, Sizes, Sketch, across, box, gap_line
from service.methods.laws import LongGapLaw, constants, long_gap_laws
from service.methods.method import Arrangement, FloatArray
from service.methods.rods import AMERICAN, STANDARD, RodLaw, rod_methods
from service.physics.formulas import straight_line
from service.reference import Reference, Tabulated

ACCURACY = 0.08
"""Stated accuracy of the rod-gap tables (ieee-4)."""
LONGEST = 10.0
"""Longest gap to which the laws of a rod over a plane carry the tables on [m]; common practice, no source."""
SQUARE_RODS = ("Printed for rods of 15 to 25 mm square section; the direct voltage of either polarity.",)
SCALED = "Beyond the end of the rod-gap table: the law of a rod over a plane, {}, scaled to meet it there."
SYMMETRICAL = "rod-rod-longitudinal"


def arrangement(reference: Reference) -> Arrangement:
    """Return the arrangement."""
    alternating, positive, negative = _alternating(reference), *_impulse(reference)
    laws = long_gap_laws(reference)
    return Arrangement(
        "rod-gap",
        "Rod gap",
        "Two half-inch square rods end to end, cut at right angles.",
        rod_methods(
            reference,
            (
                alternating,
                _direct(reference),
                positive,
                negative,
                _beyond(reference, alternating, laws["alternating"]),
                _beyond(reference, positive, laws["lightning-positive"]),
                _switching(reference, laws["switching-fraction"]),
            ),
        ),
        advice=OTHER_GAS,
        sketch=Sketch(drawing, {"rod side": HALF_INCH}),
    )


HALF_INCH = 0.0127
"""Side of the square rods of the tables [m]."""


def drawing(sizes: Sizes, gap: float) -> Drawing:
    """Return two rods with square ends."""
    half = float(sizes["rod side"]) / 2
    far = max(gap, 3 * half)
    return Drawing(
        (Metal(box(half, gap, gap + 2 * far)), Metal(box(half, -2 * far, 0.0))),
        (gap_line(gap), across(1j * (gap + far / 2), half, "rod side")),
        (1.5 * half, -far, gap + far),
    )


def _alternating(reference: Reference) -> RodLaw:
    table = reference.table("rod-gap-60hz")
    spacing, voltage = table["spacing"], table["voltage"]

    volts = Tabulated(spacing, voltage)

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
        ceiling_of=frozenset({"ac", "dc"}),
    )


def _direct(reference: Reference) -> RodLaw:
    value = constants(reference, "rod-rod-direct")

    def volts(gap: FloatArray) -> FloatArray:
        return straight_line(gap, value["slope"], value["intercept"])

    return RodLaw(
        "rod-rod-direct",
        f"Rod-rod gap at direct voltage, U = {value['intercept'] / 1e3:g} + {value['slope'] / 1e6:g} d",
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


def _impulse(reference: Reference) -> tuple[RodLaw, RodLaw]:
    table = reference.table("rod-gap-impulse")

    def law(polarity: str) -> RodLaw:
        spacing, voltage = table["spacing"], table[f"voltage_1_50_{polarity}"]
        return RodLaw(
            f"rod-gap-table-impulse-{polarity}",
            f"Rod-gap table, 1/50 impulse, {polarity}",
            "table",
            table,
            Tabulated(spacing, voltage),
            (float(spacing[0]), float(spacing[-1])),
            AMERICAN,
            "impulse",
            ACCURACY,
            frozenset({"lightning-impulse"}),
            frozenset({polarity}),
            ("The table is printed for an impulse of 1/50 microseconds, near the standard lightning impulse.",),
            spacing,
        )

    return law("positive"), law("negative")


def _beyond(reference: Reference, table: RodLaw, law: LongGapLaw) -> RodLaw:
    """Return a table carried on beyond its end by a law of a rod over a plane, in the air of the table."""
    last = table.span[1]
    ratio = float(table.volts(np.array([last]))[0] / law.volts(np.array([last]))[0])

    def volts(gap: FloatArray) -> FloatArray:
        return np.asarray(ratio * law.volts(gap))

    return RodLaw(
        f"{table.key}-beyond",
        f"{table.title}, carried on by {law.formula}",
        "formula",
        reference.table("rod-plane-formulas"),
        volts,
        (last, LONGEST),
        table.air,
        table.humidity,
        BAND + FACTOR_BAND,
        table.waveforms,
        table.polarities,
        (SCALED.format(law.formula),),
    )


def _switching(reference: Reference, law: LongGapLaw) -> RodLaw:
    factor = gap_factors(reference)[SYMMETRICAL]
    return RodLaw(
        "rod-gap-switching",
        f"Rod gap, positive switching impulse, {law.formula} times the gap factor of rods",
        "formula",
        reference.table("rod-plane-formulas"),
        law.volts,
        (law.span[0], LONGEST),
        STANDARD,
        "impulse",
        BAND,
        frozenset({"switching-impulse"}),
        frozenset({"positive"}),
        gap_factor=lambda _: factor,
    )
