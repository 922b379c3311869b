"""Sharp electrodes: the needle table carried to the air of the question."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.electrodes._base import BoolArray, Case, FloatArray
from service.electrodes._laws import constants, exponent_law, humidity_laws
from service.physics.atmosphere import relative_density
from service.physics.atmospheric_correction import Air, ExponentLaw, HumidityLaw, carried_to
from service.reference import Reference, interpolate
from service.units import to_si

NEEDLE_TEMPERATURE = to_si(25.0, "degC", "temperature")
NEEDLE_PRESSURE = to_si(760.0, "mmHg", "pressure")
NEEDLE_HUMIDITY = to_si(18.4, "g/m3", "humidity")
"""Reference air of the needle table: 25 degC, 760 mmHg, 80 % relative humidity (aiee-1914, memory)."""


@dataclass(frozen=True, eq=False)
class NeedleTable:
    """Voltage of needle points over the gap, alternating voltage of 50 or 60 Hz, in the air of the question.

    Parameters
    ----------
    spacings, voltages : ndarray
        Rising [m], [V peak], in the air of the table.
    law : HumidityLaw
    exponents : ExponentLaw
    """

    spacings: FloatArray
    voltages: FloatArray
    law: HumidityLaw
    exponents: ExponentLaw

    @classmethod
    def of(cls, reference: Reference) -> NeedleTable:
        """Return the table with the laws that carry it to other air."""
        table = reference.table("needle-gap")
        return cls(table["spacing"], table["voltage"], humidity_laws(reference)["alternating"], exponent_law(reference))

    @property
    def origin(self) -> Air:
        """Air of the table."""
        return Air(relative_density(NEEDLE_PRESSURE, NEEDLE_TEMPERATURE), NEEDLE_HUMIDITY)

    def voltage(self, case: Case, gap: FloatArray | None = None) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Return peak voltages [V], the factor for the air, and where the humidity law was held at its end.

        Parameters
        ----------
        case : Case
            With gaps inside the table, or any where ``gap`` is given.
        gap : ndarray, optional
            Gaps in place of the case's [m].
        """
        length = case.gap if gap is None else gap
        table = interpolate(self.spacings, self.voltages, length)
        # air whose humidity is not known is taken at the table's own humidity over density: no correction
        humidity = np.where(np.isnan(case.humidity), self.law.reference * case.relative_density, case.humidity)
        carried = carried_to(table, length, self.origin, Air(case.relative_density, humidity), self.law, self.exponents)
        return carried.voltage, carried.factor, carried.humidity_held


def lowest_density(reference: Reference) -> float:
    """Return the relative density below which needle and rod tables are not used."""
    return constants(reference, "correction-constants")["lowest-density-needle-and-rod"]
