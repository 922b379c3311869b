"""What the readings at a setting say, and what all accepted settings say of the probe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import voltage
from service.bench.probe_reference import Reference, influences
from service.bench.sparkovers import Sparkovers, repeatability
from service.bench.sphere_practice import Practice
from service.bench.uncertainty import COVERAGE, Comparison
from service.methods import Case

LINEAR = 0.01
"""Deviation from one scale factor that counts only when it is larger; common practice, no source."""
NEGLIGIBLE = 1e-6
"""Error that is put into words as none; no check of a probe comes near it."""


@dataclass(frozen=True, eq=False)
class Checked:
    """The sparkovers at a setting beside its reference voltage.

    Parameters
    ----------
    spacing, diameter : float
        [m].
    sparkovers : Sparkovers
    reference : Reference or None
        ``None`` where no method gives a voltage.
    practice : Practice
    irradiated : str
        ``yes``, ``no`` or ``unknown``.
    """

    spacing: float
    diameter: float
    sparkovers: Sparkovers
    reference: Reference | None
    practice: Practice
    irradiated: str

    @cached_property
    def why_not(self) -> tuple[str, ...]:
        """Why this setting is not accepted; empty where it is."""
        return (*self._of_readings(), *self._of_setting())

    @property
    def accepted(self) -> bool:
        """Whether this setting counts."""
        return not self.why_not

    def _of_readings(self) -> list[str]:
        reasons = []
        fewest, largest = self.practice.sparkovers, self.practice.value["largest-standard-deviation"]
        if self.sparkovers.count < fewest:
            counted = f"{self.sparkovers.count} sparkover" + "s" * (self.sparkovers.count != 1)
            reasons.append(f"{counted}; at least {fewest} are needed.")
        if self.sparkovers.deviation >= largest:
            percent = 100 * self.sparkovers.deviation
            reasons.append(f"The standard deviation is {percent:.2g} %; it must be below {100 * largest:g} %.")
        return reasons

    def _of_setting(self) -> list[str]:
        if self.reference is None:
            return ["No method gives a voltage for this setting."]
        setting = self.reference.setting
        reasons = list(setting.why_not)
        if self.irradiated == "no" and setting.irradiation_needed:
            reasons.append("The gap needs irradiation (below 50 kV, or with spheres up to 12.5 cm) and had none.")
        return reasons

    @property
    def ratio(self) -> float:
        """Mean indicated over reference voltage; NaN without a reference."""
        return float("nan") if self.reference is None else self.sparkovers.mean / self.reference.setting.value

    def block(self) -> dict[str, Any]:
        """Return the setting as answers show it."""
        fields: dict[str, Any] = {
            "sphere_diameter": units.quantity(self.diameter, "length"),
            "spacing": units.quantity(self.spacing, "length"),
        }
        if self.reference is not None:
            fields["reference_voltage"] = self.reference.setting.reference_voltage()
        fields |= {"sparkovers": self.sparkovers.count, "mean": voltage(self.sparkovers.mean)}
        if self.sparkovers.count > 1:
            fields["standard_deviation_percent"] = 100 * self.sparkovers.deviation
        if self.sparkovers.low_outliers.size:
            fields["low_outliers"] = [voltage(float(one)) for one in self.sparkovers.low_outliers]
        fields |= self._ratio_block() | {"accepted": self.accepted, "why_not": list(self.why_not)}
        return fields | self._row_block()

    def _ratio_block(self) -> dict[str, Any]:
        if self.reference is None:
            return {}
        block = {"ratio_error_percent": 100 * (self.ratio - 1)}
        if self.sparkovers.count > 1:
            own = comparison([self])
            uncertainty = COVERAGE * float(own.setting_uncertainty[0]) * self.ratio
            block["ratio_error_uncertainty_percent"] = 100 * uncertainty
        return block

    def _row_block(self) -> dict[str, Any]:
        if self.reference is None:
            return {}
        setting = self.reference.setting
        row = {"row": setting.row} if setting.row else {}
        chosen = setting.evaluation.preferred()
        return {
            "method": setting.method.key,
            **row,
            "provenance": chosen.estimate.provenance or setting.method.provenance,
        }


def comparison(checked: Sequence[Checked]) -> Comparison:
    """Return the comparison that settings make, each with a reference and two sparkovers or more.

    Parameters
    ----------
    checked : sequence of Checked
        At least one.
    """
    references = [one.reference for one in checked if one.reference is not None]
    sparkovers = [one.sparkovers for one in checked]
    return Comparison(
        np.array([one.mean for one in sparkovers]),
        np.array([one.setting.value for one in references]),
        repeatability(sparkovers),
        influences(references),
    )


@dataclass(frozen=True, eq=False)
class Overall:
    """What the accepted settings say of the probe.

    Parameters
    ----------
    checked : sequence of Checked
        Accepted ones, at least one.
    case : Case
        Waveform, polarity and frequency.
    attenuation : float or None
        Nominal ratio.
    """

    checked: Sequence[Checked]
    case: Case
    attenuation: float | None

    @cached_property
    def comparison(self) -> Comparison:
        """The comparison of all accepted settings."""
        return comparison(self.checked)

    @property
    def verdict(self) -> tuple[str, str]:
        """Verdict and explanation."""
        found = self.comparison
        uncertainty = found.expanded_uncertainty
        error = 1 / found.scale_factor - 1
        more = f"{abs(error) * 100:.2g} % {'more' if error > 0 else 'less'} than"
        said = f"The probe indicates {more if abs(error) > NEGLIGIBLE else 'just what'} the gap says"
        known = f"the check is known to {uncertainty * 100:.2g} % (k = 2)"
        if self.bent:
            return (
                "not-linear",
                f"{said} on average, but the ratio changes with the voltage beyond what {known} explains.",
            )
        if abs(error) <= uncertainty:
            return "agrees-within-uncertainty", f"{said}; {known}, so no error is shown."
        return ("reads-high" if error > 0 else "reads-low"), f"{said}; {known}."

    @property
    def bent(self) -> bool:
        """Whether some setting deviates from one scale factor by more than chance and a percent."""
        found = self.comparison
        allowed = np.maximum(COVERAGE * found.deviation_uncertainty, LINEAR)
        return bool((np.abs(found.deviations) > allowed).any())

    def block(self) -> dict[str, Any]:
        """Return the result as answers show it."""
        found = self.comparison
        fields: dict[str, Any] = {
            "scale_factor": found.scale_factor,
            "expanded_uncertainty": found.expanded_uncertainty,
        }
        if self.attenuation is not None:
            fields["corrected_attenuation"] = self.attenuation * found.scale_factor
        if len(self.checked) > 1:
            fields["linearity_percent"] = 100 * float(np.abs(found.deviations).max())
        verdict, explanation = self.verdict
        parts = {name: 100 * COVERAGE * part for name, part in found.parts.items()}
        return fields | {
            "verdict": verdict,
            "explanation": explanation,
            "uncertainty_parts_percent": parts,
            "valid_for": self.valid_for(),
        }

    def valid_for(self) -> dict[str, Any]:
        """Return the voltages and the waveform that the result holds for."""
        volts, case = self.comparison.reference, self.case
        fields: dict[str, Any] = {
            "voltage": voltage(float("nan"), float(volts.min()), float(volts.max())),
            "waveform": case.waveform,
        }
        if case.polarity is not None:
            fields["polarity"] = case.polarity
        frequency = float(case.frequency[0])
        return fields | ({"frequency": units.quantity(frequency, "frequency")} if frequency else {})
