"""Laws of physics with the constants of the reference data in use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.methods.case import FloatArray
from service.physics.atmosphere import relative_density
from service.physics.corrections import ExponentLaw, FrequencyLaw, HumidityLaw
from service.physics.formulas import CoronaLaw, logarithmic_law, power_law, saturating_quotient, straight_line
from service.physics.ionization import IonizationFit
from service.reference import Reference, once


@once
def constants(reference: Reference, key: str) -> Mapping[str, float]:
    """Return the named constants of a table in SI.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    key : str
        A table with the columns ``name`` and ``value``.
    """
    table = reference.table(key)
    return MappingProxyType(dict(zip(table.text("name"), table["value"].tolist(), strict=True)))


@once
def ionization_fits(reference: Reference) -> Mapping[str, IonizationFit]:
    """Return the fits of air, each with its own K: ``quadratic``, ``linear-branch`` and ``calibrated``.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "streamer-criterion-fits")
    return {
        "quadratic": IonizationFit(
            critical_number=1.0,  # only the ratio K / C is published; the coefficient is taken per K
            curvature=1 / value["quadratic-integral-over-coefficient"],
            centre=value["quadratic-critical-field"],
        ),
        "linear-branch": IonizationFit(
            critical_number=value["linear-branch-integral"],
            curvature=value["linear-branch-coefficient"],
            centre=value["linear-branch-offset"],
            offset=value["linear-branch-reduction"],
            branch=value["linear-branch-join"],
            slope=value["linear-branch-slope"],
            intercept=value["linear-branch-intercept"],
            highest=value["linear-branch-end"],
        ),
        "calibrated": IonizationFit(
            critical_number=value["calibrated-integral"],
            curvature=value["calibrated-coefficient"],
            centre=value["calibrated-critical-field"],
        ),
    }


def corona_laws(reference: Reference) -> Mapping[str, CoronaLaw]:
    """Return the corona onset laws: ``parallel-wires``, ``coaxial-cylinders`` and ``spheres``.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "peek-constants")
    density = float(relative_density(value["reference-pressure"], value["reference-temperature"]))
    shapes = ("parallel-wires", "coaxial-cylinders", "spheres")
    return {shape: CoronaLaw(value[f"{shape}-field"], value[f"{shape}-root"], density) for shape in shapes}


def humidity_laws(reference: Reference) -> Mapping[str, HumidityLaw]:
    """Return the humidity laws: ``direct``, ``alternating``, ``impulse`` and ``rod-rod-direct``.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "iec-60060-1-corrections")
    kinds = ("direct", "alternating", "impulse", "rod-rod-direct")
    return {
        kind: HumidityLaw(
            slope=value[f"{kind}-linear"],
            curvature=value.get(f"{kind}-quadratic", 0.0),
            lowest=value[f"{kind}-lowest"],
            highest=value[f"{kind}-largest"],
            reference=value["reference-humidity"],
        )
        for kind in kinds
    }


def exponent_law(reference: Reference) -> ExponentLaw:
    """Return the exponents of density and humidity over g.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "iec-60060-1-corrections")
    return ExponentLaw(
        gradient=value["breakdown-gradient"],
        rise_from=value["g-rise-from"],
        rise_divisor=value["g-rise-divisor"],
        full_from=value["g-full-from"],
        fall_from=value["g-fall-from"],
        fall_offset=value["g-fall-offset"],
        fall_to=value["g-fall-to"],
        fall_divisor=value["g-fall-divisor"],
    )


def frequency_law(reference: Reference) -> FrequencyLaw:
    """Return the fall of a weakly non-uniform field's breakdown voltage with frequency.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "correction-constants")
    return FrequencyLaw(
        critical_frequency_times_gap=value["critical-frequency-times-gap"],
        frequency_of_minimum=value["frequency-of-minimum"],
        end=value["frequency-factor-end"],
    )


@dataclass(frozen=True)
class LongGapLaw:
    """The 50 % voltage of a rod over a plane in the air of IEC 60060-1.

    Parameters
    ----------
    formula : str
        As printed, with the constants in use: kV, d in metres.
    volts : callable
        Gap [m] to peak voltage [V].
    span : tuple of float
        Gaps for which it is used [m].
    """

    formula: str
    volts: Callable[[FloatArray], FloatArray]
    span: tuple[float, float]


@once
def long_gap_laws(reference: Reference) -> Mapping[str, LongGapLaw]:
    """Return the rod-plane laws, by kind of voltage.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "rod-plane-formulas")
    direct = constants(reference, "rod-plane-direct")
    crest = value["alternating-coefficient"] * 2**0.5

    def span(name: str) -> tuple[float, float]:
        return value[f"{name}-lowest-gap"], value[f"{name}-largest-gap"]

    def powered(name: str) -> LongGapLaw:
        coefficient, exponent = value[f"{name}-coefficient"], value[f"{name}-exponent"]
        return LongGapLaw(said[name], lambda gap: power_law(gap, coefficient, exponent), span(name))

    def middle(polarity: str) -> Callable[[FloatArray], FloatArray]:
        gradient = (direct[f"{polarity}-lowest"] + direct[f"{polarity}-highest"]) / 2
        return lambda gap: straight_line(gap, gradient)

    def ends(polarity: str) -> tuple[float, float]:
        return direct["lowest-gap"], direct[f"{polarity}-largest-gap"]

    said = _formulas(value, direct)

    def quotient(gap: FloatArray) -> FloatArray:
        return saturating_quotient(gap, value["fraction-numerator"], value["fraction-length"])

    def logarithm(gap: FloatArray) -> FloatArray:
        return logarithmic_law(gap, value["logarithm-coefficient"], value["logarithm-slope"])

    return MappingProxyType(
        {
            "switching-fraction": LongGapLaw(said["fraction"], quotient, span("fraction")),
            "switching-logarithm": LongGapLaw(said["logarithm"], logarithm, (1.0, value["logarithm-largest-gap"])),
            "switching-power": powered("power"),
            "switching-negative": powered("negative-switching"),
            "lightning-positive": LongGapLaw(
                said["lightning-impulse"],
                lambda gap: straight_line(gap, value["lightning-impulse-gradient"]),
                (1.0, value["lightning-impulse-largest-gap"]),
            ),
            "lightning-negative": powered("negative-lightning"),
            "alternating": LongGapLaw(
                said["alternating"],
                lambda gap: logarithmic_law(gap, crest, value["alternating-slope"], value["alternating-exponent"]),
                span("alternating"),
            ),
            "direct-positive": LongGapLaw(said["positive"], middle("positive"), ends("positive")),
            "direct-negative": LongGapLaw(said["negative"], middle("negative"), ends("negative")),
            "direct-weakest": LongGapLaw(
                said["weakest"], lambda gap: straight_line(gap, direct["positive-lowest"]), ends("positive")
            ),
        }
    )


def _formulas(value: Mapping[str, float], direct: Mapping[str, float]) -> Mapping[str, str]:
    """Return the laws as they are printed, with the constants in use."""

    def kilovolts(name: str) -> str:
        return f"{value[name] / 1e3:g}"

    def power(name: str) -> str:
        return f"{kilovolts(f'{name}-coefficient')} d^{value[f'{name}-exponent']:g}"

    def gradient(name: str) -> str:
        return f"{direct[name] / 1e6:g}"

    def gradients(polarity: str) -> str:
        return f"{gradient(f'{polarity}-lowest')} to {gradient(f'{polarity}-highest')} kV/mm"

    slope, exponent = value["alternating-slope"], value["alternating-exponent"]
    return {
        "fraction": f"{kilovolts('fraction-numerator')}/(1 + {value['fraction-length']:g}/d)",
        "logarithm": f"{kilovolts('logarithm-coefficient')} ln({value['logarithm-slope']:g} d + 1)",
        **{name: power(name) for name in ("power", "negative-switching", "negative-lightning")},
        "lightning-impulse": f"{kilovolts('lightning-impulse-gradient')} kV/m",
        "alternating": f"{kilovolts('alternating-coefficient')} sqrt 2 ln(1 + {slope:g} d^{exponent:g})",
        **{polarity: gradients(polarity) for polarity in ("positive", "negative")},
        "weakest": f"{gradient('positive-lowest')} kV/mm",
    }
