"""Forms of any gas between plates: Townsend criterion, closed forms, measured points."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from service.electrodes._air_forms import handover
from service.electrodes._base import Case, FloatArray, Limit
from service.electrodes._form import Form, common_limits, in_words
from service.electrodes._gas_rows import GasRow, closed_form, computed_ionization
from service.physics import measured, secondary, townsend
from service.physics.ionization import Ionization
from service.reference import Reference


def townsend_table(row: GasRow, reference: Reference) -> Form:
    """Townsend criterion with a computed table; an exponent that changes with pd where the row says so."""
    ionization = computed_ionization(reference, row.gas, row.cross_sections)
    exponent = float(secondary.townsend_exponent(row.secondary))
    minimum_pd, minimum_voltage = townsend.minimum(ionization, exponent)
    bridged = np.isfinite(row.far_exponent)
    low = townsend.pd_limits(ionization, exponent)[0]
    high = townsend.pd_limits(ionization, row.far_exponent if bridged else exponent)[1]
    if row.gas == "air":
        high = handover(reference)[0]
    high = float(np.nanmin([high, row.pd_to, 1e6]))

    def voltage(case: Case) -> FloatArray:
        if not bridged:
            return townsend.breakdown_voltage(case.pd, ionization, exponent)
        both = secondary.bridged_exponent(case.pd, (minimum_pd, exponent), (row.far_pd, row.far_exponent))
        return townsend.breakdown_voltage(case.pd, ionization, both)

    notes = (
        f"Secondary coefficient {row.secondary:g}, {row.secondary_source}.",
        "The simple criterion alpha_eff d = ln(1 + 1/gamma) is used; attachment changes it by 0.5 % in air.",
        f"The voltage of the minimum ({minimum_voltage:.4g} V) is meant, not its position.",
    )
    limits = (Limit("pd", "pd", low, high), *common_limits(row, 10.0))
    return Form(voltage, limits, f"{row.gas}, pd {in_words(low)} to {in_words(high)}, gap from 10 um", notes=notes)


def closed(row: GasRow, reference: Reference) -> Form:
    """Closed exponential or square-root form inside its printed range of field over pressure."""
    ionization = closed_form(reference, row)
    low, high = _limits_of(ionization, row, float(secondary.townsend_exponent(row.secondary)))

    def exponent(case: Case) -> float:
        return float(secondary.townsend_exponent(case.secondary or row.secondary))

    def voltage(case: Case) -> FloatArray:
        return townsend.breakdown_voltage(case.pd, ionization, exponent(case))

    def bound(end: int) -> Callable[[Case], FloatArray]:
        return lambda case: np.full(case.size, _limits_of(ionization, row, exponent(case))[end])

    printed = f"printed for {ionization.lowest:.4g} to {ionization.highest:.4g} V/(Pa m)"
    note = f"Secondary coefficient {row.secondary:g} where none is given, {row.secondary_source}."
    words = f"{row.gas}, {printed}: pd {in_words(low)} to {in_words(high)} at gamma {row.secondary:g}, gap from 10 um"
    limits = (Limit("pd", "pd", bound(0), bound(1)), *common_limits(row, 10.0))
    return Form(voltage, limits, words, notes=(note,), kind="formula")


def _limits_of(ionization: Ionization, row: GasRow, exponent: float) -> tuple[float, float]:
    low, high = townsend.pd_limits(ionization, exponent)
    return float(np.nanmax([low, row.pd_from])), float(np.nanmin([high, row.pd_to, 1e6]))


def points(row: GasRow, reference: Reference) -> Form:
    """Measured points, interpolated inside one gap of one campaign only."""
    table = reference.table("norman-2022-points").where(gas_key=row.gas)
    series = measured.series_of(table["gap"], table["pressure"], table["voltage"])
    series = tuple(one for one in series if one.pressures.size > 1)

    def end(place: int) -> Callable[[Case], FloatArray]:
        return lambda case: np.array([_own(series, gap, place) for gap in case.gap])

    limits = (
        Limit("gap", "length", lambda case: _nearest(series, case.gap), lambda case: _nearest(series, case.gap)),
        Limit("pressure", "pressure", end(0), end(-1)),
        Limit("temperature", "temperature", 283.15, 303.15),
    )
    gaps = ", ".join(f"{one.gap * 1e3:g}" for one in series)
    return Form(
        lambda case: measured.measured_voltage(case.gap, case.pressure, series),
        limits,
        f"{row.gas}, gaps of exactly {gaps} mm, between the measured pressures, room temperature",
        similarity=False,
        kind="table",
        notes=("Measured points are interpolated inside one gap of one campaign; across gaps similarity fails.",),
    )


def _nearest(series: tuple[measured.Series, ...], gaps: FloatArray) -> FloatArray:
    known = np.array([one.gap for one in series])
    return np.asarray(known[np.argmin(np.abs(np.log(known[None] / gaps[:, None])), axis=1)])


def _own(series: tuple[measured.Series, ...], gap: float, place: int) -> float:
    known = np.array([one.gap for one in series])
    return float(series[int(np.argmin(np.abs(np.log(known / gap))))].pressures[place])
