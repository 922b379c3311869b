"""The measure of a given voltage: what was read as peak, rms or peak-to-peak, as peak voltages."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service import spoken
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.spoken import speak

MEASURE = Parameter(
    "measure",
    "choice",
    "How the given voltage was read; peak-to-peak means half of it to all of it, since a one-sided pulse peaks at all.",
    default="peak",
    choices=("peak", "rms", "peak-to-peak", "peak-to-peak-symmetrical", "unknown"),
)


@dataclass(frozen=True)
class Reading:
    """One reading of a given voltage as peak voltage [V].

    Parameters
    ----------
    measure : str
        How it was read.
    low, high : float
        Peak voltage; they differ for ``peak-to-peak``.
    """

    measure: str
    low: float
    high: float

    @property
    def sharp(self) -> bool:
        """Whether it is one voltage."""
        return self.low == self.high


def readings(given: float, measure: str, waveform: str) -> tuple[Reading, ...]:
    """Return the readings of a given voltage; one, but for ``unknown``.

    Parameters
    ----------
    given : float
        Voltage as given [V].
    measure : str
        Key of `MEASURE`.
    waveform : str
        Of the voltage; rms belongs to ac and dc only.

    Raises
    ------
    BadQuestion
        For the rms value of an impulse or pulse train.
    """
    possible = {
        "peak": (given, given),
        "rms": {"ac": (math.sqrt(2) * given,) * 2, "dc": (given, given)}.get(waveform),
        "peak-to-peak": (given / 2, given),
        "peak-to-peak-symmetrical": (given / 2, given / 2),
    }
    if measure == "unknown":
        return tuple(Reading(name, *pair) for name, pair in possible.items() if pair)
    pair = possible[measure]
    if pair is None:
        raise BadQuestion.about("measure", f"The rms value of waveform={waveform} says nothing of its peak.", ("peak",))
    return (Reading(measure, *pair),)


def taken_as_peak(question: Question, waveform: str) -> str:
    """Return what a voltage would be were it an rms value, to follow a sentence; nothing where that was said."""
    if "measure" not in question.assumed or waveform != "ac":
        return ""
    given = question.number("voltage")
    peak = speak(math.sqrt(2) * given, "voltage")
    return f" Taken as a peak value: {spoken.said(given, 'voltage')} rms would be {peak} peak."
