"""The circuit that a hazard question describes: what is stored, what the source gives, what is connected.

What is neither given nor follows is ``None``, never zero. What was not said makes a span: a voltage whose measure was
not said may be a peak or an rms value, and a verdict must hold for both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from service.answers.situation import SINE
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.physics import capacitor

LEFT = 60.0
"""Voltage to which a discharge is followed where none is asked [V]: the direct limit of IEC 62368-1 and IEC 61010-1."""
TOLERANCES: Mapping[str, float] = {"resistance_tolerance": 0.05, "capacitance_tolerance": 0.2}
"""Taken where a tolerance is not said: those of common resistors and film capacitors; common practice, no source."""

PARAMETERS = (
    Parameter("voltage", "voltage", "Highest voltage of the circuit.", example="12kV"),
    Parameter(
        "measure",
        "choice",
        "How that voltage was read. Not said: the peak or direct value; alternating, it may be an rms value too.",
        choices=("peak", "rms", "direct", "peak-to-peak", "unknown"),
        example="peak",
    ),
    Parameter("capacitance", "capacitance", "Capacitance that holds that voltage.", example="4.4nF"),
    Parameter("charge", "charge", "Stored charge, in place of the capacitance.", example="45uC"),
    Parameter("available_current", "current", "Current that the source can keep up, rms or direct.", example="5mA"),
    Parameter("frequency", "frequency", "Frequency of an alternating source; none for direct voltage.", example="50Hz"),
    Parameter("bleed_resistance", "resistance", "Resistor that stays across the capacitor.", example="200Mohm"),
    Parameter("resistance_tolerance", "fraction", "Of the bleed resistor; not said: 5 %.", high=1.0, example="1%"),
    Parameter("capacitance_tolerance", "fraction", "Of the capacitor; not said: 20 %.", high=1.0, example="10%"),
    Parameter("discharge_to", "voltage", "Voltage to wait for; not said: 60 V direct.", example="50V"),
    Parameter("stick_resistance", "resistance", "Resistor of the discharge stick.", example="10kohm"),
)
JUDGED = ("voltage", "capacitance", "charge", "available_current")
"""Without one of these there is nothing to compare."""
FAST = 100e3
"""Frequency above which the standards have limits of their own [Hz]; as their tables print it."""
MAINS = 100.0
"""Frequency up to which the thresholds of body current and its impedance hold [Hz]; IEC 60479-1."""


class Span(NamedTuple):
    """From the smallest to the largest value that agrees with what was said, in SI; equal where it is one value."""

    low: float
    high: float

    def times(self, factor: float) -> Span:
        """Return both ends times a factor."""
        return Span(self.low * factor, self.high * factor)


@dataclass(frozen=True)
class Circuit:
    """A circuit in SI.

    Parameters
    ----------
    direct, alternating : Span or None
        Voltage, if it is direct, and its peak, if it alternates [V].
    capacitance : float or None
        [F].
    charge : Span or None
        [C].
    current : float or None
        rms or direct [A].
    frequency : float or None
        [Hz].
    kinds : frozenset of str
        Kinds of limit that apply: ``dc`` and ``ac`` where nothing tells which, ``fast`` above 100 kHz.
    bleed_resistance, stick_resistance : float or None
        [ohm].
    resistance_tolerance, capacitance_tolerance : float
        Relative.
    """

    direct: Span | None = None
    alternating: Span | None = None
    capacitance: float | None = None
    charge: Span | None = None
    current: float | None = None
    frequency: float | None = None
    kinds: frozenset[str] = frozenset({"dc", "ac"})
    bleed_resistance: float | None = None
    stick_resistance: float | None = None
    resistance_tolerance: float = TOLERANCES["resistance_tolerance"]
    capacitance_tolerance: float = TOLERANCES["capacitance_tolerance"]

    @property
    def voltage(self) -> Span | None:
        """Peak or direct voltage [V]: what a capacitor is charged to, and what insulation sees."""
        return self.direct if "dc" in self.kinds else self.alternating

    def volts(self, kinds: frozenset[str], measure: str = "peak") -> Span | None:
        """Return the voltage under the kinds of a limit, over all of them that are possible [V].

        Parameters
        ----------
        kinds : frozenset of str
            Those that a limit is for; where none of them is possible, or it is for any, those of the circuit.
        measure : str
            ``peak`` or ``rms``; a direct value is both.
        """
        spans = [self._volts(kind, measure) for kind in (kinds & self.kinds) or self.kinds]
        known = [span for span in spans if span is not None]
        return Span(min(one.low for one in known), max(one.high for one in known)) if known else None

    def _volts(self, kind: str, measure: str) -> Span | None:
        if kind == "dc":
            return self.direct
        return self.alternating and self.alternating.times(math.sqrt(0.5) if measure == "rms" else 1.0)

    @property
    def energy(self) -> Span | None:
        """Stored energy [J], where it is known."""
        if self.voltage is None or self.charge is None:
            return None
        return Span(self.charge.low * self.voltage.low / 2, self.charge.high * self.voltage.high / 2)

    @property
    def time_constant(self) -> float | None:
        """Of the capacitor with the resistor across it, both at the upper end of their tolerances [s]."""
        if self.bleed_resistance is None or self.capacitance is None:
            return None
        return self.bleed_resistance * self.capacitance * self.worst

    @property
    def worst(self) -> float:
        """How many times longer a discharge takes where both tolerances are used up."""
        return (1 + self.resistance_tolerance) * (1 + self.capacitance_tolerance)

    def power(self, kinds: frozenset[str]) -> Span | None:
        """Return the power that the source can keep up under the kinds of a limit [W], where it is known."""
        volts = self.volts(kinds, "rms")
        return None if volts is None or self.current is None else volts.times(self.current)

    def time_to(self, left: float) -> tuple[float, float] | None:
        """Return how long the resistor takes down to a voltage, as printed values say and at worst [s].

        It begins at the highest voltage that there may be: a rectifier leaves the peak of what is not known to be one.
        """
        highest = self.volts(frozenset())
        if self.bleed_resistance is None or self.capacitance is None or highest is None:
            return None
        time = float(capacitor.discharge_time(self.bleed_resistance, self.capacitance, highest.high, left))
        return time, time * self.worst


def circuit_of(question: Question) -> Circuit:
    """Return the circuit of a question; of voltage, capacitance and charge any two give the third.

    Raises
    ------
    BadQuestion
        When nothing is given that could be compared, or one thing is said twice.
    """
    if not any(name in question for name in JUDGED):
        raise BadQuestion.about(JUDGED, f"One of {', '.join(JUDGED)} is needed; voltage with capacitance tells most.")
    stored = ("voltage", "capacitance", "charge")
    if all(name in question for name in stored):
        detail = "voltage, capacitance and charge: two of them fix the third; give two."
        raise BadQuestion.about(stored, detail)
    direct, alternating, kinds = _voltages(question)
    voltage, capacitance, charge = (question.optional(name) for name in stored)
    span = None if charge is None else Span(charge, charge)
    at = direct if "dc" in kinds else alternating
    if at is not None and capacitance is not None:
        span = at.times(capacitance)
    elif at is not None and charge is not None:
        capacitance = charge / at.low
    elif voltage is None and capacitance is not None and charge is not None:
        direct = alternating = Span(charge / capacitance, charge / capacitance)
    return Circuit(
        direct,
        alternating,
        capacitance,
        span,
        question.optional("available_current"),
        question.optional("frequency"),
        kinds,
        question.optional("bleed_resistance"),
        question.optional("stick_resistance"),
        *(question.optional(name) or taken for name, taken in TOLERANCES.items()),
    )


def _voltages(question: Question) -> tuple[Span | None, Span | None, frozenset[str]]:
    """Return the voltage if direct, its peak if alternating, and which of them is possible."""
    measure = question.key("measure") if "measure" in question else ""
    frequency, volts = question.optional("frequency"), question.optional("voltage")
    if measure and volts is None:
        raise BadQuestion.about(("voltage",), "measure says how a voltage was read; no voltage is given.")
    if measure == "direct" and frequency is not None:
        raise BadQuestion.contradiction("measure", "frequency", "A direct voltage has no frequency.")
    kinds = KINDS.get(measure, frozenset({"dc", "ac"}))
    if frequency is not None:
        kinds = frozenset({"fast"}) if frequency > FAST else frozenset({"ac"})
    if volts is None:
        return None, None, kinds
    low, high = PEAKS[measure]
    return Span(volts * min(low, 1.0), volts), Span(volts * low, volts * high), kinds


KINDS: Mapping[str, frozenset[str]] = {
    "direct": frozenset({"dc"}),
    "rms": frozenset({"ac"}),
    "peak-to-peak": frozenset({"ac"}),
}
"""What a measure says of the kind of voltage."""
PEAKS: Mapping[str, tuple[float, float]] = {
    "": (1.0, SINE),
    "peak": (1.0, 1.0),
    "direct": (1.0, 1.0),
    "rms": (SINE, SINE),
    "peak-to-peak": (0.5, 1.0),
    "unknown": (0.5, SINE),
}
"""Smallest and largest peak of an alternating voltage per reading; not said, it may be the rms value of a sine too."""
