"""The divider as a network: two arms, each a resistance with a capacitance across it."""

from __future__ import annotations

import math
from dataclasses import dataclass

ALIKE = 0.01
"""Relative difference up to which two ratios count as one; common practice, no source."""


@dataclass(frozen=True)
class Divider:
    """A divider whose arms are a resistance and, where known, a capacitance in parallel.

    Parameters
    ----------
    upper_resistance, lower_resistance : float
        [ohm].
    upper_capacitance, lower_capacitance : float or None
        [F]; both or neither.
    elements : int
        Equal elements in series that make the upper arm.
    """

    upper_resistance: float
    lower_resistance: float
    upper_capacitance: float | None = None
    lower_capacitance: float | None = None
    elements: int = 1

    @property
    def direct_ratio(self) -> float:
        """Input over output voltage at direct voltage."""
        return (self.upper_resistance + self.lower_resistance) / self.lower_resistance

    @property
    def fast_ratio(self) -> float | None:
        """Input over output voltage where the capacitances alone divide."""
        if self.upper_capacitance is None or self.lower_capacitance is None:
            return None
        return (self.upper_capacitance + self.lower_capacitance) / self.upper_capacitance

    def upper_impedance(self, frequency: float) -> complex:
        """Return the impedance of the upper arm [ohm] at a frequency [Hz]."""
        return _impedance(self.upper_resistance, self.upper_capacitance, frequency)

    def impedance(self, frequency: float) -> complex:
        """Return the impedance between input and earth [ohm] at a frequency [Hz]."""
        lower = _impedance(self.lower_resistance, self.lower_capacitance, frequency)
        return self.upper_impedance(frequency) + lower

    def ratio(self, frequency: float) -> float:
        """Return the magnitude of input over output voltage at a frequency [Hz]."""
        lower = _impedance(self.lower_resistance, self.lower_capacitance, frequency)
        return abs(self.impedance(frequency) / lower)

    def difference(self, frequency: float, base: float) -> float:
        """Return how much the ratio at a frequency [Hz] differs from that at another, relatively."""
        return self.ratio(frequency) / self.ratio(base) - 1

    @property
    def time_constants(self) -> float | None:
        """Time constant of the upper arm over that of the lower; one where compensated."""
        if self.upper_capacitance is None or self.lower_capacitance is None:
            return None
        lower = self.lower_resistance * self.lower_capacitance
        return self.upper_resistance * self.upper_capacitance / lower

    @property
    def compensated(self) -> bool | None:
        """Whether direct and fast ratio are one within a percent; ``None`` where the capacitances are not known."""
        if self.fast_ratio is None:
            return None
        return math.isclose(self.fast_ratio, self.direct_ratio, rel_tol=ALIKE)

    def element_voltage(self, voltage: float, frequency: float) -> float:
        """Return the voltage across one element of the upper arm [V] for a voltage at the input, evenly shared."""
        share = abs(self.upper_impedance(frequency) / self.impedance(frequency))
        return voltage * share / self.elements


def _impedance(resistance: float, capacitance: float | None, frequency: float) -> complex:
    return 1 / (1 / resistance + 2j * math.pi * frequency * (capacitance or 0.0))
