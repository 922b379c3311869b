"""Forms of attaching gases, mixtures and vacuum between plates."""

from __future__ import annotations

import numpy as np

from service.methods.form import Form, common_limits
from service.methods.gas_rows import GasRow, computed_ionization
from service.methods.laws import constants
from service.methods.method import FRACTION, GAP, PRESSURE, PRODUCT, TEMPERATURE, Case, FloatArray, Limit
from service.physics import townsend, uniform
from service.physics.atmosphere import REFERENCE_TEMPERATURE
from service.physics.ionization import CLOSED_FORMS, Ionization
from service.reference import Reference


def linear(row: GasRow, reference: Reference) -> Form:
    """``U = c + a x`` of sulfur hexafluoride."""
    line = line_of(reference)
    return Form(
        lambda case: uniform.linear_voltage(case.pd, *line),
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
    author = row.data.split(":")[1]
    slope, offset = (value[f"sulfur-hexafluoride-{author}-{name}"] for name in ("slope", "offset"))
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
    meeting = float(uniform.linear_voltage(end, *line) / townsend.breakdown_voltage(end, form, row.far_exponent))

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
    table = reference.table("relative-strength").where(gas_key=row.gas)
    printed, first, last = (float(table[name][0]) for name in ("strength", "spread_from", "spread_to"))
    low, high = (float(np.nan_to_num(end, nan=printed)) for end in (first, last))
    low, high = low * (1 - row.low), high * (1 + row.high)

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        del volts  # a bracket has no value
        strong = uniform.linear_voltage(case.pd, *line)
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
        pure = uniform.linear_voltage(case.pd, *line)
        return np.asarray(pure * uniform.mixture_factor(FRACTION.value(case), exponent))

    limits = (Limit("gap", PRODUCT, row.pd_from, row.pd_to), *common_limits(row, 1.0))
    return Form(
        voltage,
        (Limit("fraction", FRACTION, 0.05, 1.0), *limits),
        kind="formula",
        heading=f"({line_in_words(*line)}) fraction^{exponent:g}",
    )


def mixture_table(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with computed ionization of mixtures, between tabulated fractions."""
    table = reference.table("ionization-alpha-over-n").where(gas_key=row.gas, cross_sections=row.cross_sections)
    # the 98 % table stands in for the pure gas, with a shorter range: not used
    fractions = np.array([one for one in np.unique(table["fraction"]) if one < 0.9])
    curves = [computed_ionization(reference, row.gas, row.cross_sections, float(one)) for one in fractions]

    def voltage(case: Case) -> FloatArray:
        volts = [townsend.breakdown_voltage(case.pd, curve, row.far_exponent) for curve in curves]
        return uniform.mixture_voltage(FRACTION.value(case), fractions, np.array(volts))

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
        return uniform.vacuum_voltage(case.gap, value["vacuum-product"], value["vacuum-hand-over"])

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
