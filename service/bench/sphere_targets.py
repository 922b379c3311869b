"""The peak voltages that a question about spheres wants: one, or round ones over a range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.answers.measure import readings
from service.errors import BadQuestion, Fault
from service.parameters import Parameter, Question

VOLTAGE = Parameter("voltage", "voltage", "The voltage to measure or to set.", measured=True, example="40kV", high=1e8)
RANGE = (
    Parameter("voltage_from", "voltage", "First voltage of a spacing card.", measured=True, example="10kV", high=1e8),
    Parameter("voltage_to", "voltage", "Last voltage of a spacing card.", measured=True, example="60kV", high=1e8),
)
MOST_STEPS = 12
"""Most steps of a spacing card."""
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""Steps of a card within a decade."""


@dataclass(frozen=True)
class Target:
    """A peak voltage to be set.

    Parameters
    ----------
    measure : str
        How the given voltage was read.
    given : float
        As given [V].
    peak : float
        [V].
    """

    measure: str
    given: float
    peak: float


def targets(question: Question, waveform: str) -> list[Target]:
    """Return the peak voltages of a question; a measure with two ends gives both.

    Raises
    ------
    BadQuestion
        When neither a voltage nor a whole range is given, or both.
    """
    if "voltage" in question:
        for name in ("voltage_from", "voltage_to"):
            if name in question:
                detail = f"voltage and {name} contradict each other; give one voltage or a range."
                raise BadQuestion(detail, [Fault("voltage", detail), Fault(name, detail)])
        given = [question.number("voltage")]
    elif "voltage_from" in question or "voltage_to" in question:
        given = voltages_between(*ascending(question))
    else:
        raise BadQuestion.about("voltage", "voltage is needed, or voltage_from and voltage_to for a spacing card.")
    measure = question.key("measure")
    read = [(volts, reading) for volts in given for reading in readings(volts, measure, waveform)]
    return [Target(r.measure, volts, peak) for volts, r in read for peak in sorted({r.low, r.high})]


def ascending(question: Question) -> tuple[float, float]:
    """Return the range of voltages that a question gives [V].

    Raises
    ------
    BadQuestion
        When an end is missing, or the first is not below the last.
    """
    low, high = question.number("voltage_from"), question.number("voltage_to")
    if not low < high:
        detail = "voltage_from must be below voltage_to."
        raise BadQuestion(detail, [Fault("voltage_from", detail), Fault("voltage_to", detail)])
    return low, high


def voltages_between(low: float, high: float, most: int = MOST_STEPS) -> list[float]:
    """Return round voltages between two, both ends included.

    Parameters
    ----------
    low, high : float
        [V].
    most : int
        Most steps between them.

    Examples
    --------
    >>> voltages_between(9e3, 30e3, 6)
    [9000.0, 10000.0, 15000.0, 20000.0, 25000.0, 30000.0]
    """
    decade = 10.0 ** np.floor(np.log10((high - low) / most))
    step = next(size * decade for size in STEPS if (high - low) / (size * decade) <= most * (1 + 1e-9))
    inner = np.arange(np.floor(low / step) + 1, np.ceil(high / step)) * step
    return [low, *(float(volts) for volts in inner if low * (1 + 1e-9) < volts < high * (1 - 1e-9)), high]
