"""What the network of a divider says beside the check: its ratios, its load, and how far the gap's result carries."""

from __future__ import annotations

import math
from typing import Any

from service import units
from service.answers.blocks import voltage
from service.bench.network import ALIKE, Divider
from service.methods import Case

FAST = {"lightning-impulse", "switching-impulse", "pulse-train"}
"""Waveforms at which the capacitances divide; their ratio is taken at the frequency below where none is given."""
LEAST = 1e-4
"""Least relative difference of two ratios that is put into words as a number."""
IMPULSE_FREQUENCY = 250e3
"""Frequency that stands for the front of an impulse [Hz]; common practice, no source."""


def block(divider: Divider, wanted: float | None, case: Case, highest: float) -> dict[str, Any]:
    """Return the network as answers show it.

    Parameters
    ----------
    divider : Divider
    wanted : float or None
        Frequency that the divider is wanted for [Hz].
    case : Case
        Waveform of the check.
    highest : float
        Highest voltage of the check [V peak].
    """
    base = checked_frequency(case)
    fields: dict[str, Any] = {"dc_ratio": divider.direct_ratio}
    if divider.fast_ratio is not None:
        fields |= {
            "high_frequency_ratio": divider.fast_ratio,
            "time_constant_ratio": divider.time_constants,
            "compensated": divider.compensated,
        }
    fields["ratio_at_check"] = divider.ratio(base)
    if wanted is not None:
        fields |= {
            "ratio_at_frequency": divider.ratio(wanted),
            "ratio_difference_percent": 100 * divider.difference(wanted, base),
        }
    carries, why = carried(divider, wanted, base)
    fields |= {"element_voltage": voltage(divider.element_voltage(highest, base)), "load": load(divider, base, highest)}
    return fields | {"carries": carries, "explanation": why}


def checked_frequency(case: Case) -> float:
    """Return the frequency that stands for the waveform of a check [Hz]; zero for direct voltage."""
    given = float(case.frequency[0])
    return given or (IMPULSE_FREQUENCY if case.waveform in FAST else 0.0)


def carried(divider: Divider, wanted: float | None, base: float) -> tuple[str, str]:
    """Return whether the gap's result carries to the wanted frequency, and why.

    Parameters
    ----------
    divider : Divider
    wanted : float or None
        Frequency [Hz].
    base : float
        Frequency of the check [Hz].
    """
    if divider.fast_ratio is None:
        why = "Without the capacitances of both arms the ratio at any other frequency is not known"
        return "cannot-tell", f"{why}; stray capacitance governs it."
    if wanted is None:
        if divider.compensated:
            return (
                "yes",
                "Direct and high-frequency ratio agree within 1 %, as far as the network as given describes it.",
            )
        return (
            "no",
            "Direct and high-frequency ratio differ by more than 1 %: the result holds for the checked waveform.",
        )
    difference = divider.difference(wanted, base)
    words = f"{units.shown(wanted, 'frequency'):.4g} kHz differs from that of the check by {percent(difference)}"
    if abs(difference) <= ALIKE:
        return (
            "yes",
            f"The ratio at {words}, as far as the network as given describes it; leads and strays are not in it.",
        )
    return "no", f"The ratio at {words}: the result of the gap does not carry to it."


def percent(difference: float) -> str:
    """Return a relative difference in words; what is far below any measurement is not spelled out.

    Examples
    --------
    >>> percent(-0.123), percent(1e-17)
    ('-12 %', 'less than 0.01 %')
    """
    return "less than 0.01 %" if abs(difference) < LEAST else f"{100 * difference:.2g} %"


def load(divider: Divider, base: float, highest: float) -> dict[str, Any]:
    """Return what the divider takes from the source.

    Parameters
    ----------
    divider : Divider
    base : float
        Frequency of the check [Hz].
    highest : float
        Highest voltage of the check [V peak].
    """
    impedance = divider.impedance(base)
    # of a sine the mean power is that of its rms values
    squared = highest**2 / (2 if base else 1)
    fields = {
        "resistance": units.quantity(divider.upper_resistance + divider.lower_resistance, "resistance"),
        "current": units.quantity(highest / abs(impedance), "current"),
        "power": units.quantity(squared * (1 / impedance).real, "power"),
    }
    if divider.upper_capacitance is None or divider.lower_capacitance is None:
        return fields
    series = 1 / math.fsum([1 / divider.upper_capacitance, 1 / divider.lower_capacitance])
    return fields | {"capacitance": units.quantity(series, "capacitance")}
