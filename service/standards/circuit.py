"""The circuit that a hazard question describes: what is stored, what the source gives, what is connected."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.errors import BadQuestion, Fault
from service.parameters import Parameter, Question
from service.physics import capacitor
from service.standards.asking import needed

PARAMETERS = (
    Parameter("voltage", "voltage", "Highest voltage of the circuit, peak or direct.", example="12kV"),
    Parameter("capacitance", "capacitance", "Capacitance that holds that voltage.", example="4.4nF"),
    Parameter("charge", "charge", "Stored charge, in place of the capacitance.", example="45uC"),
    Parameter("available_current", "current", "Current that the source can keep up, rms or direct.", example="5mA"),
    Parameter("frequency", "frequency", "Frequency of an alternating source; none for direct voltage.", example="50Hz"),
    Parameter("bleed_resistance", "resistance", "Resistor that stays across the capacitor.", example="200Mohm"),
    Parameter("stick_resistance", "resistance", "Resistor of the discharge stick.", example="10kohm"),
)
JUDGED = ("voltage", "capacitance", "charge", "available_current")
"""Without one of these there is nothing to compare."""
FAST = 100e3
"""Frequency above which the standards have limits of their own [Hz]; as their tables print it."""


@dataclass(frozen=True)
class Circuit:
    """A circuit in SI; what is neither given nor follows is ``None``, never zero.

    Parameters
    ----------
    voltage : float or None
        Peak or direct [V].
    capacitance : float or None
        [F].
    charge : float or None
        [C].
    current : float or None
        rms or direct [A].
    frequency : float or None
        [Hz].
    bleed_resistance, stick_resistance : float or None
        [ohm].
    """

    voltage: float | None = None
    capacitance: float | None = None
    charge: float | None = None
    current: float | None = None
    frequency: float | None = None
    bleed_resistance: float | None = None
    stick_resistance: float | None = None

    @property
    def energy(self) -> float | None:
        """Stored energy [J], where it is known."""
        if self.voltage is None or self.charge is None:
            return None
        return self.charge * self.voltage / 2

    @property
    def time_constant(self) -> float | None:
        """Of the capacitor with the resistor across it [s], where both are known."""
        if self.bleed_resistance is None or self.capacitance is None:
            return None
        return self.bleed_resistance * self.capacitance

    @property
    def kinds(self) -> frozenset[str]:
        """Kinds of limit that apply: ``dc`` and ``ac`` where no frequency tells which, ``fast`` above 100 kHz."""
        if self.frequency is None:
            return frozenset({"dc", "ac"})
        return frozenset({"fast"}) if self.frequency > FAST else frozenset({"ac"})

    def time_to(self, left: float) -> float | None:
        """Return how long the resistor across the capacitor takes down to a voltage [s], where all is known."""
        if self.bleed_resistance is None or self.capacitance is None or self.voltage is None:
            return None
        return float(capacitor.discharge_time(self.bleed_resistance, self.capacitance, self.voltage, left))


def circuit_of(question: Question) -> Circuit:
    """Return the circuit of a question; of voltage, capacitance and charge any two give the third.

    Parameters
    ----------
    question : Question

    Raises
    ------
    BadQuestion
        When nothing is given that could be compared, or one thing is said twice.
    """
    if not any(name in question for name in JUDGED):
        raise needed(JUDGED, f"One of {', '.join(JUDGED)} is needed; voltage with capacitance tells most.")
    stored = ("voltage", "capacitance", "charge")
    if all(name in question for name in stored):
        detail = "voltage, capacitance and charge: two of them fix the third; give two."
        raise BadQuestion(detail, [Fault(name, detail) for name in stored])
    voltage, capacitance, charge = (question.optional(name) for name in stored)
    if voltage is not None and capacitance is not None:
        charge = float(capacitor.charge(capacitance, voltage))
    elif voltage is not None and charge is not None:
        capacitance = charge / voltage
    elif capacitance is not None and charge is not None:
        voltage = charge / capacitance
    return Circuit(
        voltage,
        capacitance,
        charge,
        question.optional("available_current"),
        question.optional("frequency"),
        question.optional("bleed_resistance"),
        question.optional("stick_resistance"),
    )


def as_measured(value: float | None, measure: str, of: str) -> float | None:
    """Return a sine's value in another measure; a direct value is the same in every measure.

    Parameters
    ----------
    value : float or None
    measure : str
        Wanted: ``peak``, ``rms`` or ``dc``.
    of : str
        Measure of the value: ``peak`` or ``rms``.
    """
    if value is None or measure in (of, "dc"):
        return value
    return value * math.sqrt(2) if measure == "peak" else value / math.sqrt(2)
