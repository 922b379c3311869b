"""Forms of any gas between plates: Townsend criterion, closed forms, measured points."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from service import spoken
from service.methods.air_forms import handover
from service.methods.case import AIR
from service.methods.form import Band, Form, common_limits, own_band
from service.methods.gas_rows import (
    GasRow,
    PublishedMinima,
    attaches,
    closed_form,
    computed_ionization,
    gas_rows,
    printed_form,
)
from service.methods.laws import constants
from service.methods.method import FRACTION, GAP, PRESSURE, PRODUCT, TEMPERATURE, Case, FloatArray, Limit
from service.physics import measured, townsend
from service.physics.atmosphere import REFERENCE_TEMPERATURE
from service.physics.ionization import Ionization
from service.physics.numbers import Numbers
from service.reference import Reference

ROOMS = (283.15, 303.15)
"""What is taken for the room temperature of measured points [K]; they are read at `REFERENCE_TEMPERATURE`."""
NEAR = 10.0
"""Multiple of the pd of the minimum up to which an answer says how the minimum lies."""
POSITION_NOTE = "The voltage of the minimum is promised, not its position. Flat plates, not long narrow tubes."
SIMPLE_NOTE = (
    "The criterion leaves out the ratio of ionization to effective ionization; in air that is 0.5 % of the voltage."
)
BRIDGE_NOTE = "the avalanche exponent changes straight in the logarithm of pd, which is our own."


def townsend_table(row: GasRow, reference: Reference) -> Form:
    """Townsend criterion with a computed table; an exponent that changes with pd where the row says so."""
    ionization = computed_ionization(reference, row.gas, row.cross_sections)
    exponent = float(townsend.townsend_exponent(row.secondary))
    minimum_pd, minimum_voltage = townsend.minimum(ionization, exponent)
    bridged = bool(np.isfinite(row.far_exponent))
    low = townsend.pd_limits(ionization, exponent)[0]
    high = townsend.pd_limits(ionization, row.far_exponent if bridged else exponent)[1]
    if row.gas == AIR:
        high = handover(reference)[0]
    high = float(np.nanmin([high, row.pd_to, 1e6]))

    def voltage(case: Case) -> FloatArray:
        if not bridged:
            return townsend.breakdown_voltage(case.pd, ionization, exponent)
        both = townsend.bridged_exponent(case.pd, (minimum_pd, exponent), (row.far_pd, row.far_exponent))
        return townsend.breakdown_voltage(case.pd, ionization, both)

    minima = PublishedMinima.of(reference, row.gas)
    attaching = attaches(reference, row)

    def remarks(case: Case) -> tuple[str, ...]:
        near = bool((case.pd < NEAR * minimum_pd).any())
        between = bridged and bool(((case.pd > minimum_pd) & (case.pd < row.far_pd)).any())
        return (
            *minima.beside(minimum_pd, minimum_voltage) * near,
            *(POSITION_NOTE,) * near,
            *(SIMPLE_NOTE,) * attaching,
            *(f"Between the minimum and {PRODUCT.said(row.far_pd)} {BRIDGE_NOTE}",) * between,
        )

    beyond = f", from {PRODUCT.said(row.far_pd)} on {row.far_exponent:g}" if bridged else ""
    exponents = f"Avalanche exponent ln(1 + 1/gamma) = {exponent:.3g}{beyond}"
    notes = (f"{exponents}; secondary coefficient gamma {row.secondary:g}, {row.secondary_source}.",)
    limits = (Limit("gap", PRODUCT, low, high), *common_limits(row, 10.0))
    return Form(
        voltage,
        limits,
        notes=notes,
        remarks=remarks,
        place_uncertainty=minima.place_uncertainty(minimum_pd),
        floor=minimum_voltage * (1 - row.low),
    )


def streamer_table(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with a computed table, from where the Townsend criterion ends: wide, not checked."""
    ionization = computed_ionization(reference, row.gas, row.cross_sections)
    near = float(townsend.townsend_exponent(row.secondary)) if row.secondary > 0 else row.far_exponent

    def voltage(case: Case) -> FloatArray:
        exponent = townsend.bridged_exponent(case.pd, (row.pd_from, near), (row.far_pd, row.far_exponent))
        return townsend.breakdown_voltage(case.pd, ionization, exponent)

    changes = f" from {near:.3g} at {PRODUCT.said(row.pd_from)} straight in ln pd to {row.far_exponent:g}" * (near < 18)
    exponents = f"Avalanche exponent{changes or f' {row.far_exponent:g}'}"
    return Form(
        voltage,
        (Limit("gap", PRODUCT, row.pd_from, row.pd_to), *common_limits(row, 10.0)),
        notes=(f"{exponents}, as streamers take over; hardly any measurement here, so the band is wide.",),
    )


def closed(row: GasRow, reference: Reference) -> Form:
    """Closed exponential or square-root form inside its printed range of field over pressure."""
    ionization = closed_form(reference, row)
    low, high = _limits_of(ionization, row, float(townsend.townsend_exponent(row.secondary)))

    @lru_cache(maxsize=64)
    def exponent_of(secondary: float) -> float:
        return float(townsend.townsend_exponent(secondary))

    def exponent(case: Case) -> float:
        return exponent_of(case.secondary or row.secondary)

    def voltage(case: Case) -> FloatArray:
        return townsend.breakdown_voltage(case.pd, ionization, exponent(case))

    begins = trusted_from(row, reference)

    @lru_cache(maxsize=64)
    def ends_at(exponent: float) -> tuple[float, float]:
        return _limits_of(ionization, row, exponent)

    def bound(end: int) -> Callable[[Case], FloatArray]:
        def found(case: Case) -> Numbers:
            own = ends_at(exponent(case))[end]
            # left of a trusted table its own left branch would begin; the closed form's minimum is another one
            return case.filled(max(own, begins) if end == 0 and case.secondary is None else own)

        return found

    minima = PublishedMinima.of(reference, row.gas)
    banded = _closed_band(row, reference)

    def remarks(case: Case) -> tuple[str, ...]:
        place, least = townsend.minimum(ionization, exponent(case))
        near = bool((case.pd < NEAR * place).any())
        said = f"Secondary coefficient {row.secondary:g}, since none is given: {row.secondary_source}."
        if case.secondary is not None:
            said = f"Secondary coefficient {case.secondary:g} as given; such coefficients are known to 50 % at best."
        return (said, *minima.beside(place, least) * near)

    constants_printed, span = printed_form(reference, row)
    place, least = townsend.minimum(ionization, float(townsend.townsend_exponent(row.secondary)))
    contradicted = minima.contradict(least)
    lowest = spoken.said(least, "voltage", unit="V", digits=3)
    why = f"At gamma {row.secondary:g} its minimum, {lowest}, is not published: only a given gamma is taken."
    usual, where = (max(low, begins), high), f" at gamma {row.secondary:g}"
    return Form(
        voltage,
        (Limit("gap", PRODUCT, bound(0), bound(1), usual=usual, where=where), *common_limits(row, 10.0)),
        banded,
        kind="formula",
        notes=(why,) * contradicted,
        remarks=remarks,
        title=f", {constants_printed}, printed for E/p {span}",
        place_uncertainty=minima.place_uncertainty(place),
        given_secondary=contradicted,
    )


def _closed_band(row: GasRow, reference: Reference) -> Band:
    """Return the band of a closed form: its own, or the wider one of a given secondary coefficient."""
    band, own = constants(reference, "gas-constants")["given-secondary-band"], own_band(row, reference)
    low, high = (max(one, band) for one in (row.low, row.high))

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        return own(case, volts) if case.secondary is None else (volts * (1 - low), volts * (1 + high))

    return banded


def trusted_from(row: GasRow, reference: Reference) -> float:
    """Return the pd at which the computed table begins that is trusted more than a row's form [Pa m]; zero without."""
    others = [one for one in gas_rows(reference) if one.gas == row.gas]
    before = others[: [one.key for one in others].index(row.key)]
    tables = [one for one in before if one.form == "townsend-table"]
    return min((_table_from(one, reference) for one in tables), default=0.0)


def _table_from(row: GasRow, reference: Reference) -> float:
    ionization = computed_ionization(reference, row.gas, row.cross_sections)
    return townsend.pd_limits(ionization, float(townsend.townsend_exponent(row.secondary)))[0]


def _limits_of(ionization: Ionization, row: GasRow, exponent: float) -> tuple[float, float]:
    low, high = townsend.pd_limits(ionization, exponent)
    return float(np.nanmax([low, row.pd_from])), float(np.nanmin([high, row.pd_to, 1e6]))


def points(row: GasRow, reference: Reference) -> Form:
    """Measured points, interpolated inside one gap of one campaign only."""
    table = reference.table("norman-2022-points").where(gas_key=row.gas)
    shares = np.unique(table["fraction"][np.isfinite(table["fraction"])]).tolist()
    series = measured.series_of(table["gap"], table["pressure"], table["voltage"])
    series = tuple(one for one in series if one.pressures.size > 1)

    gaps = " or ".join(GAP.said(one.gap) for one in series)

    def nearest(case: Case) -> FloatArray:
        return _nearest(series, case.in_arrays.gap)

    def end(place: int) -> Callable[[Case], FloatArray]:
        return lambda case: (
            np.array([_own(series, gap, place) for gap in case.in_arrays.gap])
            * (case.temperature / REFERENCE_TEMPERATURE)
        )

    def voltage(case: Case) -> FloatArray:
        ends = end(0)(case), end(-1)(case)  # a pressure at an end may lie a rounding beyond it
        pressure = np.clip(case.pressure, *ends) * (REFERENCE_TEMPERATURE / case.temperature)
        return measured.measured_voltage(case.gap, pressure, series)

    limits = (
        Limit("gap", GAP, nearest, nearest, where=f" of exactly {gaps}"),
        Limit("pressure", PRESSURE, end(0), end(-1), where=" between the points measured at that gap"),
        Limit("temperature", TEMPERATURE, *ROOMS),
        *(Limit("fraction", FRACTION, share, share) for share in shares),
    )
    return Form(
        voltage,
        limits,
        similarity=False,
        kind="table",
        notes=("Measured points are interpolated inside one gap of one campaign; across gaps similarity fails.",),
        widens=False,
    )


def _nearest(series: tuple[measured.MeasuredSeries, ...], gaps: FloatArray) -> FloatArray:
    known = np.array([one.gap for one in series])
    return np.asarray(known[np.argmin(np.abs(np.log(known[None] / gaps[:, None])), axis=1)])


def _own(series: tuple[measured.MeasuredSeries, ...], gap: float, place: int) -> float:
    known = np.array([one.gap for one in series])
    return float(series[int(np.argmin(np.abs(np.log(known / gap))))].pressures[place])
