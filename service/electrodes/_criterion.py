"""The streamer criterion as methods of any shape whose axis field is known, and brackets where it is not breakdown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service.electrodes import uniform_field
from service.electrodes._air_forms import handover
from service.electrodes._base import Case, Estimate, FloatArray, Limit, Method, Source, Validity
from service.electrodes._laws import constants, corona_laws, ionization_fits
from service.electrodes._weak import WeakField
from service.physics.corona import CoronaLaw, onset_field
from service.physics.criterion import inception
from service.physics.fields import Shape
from service.physics.streamer import IonizationFit
from service.reference import Reference

NEARLY_UNIFORM = 0.66
"""Utilization factor from which inception is breakdown within 5 %; from the earthed-sphere table."""
WEAKLY_NON_UNIFORM = 0.5
"""Utilization factor from which inception is breakdown within 10 %; below it corona comes first."""
FINEST = 10.0
"""Smallest reduced pressure times radius [Pa m]: 0.1 mm at 1 bar; down to it inception agrees with corona formulas."""
TITLES = {
    "quadratic": "Streamer criterion, quadratic fit",
    "linear-branch": "Streamer criterion, quadratic fit with linear branch",
    "calibrated": "Streamer criterion, calibrated on near-uniform sphere gaps",
}
SOURCES = {
    "quadratic": Source(
        "kuffel-zaengl-kuffel-2000",
        "Kuffel, Zaengl, Kuffel: High Voltage Engineering: Fundamentals",
        "2nd edition, 2000",
        "equations 5.103 to 5.107",
    ),
    "linear-branch": Source(
        "petcharaks-1995",
        "Petcharaks, thesis, ETH Zurich 1995; Zaengl and Petcharaks, Gaseous Dielectrics VII, 1994",
        "1995",
    ),
    "calibrated": Source(
        "streamer-criterion", "This project, fitted to 40 cells of IEC 60052 Table 2 with spacing up to 0.15 D", "2026"
    ),
}
PROVENANCE = {"quadratic": "memory", "linear-branch": "memory", "calibrated": "derived"}
POINT_NOTE = (
    "Below a utilization factor of 0.5 corona comes first; breakdown lies between inception and the uniform field."
)
FAST_NOTE = "Above 30 kHz inception may be breakdown."
NO_CRITERION = (
    "The streamer criterion is not offered in this gas: only the uniform-field voltage bounds it, from above."
)

Radius = Callable[[Case], FloatArray]


def half(name: str) -> Radius:
    """Return the function that takes half of a dimension of a case, as radius [m]."""
    return lambda case: np.asarray(case.dimensions[name] / 2)


@dataclass(frozen=True)
class Electrode:
    """A shape and how its radius is found.

    Parameters
    ----------
    shape : Shape
        With the field on its axis.
    radius : callable
        Case to the radius of the electrode of highest field [m].
    words : str
        The shape in words.
    options : tuple of (str, str)
        Options that choose this shape.
    corona : str, optional
        Key of the classical corona law.
    corona_first : float
        Gap over radius beyond which corona comes before breakdown whatever the utilization factor.
    """

    shape: Shape
    radius: Radius
    words: str
    options: tuple[tuple[str, str], ...] = ()
    corona: str | None = None
    corona_first: float = np.inf

    def utilization(self, case: Case) -> FloatArray:
        """Return mean over greatest field."""
        return self.shape.utilization_factor(case.gap, self.radius(case))

    def weakness(self, case: Case) -> FloatArray:
        """Return the utilization factor where inception may be breakdown, and zero where corona comes first anyway."""
        slender = case.gap / self.radius(case) > self.corona_first
        return np.where(slender, 0.0, self.utilization(case))

    def fineness(self, case: Case) -> FloatArray:
        """Return reduced pressure times radius [Pa m]."""
        return np.asarray(case.reduced_pressure * self.radius(case))


def criterion_methods(reference: Reference, electrode: Electrode) -> tuple[Method, ...]:
    """Return the methods of a shape: three fits, each where inception is breakdown and where it is not; then brackets.

    Parameters
    ----------
    reference : Reference
    electrode : Electrode
    """
    fits = ionization_fits(reference)
    weak = WeakField.of(reference)
    ends = (handover(reference)[0], 5e5)
    sharp = [_breakdown(name, fit, electrode, weak, ends) for name, fit in fits.items()]
    blunt = [_bracket(name, fit, electrode, weak, ends) for name, fit in fits.items()]
    corona = [] if electrode.corona is None else [_corona(reference, electrode, electrode.corona, ends)]
    return (*sharp, *blunt, *corona, *_other_gases(reference, electrode, weak))


def _breakdown(
    name: str, fit: IonizationFit, electrode: Electrode, weak: WeakField, ends: tuple[float, float]
) -> Method:
    def function(case: Case) -> Estimate:
        found = inception(electrode.shape, case.gap, electrode.radius(case), case.reduced_pressure, fit)
        eta = electrode.utilization(case)
        band = np.where(eta >= NEARLY_UNIFORM, 0.05, 0.10)
        volts = found.voltage
        estimate = Estimate(volts, volts * (1 - band), volts * (1 + band), utilization=eta)
        return weak.corrected(case, estimate)

    weakly = Limit("field utilization factor", "number", WEAKLY_NON_UNIFORM, of=electrode.weakness)
    return Method(
        f"streamer-{name}",
        TITLES[name],
        "model",
        function,
        _validity(electrode, fit, ends, weakly, "utilization factor from 0.5 (5 % from 0.66, 10 % below)"),
        10.0,
        SOURCES[name],
        PROVENANCE[name],
        True,
    )


def _bracket(name: str, fit: IonizationFit, electrode: Electrode, weak: WeakField, ends: tuple[float, float]) -> Method:
    def function(case: Case) -> Estimate:
        found = inception(electrode.shape, case.gap, electrode.radius(case), case.reduced_pressure, fit)
        high = fit.uniform_field_voltage(case.gap, case.reduced_pressure)
        notes = (POINT_NOTE, *((FAST_NOTE,) if (case.frequency > 30e3).any() else ()))
        estimate = Estimate(
            np.full(case.size, np.nan),
            found.voltage,
            np.maximum(high, found.voltage),
            inception=found.voltage,
            utilization=electrode.utilization(case),
            notes=notes,
        )
        return weak.corrected(case, estimate, humid=False)

    slender = Limit("field utilization factor", "number", high=WEAKLY_NON_UNIFORM * (1 - 2e-9), of=electrode.weakness)
    return Method(
        f"streamer-{name}-inception",
        f"{TITLES[name]}: inception to uniform field",
        "bracket",
        function,
        _validity(electrode, fit, ends, slender, "utilization factor below 0.5"),
        None,
        SOURCES[name],
        PROVENANCE[name],
        True,
    )


def _validity(
    electrode: Electrode, fit: IonizationFit, ends: tuple[float, float], uniformity: Limit, words: str
) -> Validity:
    limits: tuple[Limit, ...] = (
        Limit("pd", "pd", *ends),
        Limit("pressure", "pressure", high=1e6),
        Limit("gap", "length", 1e-5, 10.0),
        Limit("reduced pressure times radius", "pd", FINEST, of=electrode.fineness),
        Limit("frequency", "frequency", 0.0, 10e6),
        uniformity,
    )
    if np.isfinite(fit.highest):

        def highest_field(case: Case) -> FloatArray:
            found = inception(electrode.shape, case.gap, electrode.radius(case), case.reduced_pressure, fit)
            return found.maximum_reduced_field

        limits = (*limits, Limit("field over pressure [V/(Pa m)]", "number", high=fit.highest, of=highest_field))
    said = (
        f"air, {electrode.words}, pd {ends[0]:.3g} to {ends[1]:.3g} Pa m, pressure times radius from 10 Pa m, {words}"
    )
    options = {name: frozenset({key}) for name, key in electrode.options}
    return Validity(frozenset({"air"}), options=options, limits=limits, words=said)


def _corona(reference: Reference, electrode: Electrode, key: str, ends: tuple[float, float]) -> Method:
    law: CoronaLaw = corona_laws(reference)[key]
    fit = ionization_fits(reference)["quadratic"]

    def function(case: Case) -> Estimate:
        radius = electrode.radius(case)
        field = onset_field(law, radius, case.relative_density, 1.0)
        onset = field / electrode.shape.maximum_field(case.gap, radius)
        high = np.maximum(onset, fit.uniform_field_voltage(case.gap, case.reduced_pressure))
        nothing = np.full(case.size, np.nan)
        return Estimate(nothing, onset, high, inception=onset, utilization=electrode.utilization(case))

    table = reference.table("peek-constants")
    return Method(
        f"corona-onset-{key}",
        f"Corona onset by the classical formula ({key.replace('-', ' ')})",
        "bracket",
        function,
        Validity(
            frozenset({"air"}),
            options={name: frozenset({option}) for name, option in electrode.options},
            limits=(Limit("pd", "pd", *ends), Limit("relative_density", "number", 0.3, 3.0)),
            words="smooth surfaces in air; the onset of corona, not breakdown",
        ),
        None,
        table.source,
        table.provenance_words[-1],
    )


def _other_gases(reference: Reference, electrode: Electrode, weak: WeakField) -> tuple[Method, ...]:
    plates = uniform_field.arrangement(reference).methods
    others = [m for m in plates if "air" not in m.validity.gases and m.similarity]
    options = {name: frozenset({key}) for name, key in electrode.options}
    return (_linear_gas(reference, electrode, weak), *(_from_above(m, electrode, options) for m in others))


def _linear_gas(reference: Reference, electrode: Electrode, weak: WeakField) -> Method:
    """Sulfur hexafluoride by its ionization linear in the field."""
    value = constants(reference, "gas-constants")
    fit = IonizationFit(
        18.4,
        branch=0.0,
        slope=value["sulfur-hexafluoride-kuffel-slope"],
        intercept=value["sulfur-hexafluoride-kuffel-offset"],
        highest=value["sulfur-hexafluoride-field-to"],
    )

    def function(case: Case) -> Estimate:
        found = inception(electrode.shape, case.gap, electrode.radius(case), case.reduced_pressure, fit)
        volts = found.voltage
        notes = ("Clean, smooth electrodes; in this gas roughness and particles lower the voltage by half and more.",)
        estimate = Estimate(volts, volts * 0.75, volts * 1.1, utilization=electrode.utilization(case), notes=notes)
        return weak.corrected(case, estimate)

    limits = (
        Limit("pd", "pd", 50.0, 1e4),
        Limit("pressure", "pressure", high=5e5),
        Limit("gap", "length", 1e-4, 1.0),
        Limit("reduced pressure times radius", "pd", 100.0, of=electrode.fineness),
        Limit("field utilization factor", "number", WEAKLY_NON_UNIFORM, of=electrode.weakness),
    )
    return Method(
        "streamer-sulfur-hexafluoride",
        "Streamer criterion, ionization linear in the field",
        "model",
        function,
        Validity(
            frozenset({"sulfur-hexafluoride"}),
            options={name: frozenset({key}) for name, key in electrode.options},
            limits=limits,
            words="sulfur hexafluoride, utilization factor from 0.5, pd 50 to 10000 Pa m, to 5 bar",
        ),
        25.0,
        SOURCES["quadratic"],
        "memory",
        True,
    )


def _from_above(plates: Method, electrode: Electrode, options: dict[str, frozenset[str]]) -> Method:
    def function(case: Case) -> Estimate:
        uniform = plates.function(case)
        nothing = np.full(case.size, np.nan)
        eta = electrode.utilization(case)
        return Estimate(nothing, nothing, uniform.value, utilization=eta, notes=(NO_CRITERION, *uniform.notes))

    validity = Validity(
        plates.validity.gases, options=options, limits=plates.validity.limits, words=plates.validity.words
    )
    title = f"Bounded by the uniform field ({plates.title})"
    return Method(
        f"below-{plates.key}", title, "bracket", function, validity, None, plates.source, plates.provenance, True
    )
