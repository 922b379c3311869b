"""What a source can give on average: no more than goes in."""

from __future__ import annotations

from dataclasses import dataclass

from service import units


@dataclass(frozen=True)
class Balance:
    """What goes in and what is claimed to come out; mean values.

    Parameters
    ----------
    input_voltage, input_current : float
        [V], [A].
    output_voltage, output_current : float
        As claimed [V], [A].
    repetition_frequency : float or None
        Pulses per second.
    """

    input_voltage: float
    input_current: float
    output_voltage: float
    output_current: float
    repetition_frequency: float | None = None

    @property
    def input_power(self) -> float:
        """[W]."""
        return self.input_voltage * self.input_current

    @property
    def claimed_output_power(self) -> float:
        """Claimed voltage times claimed current [W]."""
        return self.output_voltage * self.output_current

    @property
    def largest_output_current(self) -> float:
        """Largest mean current at the claimed voltage, without any loss [A]."""
        return self.input_power / self.output_voltage

    @property
    def largest_pulse_energy(self) -> float | None:
        """Largest energy of one pulse, without any loss [J]."""
        return None if self.repetition_frequency is None else self.input_power / self.repetition_frequency

    @property
    def largest_share_of_time(self) -> float:
        """Share of the time that the claimed current can flow at the claimed voltage."""
        return min(1.0, self.input_power / self.claimed_output_power)

    @property
    def balanced(self) -> bool:
        """Whether the claimed power is no more than the input power; a billionth of slack absorbs unit rounding."""
        return self.claimed_output_power <= self.input_power * (1 + 1e-9)


def _watts(power: float) -> str:
    return f"{units.shown(power, 'power'):.4g} W"


def _milliamperes(current: float) -> str:
    return f"{units.shown(current, 'current'):.4g} mA"


def _duration(time: float) -> str:
    unit = next((unit for unit, least in (("s", 1.0), ("ms", 1e-3)) if time >= least), "us")
    return f"{units.shown(time, 'time', unit):.3g} {unit}"


def as_average(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current is an average at the claimed voltage."""
    claimed, given = _watts(balance.claimed_output_power), _watts(balance.input_power)
    if balance.balanced:
        return "possible", f"The claim needs {claimed} and {given} go in; losses are not counted."
    most = _milliamperes(balance.largest_output_current)
    return "impossible", f"The claim needs {claimed} but only {given} go in: at most {most} on average at that voltage."


def as_short_circuit(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current flows into a short."""
    if balance.balanced:
        return "possible", "Even at the claimed voltage the current would need no more power than goes in."
    why = "Into a short the output voltage is nearly zero and the current needs little power: the balance says nothing"
    return "cannot-tell", f"{why}. At the claimed voltage it cannot flow on average."


def as_pulse(balance: Balance) -> tuple[str, str]:
    """Return verdict and explanation where the claimed current is the peak of a pulse."""
    if balance.balanced:
        return "possible", "Even as an average the claim would need no more power than goes in."
    share = 100 * balance.largest_share_of_time
    text = (
        "As a pulse the balance leaves it open: such a current at that voltage can flow for at most "
        f"{share:.3g} percent of the time"
    )
    if balance.repetition_frequency is None:
        return "cannot-tell", f"{text}; what it is depends on the stored energy."
    longest = _duration(balance.largest_share_of_time / balance.repetition_frequency)
    return "cannot-tell", f"{text}, {longest} of each pulse; what it is depends on the stored energy."


JUDGES = {"average-at-voltage": as_average, "short-circuit": as_short_circuit, "pulse": as_pulse}
"""Readings of a claimed output current, and how each is judged."""
