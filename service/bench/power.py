"""What a source can give on average: no more than goes in, for every value of what was not said."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.answers.situation import SINE
from service.bench.spark import Claim
from service.judgement import CANNOT_TELL, Agreed, Unsaid, agreed, combinations
from service.spoken import said
from service.units import ROUNDING


@dataclass(frozen=True)
class Typed:
    """A number as it was typed.

    Parameters
    ----------
    value : float
        SI.
    half : float
        Half a unit of the last place typed.
    """

    value: float
    half: float = 0.0

    @property
    def ends(self) -> tuple[float, float]:
        """Least and largest value that is typed so."""
        return max(self.value - self.half, 0.0), self.value + self.half


@dataclass(frozen=True)
class Balance:
    """What goes in and what is claimed to come out; mean values.

    Parameters
    ----------
    input_voltage, input_current : Typed
        [V], [A].
    output_voltage : Claim
        As claimed.
    output_current : Typed or None
        As claimed [A].
    repetition_frequency : float or None
        Pulses per second.
    pulse_energy : Typed or None
        As claimed [J].
    waveforms : tuple of str
        Those that the output may have.
    rounding : float
        Share by which a printed rating may be rounded.
    """

    input_voltage: Typed
    input_current: Typed
    output_voltage: Claim
    output_current: Typed | None = None
    repetition_frequency: float | None = None
    pulse_energy: Typed | None = None
    waveforms: tuple[str, ...] = ("dc",)
    rounding: float = 0.0

    @property
    def input_power(self) -> float:
        """[W]."""
        return self.input_voltage.value * self.input_current.value

    @property
    def most_input_power(self) -> float:
        """What goes in at the upper end of the digits typed [W]."""
        return self.input_voltage.ends[1] * self.input_current.ends[1]

    @property
    def claimed_output_power(self) -> float | None:
        """Claimed voltage times claimed current [W]; ``None`` without a current."""
        return None if self.output_current is None else self.output_voltage.given * self.output_current.value

    @property
    def largest_output_current(self) -> float:
        """Largest mean current at the claimed voltage, without any loss [A]."""
        return self.input_power / self.output_voltage.given

    @property
    def largest_pulse_energy(self) -> float | None:
        """Largest energy of one pulse, without any loss [J]."""
        return None if self.repetition_frequency is None else self.input_power / self.repetition_frequency

    @property
    def largest_share_of_time(self) -> float:
        """Share of the time that the claimed current can flow at the claimed voltage."""
        return min(1.0, self.input_power / self.claimed_output_power) if self.claimed_output_power else 1.0

    @property
    def unsaid(self) -> tuple[Unsaid, ...]:
        """What was not said of the output voltage."""
        form = (Unsaid("waveform", "the waveform", self.waveforms),) * (len(self.waveforms) > 1)
        return (*self.output_voltage.unsaid, *form)

    @property
    def average(self) -> Agreed:
        """Whether the claimed current can flow on average at the claimed voltage, however that was read."""
        current = self.output_current
        if current is None:
            return Agreed(CANNOT_TELL, (CANNOT_TELL,))
        words = []
        for measure in self.output_voltage.measures:
            for form in self.waveforms:
                share = 1.0 / SINE if form == "ac" else 1.0
                exact = Claim(self.output_voltage.given, 0.0, measure)
                claimed = exact.ends(measure, form)[0] * share * current.value
                least = self.output_voltage.ends(measure, form)[0] * share * current.ends[0]
                words.append(self.word(claimed, least))
        return agreed(np.array(words), combinations(self.unsaid), self.unsaid)

    def word(self, claimed: float, least: float) -> str:
        """Return the word on a claimed power [W], of which the digits leave at least another.

        A claim is refuted only by more than goes in at the last digit of every number typed; where the numbers as
        they stand do not fit, but some that are typed so do, more digits are wanted.
        """
        if claimed <= self.input_power * (1 + self.rounding):
            return "possible"
        return "impossible" if least > self.most_input_power * (1 + ROUNDING) else CANNOT_TELL


@dataclass(frozen=True)
class OutputReading:
    """A way of reading the claimed output, with its verdict.

    Parameters
    ----------
    key : str
        What the claimed output is.
    """

    key: str
    verdict: str
    explanation: str


DIGITS = "With further digits of input and output it could be told."


def as_average(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current is an average at the claimed voltage."""
    found, claimed = balance.average, said(balance.claimed_output_power or 0.0, "power")
    given, most = said(balance.input_power, "power"), said(balance.largest_output_current, "current")
    if found.word == "possible":
        return found.word, f"The claim needs {claimed} and {given} go in; losses are not counted."
    if found.word == "impossible":
        return (
            found.word,
            f"The claim needs {claimed} but only {given} go in: at most {most} on average at that voltage.",
        )
    why = found.sentence or DIGITS
    return CANNOT_TELL, f"Voltage times current make {claimed} and {given} go in. {why}"


def as_short_circuit(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current flows into a short."""
    if balance.average.word == "possible":
        return "possible", "Even at the claimed voltage the current would need no more power than goes in."
    why = "Into a short the output voltage is nearly zero and the current needs little power: the balance says nothing"
    more = ". At the claimed voltage it cannot flow on average." if balance.average.word == "impossible" else "."
    return CANNOT_TELL, f"{why}{more}"


def as_pulse(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current is the peak of a pulse."""
    if balance.average.word == "possible":
        return "possible", "Even as an average the claim would need no more power than goes in."
    share = said(balance.largest_share_of_time, "fraction")
    text = (
        "As a pulse the balance leaves it open: such a current at that voltage can flow for at most "
        f"{share} of the time"
    )
    if balance.repetition_frequency is None:
        return CANNOT_TELL, f"{text}; what it is depends on the stored energy."
    longest = said(balance.largest_share_of_time / balance.repetition_frequency, "time")
    return CANNOT_TELL, f"{text}, {longest} of each pulse; what it is depends on the stored energy."


def as_pulse_energy(balance: Balance, energy: Typed) -> tuple[str, str]:
    """Return verdict and explanation of a claimed energy of one pulse [J]."""
    words, given = said(energy.value, "energy"), said(balance.input_power, "power")
    if balance.repetition_frequency is None:
        most = said(balance.input_power / energy.value, "frequency")
        return CANNOT_TELL, f"With {given} pulses of {words} come at most {most} often: say the repetition frequency."
    rate = balance.repetition_frequency
    word = balance.word(energy.value * rate, energy.ends[0] * rate)
    needed = f"Pulses of {words} at {said(rate, 'frequency')} need {said(energy.value * rate, 'power')}"
    why = {
        "possible": f"{needed} and {given} go in; losses are not counted.",
        "impossible": f"{needed} but only {given} go in: at most {said(balance.input_power / rate, 'energy')} a pulse.",
    }
    return word, why.get(word, f"{needed} and {given} go in. {DIGITS}")


JUDGES: Mapping[str, Callable[[Balance], tuple[str, str]]] = {
    "average-at-voltage": as_average,
    "short-circuit": as_short_circuit,
    "pulse": as_pulse,
}
"""Ways of reading a claimed output current, and how each is judged."""


def output_readings(balance: Balance, wanted: str) -> list[OutputReading]:
    """Return the verdicts on the claimed current, as it was read or in each way, and on a claimed pulse energy.

    Parameters
    ----------
    wanted : str
        Key of `JUDGES`, or ``unknown``.
    """
    keys: Sequence[str] = [] if balance.output_current is None else [k for k in JUDGES if wanted in (k, "unknown")]
    found = [OutputReading(key, *JUDGES[key](balance)) for key in keys]
    if balance.pulse_energy is not None:
        found.append(OutputReading("pulse-energy", *as_pulse_energy(balance, balance.pulse_energy)))
    return found
