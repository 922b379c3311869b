"""Forms of attaching gases, mixtures and vacuum between plates."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from service.methods.form import Form, common_limits, in_words
from service.methods.gas_rows import GasRow, computed_ionization
from service.methods.laws import constants
from service.methods.method import Case, FloatArray, Limit
from service.physics import townsend, uniform, vacuum
from service.physics.closed_forms import CLOSED_FORMS
from service.reference import Reference


def linear(row: GasRow, reference: Reference) -> Form:
    """``U = c + a x`` of sulfur hexafluoride; the low end widens at high pressure and field."""
    value = constants(reference, "gas-constants")
    offset, slope = value["sulfur-hexafluoride-offset"], value["sulfur-hexafluoride-slope"]

    def voltage(case: Case) -> FloatArray:
        return uniform.linear_voltage(case.pd, offset, slope)

    return Form(
        voltage,
        (Limit("pd", "pd", row.pd_from, row.pd_to), *common_limits(row, 1.0)),
        f"{row.gas}, pd {in_words(row.pd_from)} to {in_words(row.pd_to)}, to {row.pressure_to / 1e5:g} bar",
        lambda case, volts: _widened(case, volts, row, value),
        kind="formula",
        notes=("Clean, small electrodes; roughness lowers the voltage above 2 bar or 200 kV/cm.",),
    )


def _widened(case: Case, volts: FloatArray, row: GasRow, value: Mapping[str, float]) -> tuple[FloatArray, FloatArray]:
    """Return the band whose low end widens straight with pressure from 2 bar, or with field from 200 kV/cm."""
    start, end = value["sulfur-hexafluoride-wide-from-pressure"], row.pressure_to
    by_pressure = np.clip((case.pressure - start) / (end - start), 0.0, 1.0)
    field = volts / case.gap / value["sulfur-hexafluoride-wide-from-field"]
    by_field = np.clip((field - 1) / (end / start - 1), 0.0, 1.0)
    share = np.maximum(by_pressure, by_field)
    low = row.low + (value["sulfur-hexafluoride-wide-low"] - row.low) * share
    return volts * (1 - low), volts * (1 + row.high)


def linear_criterion(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with an ionization linear in the field: ``U = (K + b x) / a``."""
    value = constants(reference, "gas-constants")
    author = row.data.split(":")[1]
    slope, offset = (value[f"sulfur-hexafluoride-{author}-{name}"] for name in ("slope", "offset"))
    span = [value[f"sulfur-hexafluoride-field-{end}"] for end in ("from", "to")]
    form = CLOSED_FORMS["linear"](slope, offset, *span)

    def voltage(case: Case) -> FloatArray:
        return townsend.breakdown_voltage(case.pd, form, row.far_exponent)

    low, high = townsend.pd_limits(form, row.far_exponent)
    first, last = float(np.nanmax([low, row.pd_from])), float(np.nanmin([high, row.pd_to]))
    return Form(
        voltage,
        (Limit("pd", "pd", first, last), *common_limits(row, 1.0)),
        f"{row.gas}, pd {in_words(first)} to {in_words(last)}, to {row.pressure_to / 1e5:g} bar",
        lambda case, volts: _widened(case, volts, row, value),
    )


def mixture_rule(row: GasRow, reference: Reference) -> Form:
    """Pure gas times a power of the mole fraction."""
    value = constants(reference, "gas-constants")
    offset, slope = value["sulfur-hexafluoride-offset"], value["sulfur-hexafluoride-slope"]
    exponent = value["mixture-exponent-nitrogen"]

    def voltage(case: Case) -> FloatArray:
        pure = uniform.linear_voltage(case.pd, offset, slope)
        return np.asarray(pure * uniform.mixture_factor(fraction_of(case), exponent))

    limits = (Limit("pd", "pd", row.pd_from, row.pd_to), *common_limits(row, 1.0))
    return Form(
        voltage,
        (Limit("fraction", "fraction", 0.05, 1.0, fraction_of), *limits),
        f"5 to 100 percent, pd {in_words(row.pd_from)} to {in_words(row.pd_to)}, to {row.pressure_to / 1e5:g} bar",
        lambda case, volts: _widened(case, volts, row, value),
        kind="formula",
    )


def mixture_table(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with computed ionization of mixtures, between tabulated fractions."""
    table = reference.table("ionization-alpha-over-n").where(gas_key=row.gas, cross_sections=row.cross_sections)
    # the 98 % table stands in for the pure gas, with a shorter range: not used
    fractions = np.array([one for one in np.unique(table["fraction"]) if one < 0.9])
    curves = [computed_ionization(reference, row.gas, row.cross_sections, float(one)) for one in fractions]
    value = constants(reference, "gas-constants")

    def voltage(case: Case) -> FloatArray:
        volts = [townsend.breakdown_voltage(case.pd, curve, row.far_exponent) for curve in curves]
        return uniform.mixture_voltage(fraction_of(case), fractions, np.array(volts))

    spans = [townsend.pd_limits(curve, row.far_exponent) for curve in curves]
    first = max(row.pd_from, *(span[0] for span in spans))
    last = min(row.pd_to, *(span[1] for span in spans))
    limits = (Limit("pd", "pd", first, last), *common_limits(row, 1.0))
    return Form(
        voltage,
        (Limit("fraction", "fraction", float(fractions[0]), float(fractions[-1]), fraction_of), *limits),
        f"{fractions[0] * 100:g} to {fractions[-1] * 100:g} percent, pd {in_words(first)} to {in_words(last)}",
        lambda case, volts: _widened(case, volts, row, value),
    )


def fraction_of(case: Case) -> FloatArray:
    """Return the mole fraction of the first gas of a mixture."""
    return np.full(case.size, np.nan) if case.fraction is None else case.fraction


def vacuum_gap(row: GasRow, reference: Reference) -> Form:
    """Vacuum: proportional to the gap, then to its root; a factor of two either way."""
    value = constants(reference, "gas-constants")
    factor = value["vacuum-factor"]

    def voltage(case: Case) -> FloatArray:
        return vacuum.vacuum_voltage(case.gap, value["vacuum-product"], value["vacuum-hand-over"])

    span = (value["vacuum-gap-from"], value["vacuum-gap-to"])
    return Form(
        voltage,
        (Limit("gap", "length", *span), Limit("pressure", "pressure", high=value["vacuum-pressure-to"])),
        f"vacuum to 10 mPa, gap {span[0] * 1e3:g} mm to {span[1]:g} m, within a factor of {factor:g}",
        lambda case, volts: (volts / factor, volts * factor),
        similarity=False,
        notes=("In vacuum metal, polish and conditioning decide; conditioning by sparks gains up to a factor of two.",),
    )
