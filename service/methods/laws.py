"""Laws of physics with the constants of the reference data in use."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.physics.atmosphere import relative_density
from service.physics.atmospheric_correction import ExponentLaw, HumidityLaw
from service.physics.corona import CoronaLaw
from service.physics.corrections import FrequencyLaw
from service.physics.streamer import IonizationFit
from service.reference import Reference
from service.reference.kept import once


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
