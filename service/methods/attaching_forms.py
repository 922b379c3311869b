"""Forms of attaching gases, mixtures and vacuum between plates."""

from __future__ import annotations

import numpy as np

from service.methods.form import Form, common_limits, in_words
from service.methods.gas_rows import GasRow, computed_ionization
from service.methods.laws import constants
from service.methods.method import Case, FloatArray, Limit
from service.physics import townsend, uniform, vacuum
from service.physics.closed_forms import CLOSED_FORMS
from service.reference import Reference


def linear(row: GasRow, reference: Reference) -> Form:
    """``U = c + a x`` of sulfur hexafluoride."""
    value = constants(reference, "gas-constants")
    offset, slope = value["sulfur-hexafluoride-offset"], value["sulfur-hexafluoride-slope"]

    def voltage(case: Case) -> FloatArray:
        return uniform.linear_voltage(case.pd, offset, slope)

    return Form(
        voltage,
        (Limit("pd", "pd", row.pd_from, row.pd_to), *common_limits(row, 1.0)),
        f"{row.gas}, pd {in_words(row.pd_from)} to {in_words(row.pd_to)}, to {row.pressure_to / 1e5:g} bar",
        kind="formula",
        notes=("Clean, small electrodes.",),
    )


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
        kind="formula",
    )


def mixture_table(row: GasRow, reference: Reference) -> Form:
    """Streamer criterion with computed ionization of mixtures, between tabulated fractions."""
    table = reference.table("ionization-alpha-over-n").where(gas_key=row.gas, cross_sections=row.cross_sections)
    # the 98 % table stands in for the pure gas, with a shorter range: not used
    fractions = np.array([one for one in np.unique(table["fraction"]) if one < 0.9])
    curves = [computed_ionization(reference, row.gas, row.cross_sections, float(one)) for one in fractions]

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
    )


def fraction_of(case: Case) -> FloatArray:
    """Return the mole fraction of the first gas of a mixture."""
    return np.full(case.size, np.nan) if case.fraction is None else case.fraction


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
        return vacuum.vacuum_voltage(case.gap, value["vacuum-product"], value["vacuum-hand-over"])

    def banded(case: Case, volts: FloatArray) -> tuple[FloatArray, FloatArray]:
        del volts  # the band is that of the law for conditioned electrodes
        first, _, last = ends[conditioning(case)]
        return law(case) * first, law(case) * last

    def remarks(case: Case) -> tuple[str, ...]:
        return (CONDITIONED_NOTES[conditioning(case)].format(factor=factor, share=least),)

    span = (value["vacuum-gap-from"], value["vacuum-gap-to"])
    return Form(
        lambda case: law(case) * ends[conditioning(case)][1],
        (Limit("gap", "length", *span), Limit("pressure", "pressure", high=value["vacuum-pressure-to"])),
        f"vacuum to 10 mPa, gap {span[0] * 1e3:g} to {span[1] * 1e3:g} mm, within a factor of {factor:g} where "
        "conditioned",
        banded,
        similarity=False,
        notes=VACUUM_NOTES,
        remarks=remarks,
        widens=False,
    )


def conditioning(case: Case) -> str:
    """Return what is known of the conditioning of electrodes in vacuum: yes, no or unknown."""
    return case.options.get("conditioned", "unknown")
