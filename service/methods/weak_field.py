"""What every weakly non-uniform field shares: the band widened by humidity, and the fall at high frequency."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from service.methods.laws import constants, frequency_law
from service.methods.method import Case, Estimate
from service.physics.corrections import (
    FrequencyLaw,
    frequency_factor,
    lower_bound_frequency_factor,
    widening,
)
from service.reference import Reference

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
