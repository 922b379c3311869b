"""A divider before it is built: lower arm, error over frequency, and what its elements must bear."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.situation import SINE
from service.bench.divider import ALIKE, Divider
from service.errors import OutsideValidity
from service.methods import FloatArray
from service.parameters import Question
from service.spoken import said, speak
from service.units import ROUNDING

VACUUM_PERMITTIVITY = 8.8541878128e-12
"""Permittivity of vacuum [F/m]; CODATA 2018."""
ESTIMATE = (0.7, 1.5)
"""Factors on an estimated stray capacitance: shields, walls and wires near it; ours, common practice, no source."""
SPECTRUM = np.geomspace(1.0, 1e7, 141)
"""Frequencies of the error curve [Hz]."""
DERATED = 0.5
"""Share of a rating that is used at most, so that parts live; common practice, no source."""


def stray_of_rod(length: float, diameter: float, height: float) -> float:
    """Return the capacitance to earth of an upright rod [F].

    ``C = 2 pi e0 L / ln((2 L / d) sqrt((4 s + L) / (4 s + 3 L)))`` with length L, diameter d, lower end s above earth.

    Parameters
    ----------
    length, diameter, height : float
        [m].

    References
    ----------
    kuffel-zaengl-kuffel-2000, from memory.

    Examples
    --------
    A rod of 1 m and 50 mm on the ground: 18 pF.

    >>> round(stray_of_rod(1.0, 0.05, 0.0) * 1e12, 1)
    17.7
    """
    shape = 2 * length / diameter * math.sqrt((4 * height + length) / (4 * height + 3 * length))
    return 2 * math.pi * VACUUM_PERMITTIVITY * length / math.log(shape)


@dataclass(frozen=True)
class Meter:
    """What the lower arm is read with.

    Parameters
    ----------
    resistance : float
        Of its input [ohm]; infinite where it draws nothing.
    capacitance : float
        Of its input and its cable [F].
    """

    resistance: float = math.inf
    capacitance: float = 0.0


@dataclass(frozen=True, eq=False)
class Design:
    """A divider as asked for.

    Parameters
    ----------
    peak : float
        Highest voltage [V peak].
    ratio : float
        Wanted, with the meter.
    upper_resistance : float
        [ohm].
    frequency : float
        Of the voltage [Hz]; zero for direct voltage.
    upper_capacitance : float
        Across the whole upper arm [F].
    compensated : bool
        Whether the lower arm gets the capacitance that makes the time constants equal.
    strays : tuple of float
        Stray capacitance of the upper arm to earth [F], or both ends of an estimate; empty where it was not said.
    """

    peak: float
    ratio: float
    upper_resistance: float
    elements: int
    meter: Meter
    frequency: float
    upper_capacitance: float
    compensated: bool
    strays: tuple[float, ...]

    @cached_property
    def below(self) -> float:
        """Resistance of the lower arm with the meter across it [ohm]."""
        return self.upper_resistance / (self.ratio - 1)

    @cached_property
    def lower_resistance(self) -> float:
        """Resistor of the lower arm [ohm], so that with the meter across it the ratio is the wanted one.

        Raises
        ------
        OutsideValidity
            When the meter alone has less resistance than that.
        """
        conductance = 1 / self.below - 1 / self.meter.resistance
        if conductance <= ROUNDING / self.below:
            raise OutsideValidity.about(
                "input_resistance",
                f"The meter's input of {said(self.meter.resistance, 'resistance')} is not above the lower arm of "
                f"{speak(self.below, 'resistance', digits=4)} that this ratio asks for: take a "
                "smaller upper_resistance, or a meter that loads less.",
            )
        return 1 / conductance

    @property
    def unloaded_ratio(self) -> float:
        """Ratio of the same resistors without the meter."""
        return 1 + self.upper_resistance / self.lower_resistance

    @cached_property
    def lower_capacitance(self) -> float:
        """Capacitance across the lower arm, the meter's included [F]."""
        wanted = self.upper_capacitance * (self.ratio - 1)
        return max(wanted, self.meter.capacitance) if self.compensated else self.meter.capacitance

    @property
    def overloaded(self) -> bool:
        """Whether the meter's capacitance alone is more than a compensated lower arm may have."""
        return self.compensated and self.meter.capacitance > self.upper_capacitance * (self.ratio - 1) * (1 + ALIKE)

    @cached_property
    def possible(self) -> tuple[Divider, ...]:
        """The loaded divider with every stray capacitance that it may have; one without where none was said."""
        plain = Divider(
            self.upper_resistance,
            self.below,
            self.upper_capacitance or None,
            self.lower_capacitance or None,
            self.elements,
        )
        return tuple(replace(plain, stray_capacitance=one) for one in self.strays or (0.0,))

    def errors(self, frequencies: FloatArray) -> FloatArray:
        """Return the relative error of what is indicated, at direct voltage none; shape (possible, frequencies)."""
        shares = [one.shares(frequencies) for one in self.possible]
        direct = np.array([[one.direct_ratio] for one in self.possible])
        return np.asarray(direct * np.array(shares) - 1)

    @cached_property
    def spectrum(self) -> FloatArray:
        """Errors over `SPECTRUM`."""
        return self.errors(SPECTRUM)

    @cached_property
    def flat_to(self) -> float:
        """Frequency up to which the error stays within one percent [Hz], whatever the strays; zero where nowhere."""
        within = np.logical_and.accumulate(np.abs(self.spectrum).max(axis=0) <= ALIKE)
        return float(SPECTRUM[within].max(initial=0.0))

    @property
    def effective(self) -> float:
        """Voltage that heats [V]: rms of a sine, direct voltage itself."""
        return self.peak / SINE if self.frequency else self.peak

    @cached_property
    def shares(self) -> FloatArray:
        """Highest share of the input voltage across any element, of every possible divider."""
        return np.array([one.element_voltages(self.frequency).max() for one in self.possible])

    @property
    def element_voltage(self) -> float:
        """Highest peak voltage across an element [V]."""
        return self.peak * float(self.shares.max())

    @property
    def element_power(self) -> float:
        """Most that an element turns into heat [W]."""
        return (self.effective * float(self.shares.max())) ** 2 / (self.upper_resistance / self.elements)

    @property
    def power(self) -> float:
        """That the whole divider turns into heat, evenly shared [W]."""
        return self.effective**2 / (self.upper_resistance + self.below)

    @property
    def current(self) -> float:
        """Highest current that the divider draws [A peak], its strays included."""
        return max(self.peak / abs(one.impedance(self.frequency)) for one in self.possible)

    def changes(self, question: Question) -> Iterator[str]:
        """Yield what to change, as sentences."""
        volts, watts = question.optional("element_voltage"), question.optional("element_power")
        if volts is not None and self.element_voltage > DERATED * volts:
            wanted = math.ceil(self.elements * self.element_voltage / (DERATED * volts))
            yield (
                f"The most stressed element has {speak(self.element_voltage, 'voltage')}, more than half of its "
                f"{said(volts, 'voltage')}: "
                f"take {wanted} elements or more."
            )
        if watts is not None and self.element_power > DERATED * watts:
            yield (
                f"The most stressed element turns {speak(self.element_power, 'power')} into heat, more than half of "
                f"its {said(watts, 'power')}: take more elements, or a larger upper_resistance."
            )
        if self.frequency and not self.strays:
            yield "The strays to earth were not said: give stray_capacitance, or length and diameter; they decide here."
        elif self.frequency and float(np.abs(self.errors(np.array([self.frequency]))).max()) > ALIKE:
            yield self._against_strays
        if self.overloaded:
            yield (
                "The meter and its cable have more capacitance than a compensated lower arm may have: put more "
                "capacitance across the upper arm, or shorten the cable."
            )

    @property
    def _against_strays(self) -> str:
        if self.upper_capacitance and not self.compensated:
            return "At this frequency the ratio is off by more than 1 %: compensate the lower arm (compensation=yes)."
        largest = max(self.strays)
        # the error of a compensated chain is about a sixth of the stray over the series capacitance
        wanted = said(largest / (6 * ALIKE), "capacitance", unit="pF", digits=3)
        return (
            "At this frequency the strays shift the ratio by more than 1 %: put capacitance across the elements, in "
            f"series about {wanted} or more, with compensation=yes, shield the arm, or take a smaller "
            "upper_resistance."
        )
