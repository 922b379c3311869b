"""What was said of a voltage: its waveform, polarity and frequency, and how it was read."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service import spoken
from service.answers.echo import Echo
from service.errors import BadQuestion
from service.parameters import Parameter, Question
from service.spoken import speak
from service.units import Quantity

WAVEFORMS = ("ac", "dc", "lightning-impulse", "switching-impulse", "pulse-train")
PERIODIC = ("ac", "pulse-train")
SINE = math.sqrt(2)
"""Peak of a sine over its root mean square."""
POWER_FREQUENCY = 50.0
"""Frequency of an alternating voltage of which none is given [Hz]."""

WAVEFORM = (
    Parameter("waveform", "choice", "Form of the voltage.", default="ac", choices=WAVEFORMS),
    Parameter(
        "polarity",
        "choice",
        "Polarity of the smaller or un-earthed electrode, for one-sided voltages; weaker takes the lower voltage.",
        choices=("weaker", "positive", "negative"),
    ),
    Parameter(
        "frequency",
        "frequency",
        "Frequency of an alternating voltage (50 Hz where none is given), or of the oscillation of a pulse.",
        example="40kHz",
    ),
    Parameter(
        "repetition_frequency",
        "frequency",
        "Pulses per second of a pulse train; it counts as a frequency.",
        example="1kHz",
    ),
)
REPETITION_NOTE = "The repetition frequency counts as a frequency: what one pulse leaves behind meets the next."


@dataclass(frozen=True)
class Waveform:
    """Waveform, polarity and frequency as understood."""

    waveform: str
    polarity: str | None
    frequency: float
    asked: Echo
    notes: tuple[str, ...]


def read_waveform(question: Question) -> Waveform:
    """Return waveform, polarity and frequency of a question.

    Raises
    ------
    BadQuestion
        When polarity or frequency does not apply to the waveform.
    """
    waveform = question.key("waveform")
    asked: dict[str, object] = {"waveform": waveform}
    assumed = ["waveform"] if "waveform" in question.assumed else []
    polarity = _polarity(question, waveform, asked, assumed)
    frequency = _frequency(question, waveform, asked, assumed)
    notes: tuple[str, ...] = ()
    if waveform == "pulse-train":
        notes = (REPETITION_NOTE,) if "repetition_frequency" in asked else ()
        if not frequency:
            notes = ("No frequency of the pulses or of their oscillation was given: no frequency correction is made.",)
    return Waveform(waveform, polarity, frequency, Echo(asked, tuple(assumed)), notes)


def _polarity(question: Question, waveform: str, asked: dict[str, object], assumed: list[str]) -> str | None:
    if waveform == "ac":
        if "polarity" in question:
            raise BadQuestion.about("polarity", "polarity does not apply to an alternating voltage, which has both.")
        return None
    polarity = str(question.values.get("polarity", "weaker"))
    asked["polarity"] = polarity
    if "polarity" not in question:
        assumed.append("polarity")
    return None if polarity == "weaker" else polarity


def _frequency(question: Question, waveform: str, asked: dict[str, object], assumed: list[str]) -> float:
    frequency = question.optional("frequency")
    repetition = question.optional("repetition_frequency")
    if repetition is not None:
        if waveform != "pulse-train":
            raise BadQuestion.about("repetition_frequency", "repetition_frequency belongs to waveform=pulse-train.")
        asked["repetition_frequency"] = Quantity(repetition, "frequency")
    if waveform not in PERIODIC:
        if frequency is not None:
            raise BadQuestion.about("frequency", f"frequency does not apply to waveform={waveform}.", PERIODIC)
        return 0.0
    if frequency is None and waveform == "ac":
        frequency = POWER_FREQUENCY
        assumed.append("frequency")
    if frequency is not None:
        asked["frequency"] = Quantity(frequency, "frequency")
    return max(frequency or 0.0, repetition or 0.0)


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
        "rms": {"ac": (SINE * given,) * 2, "dc": (given, given)}.get(waveform),
        "peak-to-peak": (given / 2, given),
        "peak-to-peak-symmetrical": (given / 2, given / 2),
    }
    if measure == "unknown":
        return tuple(Reading(name, *pair) for name, pair in possible.items() if pair)
    pair = possible[measure]
    if pair is None:
        raise BadQuestion.about("measure", f"The rms value of waveform={waveform} says nothing of its peak.", ("peak",))
    return (Reading(measure, *pair),)


def as_read(question: Question) -> str:
    """Return the voltage of a question in words, with how it was read."""
    measure = question.key("measure")
    read = ", however it was read" if measure == "unknown" else f" {measure}"
    return f"{spoken.said(question.number('voltage'), 'voltage')}{read}"


def taken_as_peak(question: Question, waveform: str) -> str:
    """Return what a voltage would be were it an rms value, to follow a sentence; nothing where that was said."""
    if "measure" not in question.assumed or waveform != "ac":
        return ""
    given = question.number("voltage")
    peak = speak(SINE * given, "voltage")
    return f" Taken as a peak value: {spoken.said(given, 'voltage')} rms would be {peak} peak."
