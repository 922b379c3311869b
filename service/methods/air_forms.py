"""Forms of air between plates: formulas, Schumann's table, left branch, micro-gaps."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from service import spoken
from service.errors import BadReferenceData
from service.methods.case import AIR
from service.methods.form import Form, common_limits
from service.methods.gas_rows import GasRow, computed_ionization
from service.methods.laws import constants
from service.methods.method import GAP, PRESSURE, PRODUCT, Case, FloatArray, Limit, LimitedQuantity
from service.physics import townsend, uniform
from service.physics.atmosphere import REFERENCE_PRESSURE
from service.physics.ionization import Ionization
from service.reference import Reference, Tabulated, once

WIDEST_GAP = 1.0
"""Widest gap at which formulas and table of air are used [m]."""
PRINTED_FROM = 10.0
"""pd from which the preferred formula is printed, 1e-2 bar cm [Pa m]; kuffel-zaengl-kuffel-2000, eq. 5.107, memory."""
HIGHEST_PRESSURE = 1e6
"""Highest pressure at which Schumann's table is used [Pa]; common practice, no source."""
SCALED_GAP = LimitedQuantity(
    "gap times relative density", "length", "gap times relative density", lambda case: case.gap * case.relative_density
)
EXTENDED_NOTE = (
    f"Below {PRODUCT.said(PRINTED_FROM)} the formula is used beyond its printed range, down to where it meets the "
    "Townsend criterion; this extension is our own, and carries the band of that neighbour."
)
OF_THE_MINIMUM = 0.10
"""Band of the minimum voltage of air, that of the Townsend method."""
STEP_NOTE = "At {} this range hands over to Paschen's curve; the values there differ by 2 %, within both bands."


ARGUMENTS: Mapping[str, float] = {
    "relative air density times gap": REFERENCE_PRESSURE,
    "pressure in bar times gap at 20 degC": 1e5,
}
"""What x of a printed formula is, and the pressure at which it is the gap [Pa]."""


def quadratic_root(row: GasRow, reference: Reference) -> Form:
    """``U = A x + B sqrt(x)``; the preferred one begins at its crossing with the Townsend criterion."""
    table = reference.table("uniform-field-formulas").where(key=row.data.split(":")[1])
    linear, root = float(table["linear"][0]), float(table["root"][0])
    argument = table.text("argument")[0]
    if argument not in ARGUMENTS:
        raise BadReferenceData(table.file, None, f"argument '{argument}' is none of {', '.join(ARGUMENTS)}")
    unit = ARGUMENTS[argument]
    first = handover(reference)[0] if np.isnan(row.pd_from) else row.pd_from

    def voltage(case: Case) -> FloatArray:
        volts: FloatArray = uniform.quadratic_root_voltage(case.pd / unit, linear, root)
        return volts

    def remarks(case: Case) -> tuple[str, ...]:
        return (EXTENDED_NOTE,) if case.of.any(case.pd < PRINTED_FROM) else ()

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        # beyond the printed range the band is that of the neighbour, Townsend's; from twice its begin on our own
        of = case.of
        if of.all(case.pd >= 2 * PRINTED_FROM):
            return volts * (1 - row.low), volts * (1 + row.high)
        extended = of.minimum(of.maximum(of.log(2 * PRINTED_FROM / case.pd) / math.log(2), 0.0), 1.0)
        low, high = (own + max(OF_THE_MINIMUM - own, 0.0) * extended for own in (row.low, row.high))
        return volts * (1 - low), volts * (1 + high)

    limits = (Limit("gap", PRODUCT, first, row.pd_to), *common_limits(row, WIDEST_GAP))
    heading = f"{linear / 1e5:g} x + {root / 1e4:g} sqrt(x)"  # as printed: kV, cm
    return Form(voltage, limits, banded, kind="formula", remarks=remarks, heading=heading, by_numbers=True)


@once
def handover(reference: Reference) -> tuple[float, float]:
    """Return pd [Pa m] and voltage [V] where the Townsend criterion of air meets the preferred formula.

    Parameters
    ----------
    reference : Reference
    """
    table = reference.table("uniform-field-formulas").where(key="kuffel")
    linear, root = float(table["linear"][0]), float(table["root"][0])
    ionization, exponent = air_townsend(reference)
    pd = uniform.crossing(
        lambda pd: float(townsend.breakdown_voltage(pd, ionization, exponent)),
        lambda pd: float(uniform.quadratic_root_voltage(pd / 1e5, linear, root)),
        2.5,
        5.0,
    )
    return pd, float(townsend.breakdown_voltage(pd, ionization, exponent))


@once
def air_townsend(reference: Reference) -> tuple[Ionization, float]:
    """Return ionization and avalanche exponent of the Townsend method of air."""
    table = reference.table("gas-methods").where(key="townsend-air")
    ionization = computed_ionization(reference, AIR, table.text("cross_sections")[0])
    return ionization, float(townsend.townsend_exponent(float(table["secondary"][0])))


def left(row: GasRow, reference: Reference) -> Form:
    """Left branch beyond the end of the ionization table."""
    ionization, exponent = air_townsend(reference)
    end = townsend.pd_limits(ionization, exponent)[0]
    at_end = float(townsend.breakdown_voltage(end, ionization, exponent))
    minimum_voltage = townsend.minimum(ionization, exponent)[1]
    scale = townsend.left_branch_scale(end, at_end, minimum_voltage)
    highest = constants(reference, "gas-constants")["left-branch-voltage-to"]
    first = float(townsend.left_branch_pd(highest, minimum_voltage, scale))

    def voltage(case: Case) -> FloatArray:
        return townsend.left_branch_voltage(case.pd, minimum_voltage, scale)

    floor = minimum_voltage * (1 - OF_THE_MINIMUM)

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        # nothing breaks down below what the minimum itself may be
        return np.maximum(volts * (1 - row.low), floor), volts * (1 + row.high)

    notes = (
        f"Rough, {row.high * 100:g} %. On the left branch longer paths break first, so a small gap does not protect.",
        f"Above {spoken.said(highest, 'voltage')} X-rays are possible; the method ends there.",
    )
    # a billionth short of the table's end, so that the table itself answers there
    limits = (Limit("gap", PRODUCT, first, end * (1 - 2e-9)), *common_limits(row, 10.0))
    return Form(voltage, limits, banded, notes=notes, place_uncertainty=(row.high, row.high), thin=True)


def micro_gap(row: GasRow, reference: Reference) -> Form:
    """Micrometre gaps near atmospheric pressure: the range between rough and smooth electrodes."""
    value = constants(reference, "gas-constants")
    ionization, exponent = air_townsend(reference)
    low_cap = value["micro-gap-share-of-minimum"] * townsend.minimum(ionization, exponent)[1]
    fields = (value["micro-gap-field-rough"], value["micro-gap-field-smooth"])

    def ranged(case: Case) -> uniform.Range:
        return uniform.microgap_range(case.gap, *fields, low_cap, value["micro-gap-plateau"])

    to = value["micro-gap-gap-to"]
    limits = (
        Limit("gap", GAP, value["micro-gap-gap-from"], to),
        Limit("pressure", PRESSURE, value["micro-gap-pressure-from"], value["micro-gap-pressure-to"]),
    )
    widest = spoken.said(to, "length")
    note = (
        f"Below {widest} the electrodes decide, not the gap: rough ones break at the low end, smooth ones at the high "
        "end."
    )
    return Form(
        lambda case: ranged(case)[1],
        limits,
        lambda case, _: (ranged(case)[0], ranged(case)[2]),
        similarity=False,
        notes=(note,),
        remarks=lambda case: (STEP_NOTE.format(widest),) * bool((case.gap > 0.9 * to).any()),
        widest=float(np.sqrt(fields[1] / fields[0])) - 1,
        widens=False,
    )


def table_schumann(row: GasRow, reference: Reference) -> Form:
    """Schumann's table at the density-scaled gap."""
    table = reference.table("schumann-table")
    first, last, table_of = float(table["gap"][0]), float(table["gap"][-1]), Tabulated(table["gap"], table["voltage"])

    def voltage(case: Case) -> FloatArray:
        # a gap at an end of the table may lie a rounding beyond it once it is scaled
        of = case.of
        volts: FloatArray = table_of(of.minimum(of.maximum(case.gap * case.relative_density, first), last))
        return volts

    limits = (
        Limit("gap", SCALED_GAP, first, last),
        Limit("gap", GAP, high=WIDEST_GAP),
        Limit("pressure", PRESSURE, high=HIGHEST_PRESSURE),
    )
    return Form(voltage, limits, kind="table", by_numbers=True)
