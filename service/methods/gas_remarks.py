"""What the gas and the waveform add to an answer between plates, whatever method answers."""

from __future__ import annotations

from collections.abc import Callable

from service.methods.case import AIR
from service.methods.method import Case
from service.reference import Reference

COLD = 250.0
"""Temperature below which an answer says that condensation is not checked [K]; common practice, no source."""
DENSE = 5e5
"""Pressure above which an answer says that the gas is taken as ideal [Pa]; common practice, no source."""
IMPULSES = ("lightning-impulse", "switching-impulse", "pulse-train")

IMPULSE_NOTE = (
    "For slowly rising voltages. An impulse finds a short gap without irradiation late: it scatters upward by an "
    "amount that is not known here."
)
FREQUENCY_NOTE = "The fall at high frequency was measured in air near atmospheric pressure."
COLD_NOTE = "Whether the gas condenses at this temperature and pressure is not checked."
DENSE_NOTE = "The gas is taken as ideal; near condensation it is denser and holds more."
NOT_AIR = ("gas", "mixture")


def gas_remarks(reference: Reference, gas: str) -> Callable[[Case], tuple[str, ...]]:
    """Return a function from a case to the sentences that its gas and waveform add.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    gas : str
        Gas key.
    """
    table = reference.table("gases")
    row = table.text("key").index(gas)
    other = table.text("kind")[row] in NOT_AIR
    always = tuple(table.text(name)[row] for name in ("doubts", "purity") if other and table.text(name)[row])

    def remarks(case: Case) -> tuple[str, ...]:
        some = case.of.any
        conditional = {
            IMPULSE_NOTE: case.waveform in IMPULSES,
            FREQUENCY_NOTE: gas != AIR and some(case.frequency > 20e3),
            COLD_NOTE: other and some(case.temperature < COLD),
            DENSE_NOTE: other and some(case.pressure > DENSE),
        }
        return (*always, *(note for note, applies in conditional.items() if applies))

    return remarks
