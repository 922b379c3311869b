"""Functional forms of breakdown between plates, as rows of the gas tables name them: air, any gas, attaching gases."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import lru_cache

import numpy as np

from service import spoken
from service.errors import BadReferenceData
from service.methods.case import AIR
from service.methods.gas_rows import (
    Band,
    Form,
    GasRow,
    PublishedMinima,
    attaches,
    closed_form,
    common_limits,
    computed_ionization,
    computed_rows,
    gas_rows,
    own_band,
    printed_form,
    row_ionization,
)
from service.methods.laws import constants
from service.methods.method import (
    FRACTION,
    GAP,
    PRESSURE,
    PRODUCT,
    TEMPERATURE,
    Case,
    FloatArray,
    Limit,
    LimitedQuantity,
)
from service.physics import formulas, townsend
from service.physics.atmosphere import REFERENCE_PRESSURE, REFERENCE_TEMPERATURE
from service.physics.ionization import CLOSED_FORMS, Ionization
from service.physics.numbers import Numbers
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
    if not len(table):
        raise row.fault("data", f"{table.file} has no such row")
    linear, root = float(table["linear"][0]), float(table["root"][0])
    argument = table.text("argument")[0]
    if argument not in ARGUMENTS:
        raise BadReferenceData(table.file, None, f"argument '{argument}' is none of {', '.join(ARGUMENTS)}")
    unit = ARGUMENTS[argument]
    first = handover(reference)[0] if np.isnan(row.pd_from) else row.pd_from

    def voltage(case: Case) -> FloatArray:
        volts: FloatArray = formulas.quadratic_root_voltage(case.pd / unit, linear, root)
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
    pd = formulas.crossing(
        lambda pd: float(townsend.breakdown_voltage(pd, ionization, exponent)),
        lambda pd: float(formulas.quadratic_root_voltage(pd / 1e5, linear, root)),
        2.5,
        5.0,
    )
    return pd, float(townsend.breakdown_voltage(pd, ionization, exponent))


@once
def air_townsend(reference: Reference) -> tuple[Ionization, float]:
    """Return ionization and avalanche exponent of the Townsend method of air."""
    row = next(one for one in gas_rows(reference) if one.key == "townsend-air")
    return row_ionization(reference, row), float(townsend.townsend_exponent(row.secondary))


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

    def ranged(case: Case) -> formulas.Range:
        return formulas.microgap_range(case.gap, *fields, low_cap, value["micro-gap-plateau"])

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
    ionization = row_ionization(reference, row)
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
    ionization = row_ionization(reference, row)
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
    ionization = row_ionization(reference, row)
    return townsend.pd_limits(ionization, float(townsend.townsend_exponent(row.secondary)))[0]


def _limits_of(ionization: Ionization, row: GasRow, exponent: float) -> tuple[float, float]:
    low, high = townsend.pd_limits(ionization, exponent)
    return float(np.nanmax([low, row.pd_from])), float(np.nanmin([high, row.pd_to, 1e6]))


def points(row: GasRow, reference: Reference) -> Form:
    """Measured points, interpolated inside one gap of one campaign only."""
    table = row.of_gas(reference.table("norman-2022-points"))
    shares = np.unique(table["fraction"][np.isfinite(table["fraction"])]).tolist()
    series = formulas.series_of(table["gap"], table["pressure"], table["voltage"])
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
        return formulas.measured_voltage(case.gap, pressure, series)

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


def _nearest(series: tuple[formulas.MeasuredSeries, ...], gaps: FloatArray) -> FloatArray:
    known = np.array([one.gap for one in series])
    return np.asarray(known[np.argmin(np.abs(np.log(known[None] / gaps[:, None])), axis=1)])


def _own(series: tuple[formulas.MeasuredSeries, ...], gap: float, place: int) -> float:
    known = np.array([one.gap for one in series])
    return float(series[int(np.argmin(np.abs(np.log(known / gap))))].pressures[place])


def linear(row: GasRow, reference: Reference) -> Form:
    """``U = c + a x`` of sulfur hexafluoride."""
    line = line_of(reference)
    return Form(
        lambda case: formulas.linear_voltage(case.pd, *line),
        (Limit("gap", PRODUCT, row.pd_from, row.pd_to), *common_limits(row, 1.0)),
        kind="formula",
        heading=line_in_words(*line),
        notes=("Clean, small electrodes.",),
    )


def line_of(reference: Reference) -> tuple[float, float]:
    """Return offset [V] and slope [V/(Pa m)] of the formula of sulfur hexafluoride."""
    value = constants(reference, "gas-constants")
    return value["sulfur-hexafluoride-offset"], value["sulfur-hexafluoride-slope"]


def linear_ionization(row: GasRow, reference: Reference) -> Ionization:
    """Return the ionization of sulfur hexafluoride that is linear in the field, as the author of a row prints it."""
    value = constants(reference, "gas-constants")
    names = [f"sulfur-hexafluoride-{row.data.split(':')[1]}-{name}" for name in ("slope", "offset")]
    if not value.keys() >= set(names):
        raise row.fault("data", f"there are no {' and '.join(names)} in 'gas-constants'")
    slope, offset = (value[name] for name in names)
    made: Ionization = CLOSED_FORMS["linear"](
        slope, offset, *(value[f"sulfur-hexafluoride-field-{end}"] for end in ("from", "to"))
    )
    return made


def line_in_words(offset: float, slope: float) -> str:
    """Return ``c + a x`` as printed: kV, and bar cm."""
    return f"{offset / 1e3:g} + {slope:g} x"


def linear_criterion(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with an ionization linear in the field: ``U = (K + b x) / a``."""
    form = linear_ionization(row, reference)

    def voltage(case: Case) -> FloatArray:
        return townsend.breakdown_voltage(case.pd, form, row.far_exponent)

    low, high = townsend.pd_limits(form, row.far_exponent)
    first, last = float(np.nanmax([low, row.pd_from])), float(np.nanmin([high, row.pd_to]))
    return Form(
        voltage,
        (Limit("gap", PRODUCT, first, last), *common_limits(row, 1.0)),
    )


def criterion_below(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion at small pd, bent so that it meets the formula where that begins."""
    form, line = linear_ionization(row, reference), line_of(reference)
    end = row.pd_to
    meeting = float(formulas.linear_voltage(end, *line) / townsend.breakdown_voltage(end, form, row.far_exponent))

    def voltage(case: Case) -> FloatArray:
        bent = np.clip(np.log(case.pd / (end / BENT_OVER)) / np.log(BENT_OVER), 0.0, 1.0)
        return np.asarray(townsend.breakdown_voltage(case.pd, form, row.far_exponent) * (1 + (meeting - 1) * bent))

    first = float(np.nanmax([townsend.pd_limits(form, row.far_exponent)[0], row.pd_from]))
    return Form(
        voltage,
        # a billionth short of the formula's begin, so that the formula itself answers there
        (Limit("gap", PRODUCT, first, end * (1 - 2e-9)), *common_limits(row, 1.0)),
        notes=(BENT_NOTE.format(factor=BENT_OVER, percent=(1 - meeting) * 100),),
    )


BENT_NOTE = (
    "By the criterion alone, below the formula; over the last factor of {factor:g} in pd it is bent by up to "
    "{percent:.1f} % to meet it, which is our own."
)
RELATIVE_NOTE = (
    "Of this gas only its strength beside sulfur hexafluoride is served, {spread}, in a uniform field near atmospheric "
    "pressure; the ends take {low:.2g} and {high:.2g} of that gas, and more above at short gaps."
)
BENT_OVER = 5.0
"""Factor in pd over which the criterion is bent to meet the formula of sulfur hexafluoride."""
WEAKER_FROM = 500.0
"""pd below which weakly attaching gases hold more than their relative strength [Pa m]; air does by 28 % at 100."""
SHORT_GAIN = 0.35
"""What the high end of a bracket by relative strength gains down to a fifth of that pd; from air, our own."""
VAPOUR = 2e5
"""Highest pressure from which on a gas is not near its vapour pressure at room temperature [Pa]."""


def relative(row: GasRow, reference: Reference) -> Form:
    """Bracket by the published strength relative to sulfur hexafluoride."""
    line = line_of(reference)
    table = row.of_gas(reference.table("relative-strength"))
    printed, first, last = (float(table[name][0]) for name in ("strength", "spread_from", "spread_to"))
    low, high = (float(np.nan_to_num(end, nan=printed)) for end in (first, last))
    low, high = low * (1 - row.low), high * (1 + row.high)

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        del volts  # a bracket has no value
        strong = formulas.linear_voltage(case.pd, *line)
        short = np.clip(np.log(WEAKER_FROM / case.pd) / np.log(5.0), 0.0, 1.0)
        return strong * low, strong * high * (1 + SHORT_GAIN * short)

    warm = (Limit("temperature", TEMPERATURE, REFERENCE_TEMPERATURE),) if row.pressure_to < VAPOUR else ()
    spread = f"{printed:g}" if low == high or np.isnan(first) else f"{printed:g} ({first:g} to {last:g})"
    return Form(
        lambda case: np.full(case.size, np.nan),
        (Limit("gap", PRODUCT, row.pd_from, row.pd_to), *common_limits(row, 1.0), *warm),
        banded,
        kind="bracket",
        notes=(RELATIVE_NOTE.format(spread=spread, low=low, high=high),),
        widens=False,
    )


def mixture_rule(row: GasRow, reference: Reference) -> Form:
    """Pure gas times a power of the mole fraction."""
    line, exponent = line_of(reference), constants(reference, "gas-constants")["mixture-exponent-nitrogen"]

    def voltage(case: Case) -> FloatArray:
        pure = formulas.linear_voltage(case.pd, *line)
        return np.asarray(pure * formulas.mixture_factor(FRACTION.value(case), exponent))

    limits = (Limit("gap", PRODUCT, row.pd_from, row.pd_to), *common_limits(row, 1.0))
    return Form(
        voltage,
        (Limit("fraction", FRACTION, 0.05, 1.0), *limits),
        kind="formula",
        heading=f"({line_in_words(*line)}) fraction^{exponent:g}",
    )


def mixture_table(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with computed ionization of mixtures, between tabulated fractions."""
    table = computed_rows(reference, row)
    # the 98 % table stands in for the pure gas, with a shorter range: not used
    fractions = np.array([one for one in np.unique(table["fraction"]) if one < 0.9])
    curves = [computed_ionization(reference, row.gas, row.cross_sections, float(one)) for one in fractions]

    def voltage(case: Case) -> FloatArray:
        volts = [townsend.breakdown_voltage(case.pd, curve, row.far_exponent) for curve in curves]
        return formulas.mixture_voltage(FRACTION.value(case), fractions, np.array(volts))

    spans = [townsend.pd_limits(curve, row.far_exponent) for curve in curves]
    first = max(row.pd_from, *(span[0] for span in spans))
    last = min(row.pd_to, *(span[1] for span in spans))
    limits = (Limit("gap", PRODUCT, first, last), *common_limits(row, 1.0))
    return Form(
        voltage,
        (Limit("fraction", FRACTION, float(fractions[0]), float(fractions[-1])), *limits),
    )


VACUUM_NOTES = (
    "In vacuum metal, polish, area and conditioning decide: conditioning by sparks gains up to a factor of two.",
    "A larger area, a particle, a trace of oil or one heavy spark takes the gain of conditioning back.",
    "Beyond a few millimetres the total voltage counts beside the field: particles cross wide gaps and break them.",
    "An insulator across a vacuum gap flashes over first, often at a tenth to a half.",
    "X-rays are possible from about 5 kV on, even without breakdown.",
)
CONDITIONED_NOTES = {
    "yes": "Conditioned electrodes, as said: a factor of {factor:g} either way.",
    "no": "Electrodes not conditioned, as said: up to the law for conditioned ones, down to {share:g} of it.",
    "unknown": "Conditioning is not known: the low end is {share:g} of the law for conditioned electrodes; say "
    "conditioned=yes or conditioned=no.",
}


def vacuum_gap(row: GasRow, reference: Reference) -> Form:
    """Vacuum: proportional to the gap, then to its root; the band by what is known of conditioning."""
    value = constants(reference, "gas-constants")
    factor, least, gain = (value[f"vacuum-{name}"] for name in ("factor", "unconditioned-share", "conditioning-gain"))
    ends = {"yes": (1 / factor, 1.0, factor), "no": (least, 1 / gain, 1.0), "unknown": (least, 1.0, factor)}

    def law(case: Case) -> FloatArray:
        return formulas.vacuum_voltage(case.gap, value["vacuum-product"], value["vacuum-hand-over"])

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        del volts  # the band is that of the law for conditioned electrodes
        first, _, last = ends[conditioning(case)]
        return law(case) * first, law(case) * last

    def remarks(case: Case) -> tuple[str, ...]:
        return (CONDITIONED_NOTES[conditioning(case)].format(factor=factor, share=least),)

    span = (value["vacuum-gap-from"], value["vacuum-gap-to"])
    return Form(
        lambda case: law(case) * ends[conditioning(case)][1],
        (Limit("gap", GAP, *span), Limit("pressure", PRESSURE, high=value["vacuum-pressure-to"])),
        banded,
        similarity=False,
        notes=VACUUM_NOTES,
        remarks=remarks,
        widens=False,
        thin=True,
    )


def conditioning(case: Case) -> str:
    """Return what is known of the conditioning of electrodes in vacuum: yes, no or unknown."""
    return case.options.get("conditioned", "unknown")
