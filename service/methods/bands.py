"""What becomes of a band: wider in humid air, lower at high frequency, and what a gap holds below it; no rating."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from service.methods.laws import constants, frequency_law
from service.methods.method import Case, Estimate, FloatArray
from service.physics.corrections import (
    FrequencyLaw,
    below_by_deviations,
    frequency_factor,
    lower_bound_frequency_factor,
    widening,
)
from service.physics.numbers import Numbers
from service.reference import Reference, Table, once
from service.units import ROUNDING

FASTEST = 10e6
"""Highest frequency at which weakly non-uniform fields are answered [Hz]; common practice, no source."""


@dataclass(frozen=True)
class WeakField:
    """Corrections of estimates in weakly non-uniform fields.

    Parameters
    ----------
    law : FrequencyLaw
        Fall of the value.
    falls_from, falls_to, end : float
        Fall of the low end [Hz, Hz, 1].
    reference_humidity : float
        Where nothing is added [kg/m3].
    per_humidity : float
        Widening per absolute humidity [m3/kg].
    """

    law: FrequencyLaw
    falls_from: float
    falls_to: float
    end: float
    reference_humidity: float
    per_humidity: float

    @classmethod
    def of(cls, reference: Reference) -> WeakField:
        """Return the corrections with the constants of the reference data."""
        value = constants(reference, "correction-constants")
        return cls(
            frequency_law(reference),
            value["low-falls-from"],
            value["low-falls-to"],
            value["low-factor-end"],
            value["sphere-gap-reference-humidity"],
            value["humidity-widening"],
        )

    def corrected(self, case: Case, estimate: Estimate, *, humid: bool = True) -> Estimate:
        """Return an estimate widened for humidity and lowered for frequency.

        Parameters
        ----------
        case : Case
        estimate : Estimate
            At low frequency and the reference humidity.
        humid : bool
            Whether humidity widens the band.
        """
        of = case.of
        if humid and case.in_air and not of.all(case.humidity == self.reference_humidity):
            estimate = self._widened(case, estimate)
        falls = (case.frequency > self.falls_from) | (case.frequency * case.gap > self.law.critical_frequency_times_gap)
        if not of.any(falls):
            return estimate
        lowered = self._lowered(case.in_arrays, estimate.in_arrays)
        return lowered.plain if case.is_plain else lowered

    def _widened(self, case: Case, estimate: Estimate) -> Estimate:
        of = case.of
        extra = widening(case.humidity, self.reference_humidity, self.per_humidity)
        extra = of.where(of.isnan(extra), 0.0, extra)
        bracket = of.isnan(estimate.value)
        below, above = (of.where(bracket, end, estimate.value) * extra for end in (estimate.low, estimate.high))
        return replace(estimate, low=estimate.low - below, high=estimate.high + above)

    def _lowered(self, case: Case, estimate: Estimate) -> Estimate:
        factor = frequency_factor(case.frequency, case.gap, self.law)
        low_factor = lower_bound_frequency_factor(case.frequency, self.falls_from, self.falls_to, self.end)
        notes = estimate.notes
        if (factor < 1).any() or (low_factor < 1).any():
            notes = (*notes, "High frequency lowers the voltage of weakly non-uniform fields by up to 20 %.")
        # the high end of a bracket is the value of a uniform field, and falls as one
        high = np.where(np.isnan(estimate.value), estimate.high * factor, estimate.high)
        return replace(
            estimate,
            value=estimate.value * factor,
            low=estimate.low * np.minimum(factor, low_factor),
            high=high,
            inception=None if estimate.inception is None else estimate.inception * factor,
            corrections={**estimate.corrections, "frequency_factor": factor},
            notes=notes,
        )


DEVIATIONS = {"switching-impulse": "deviation-switching"}
"""Scatter in air by waveform, a constant of the correction tables; other waveforms scatter as alternating voltage."""
SHOTS = "norman-2022-points"
"""Table of measured points with the scatter of their shots."""
SLOW = ("ac", "dc")
"""Waveforms to which the scatter of shots at direct voltage applies; impulses add a time lag of their own."""


def withstand(case: Case, low: Numbers, reference: Reference) -> Numbers:
    """Return the low end of a band less three deviations of scatter [V peak]; NaN where no scatter is known.

    Parameters
    ----------
    low : ndarray or float
        Low end of the band of every element [V]; a plain number where the case is in plain numbers.
    """
    deviation, multiple = scatter(case, reference), constants(reference, "correction-constants")["scatter-multiple"]
    held = case.filled(np.nan)
    if case.is_plain:
        return held if case.of.isnan(deviation) else below_by_deviations(low, deviation, multiple)
    known = np.isfinite(deviation)
    held[known] = below_by_deviations(low[known], deviation[known], multiple)
    return held


def scatter(case: Case, reference: Reference) -> Numbers:
    """Return the relative standard deviation of breakdown per element; NaN where none is known.

    In air the conventional deviations of IEC 60060-1. In a gas with measured shots the largest deviation of a gap's
    shots, straight in the logarithm of the gap between measured gaps, never below that of air; absent beyond the
    measured gaps and pressures, at impulses, and in vacuum.

    Parameters
    ----------
    case : Case
    reference : Reference
        Loaded tables.
    """
    value = constants(reference, "correction-constants")
    conventional = value[DEVIATIONS.get(case.waveform, "deviation-alternating-and-lightning")]
    if case.in_air:
        return case.filled(conventional)
    known = _shots(reference, case.gas) if case.waveform in SLOW else None
    if known is None:
        return case.filled(np.nan)
    gaps, deviations, pressures = known
    inside = (case.gap >= gaps[0] * (1 - ROUNDING)) & (case.gap <= gaps[-1] * (1 + ROUNDING))
    inside &= (case.reduced_pressure >= pressures[0] * 0.99) & (case.reduced_pressure <= pressures[1] * 1.01)
    between = np.interp(np.log(case.gap), np.log(gaps), deviations)
    found = np.where(inside, np.maximum(between, conventional), np.nan)
    return found.item() if case.is_plain else found


def scatter_note(case: Case, reference: Reference) -> tuple[str, ...]:
    """Return the sentence on the scatter behind a withstand estimate of one element; nothing in air."""
    if case.in_air:
        return ()
    deviation = float(scatter(case, reference)[0])
    if np.isnan(deviation):
        return ("No withstand estimate: the scatter of shots is not known for this gas, gap, pressure and waveform.",)
    source = reference.table(SHOTS).source.citation
    return (f"The withstand estimate takes a scatter of {deviation * 100:.2g} % of the shots ({source}).",)


@once
def _shots(reference: Reference, gas: str) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Return the gaps of a gas [m], the largest relative deviation of each, and the ends of pressure [Pa]."""
    table: Table = reference.table(SHOTS)
    if gas not in table.text("gas_key"):
        return None
    rows = table.where(gas_key=gas)
    gaps = np.unique(rows["gap"])
    deviations = np.array([rows["relative_deviation"][rows["gap"] == gap].max() for gap in gaps])
    return gaps, deviations, np.array([rows["pressure"].min(), rows["pressure"].max()])
