"""Sharp electrodes: the needle table carried to the air of the question."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.methods.laws import constants, exponent_law, humidity_laws
from service.methods.method import BoolArray, Case, FloatArray, Limit
from service.physics.atmosphere import relative_density
from service.physics.atmospheric_correction import Air, ExponentLaw, HumidityLaw, carried_to
from service.reference import Reference, interpolate
from service.units import to_si

NEEDLE_TEMPERATURE = to_si(25.0, "degC", "temperature")
NEEDLE_PRESSURE = to_si(760.0, "mmHg", "pressure")
NEEDLE_HUMIDITY = to_si(18.4, "g/m3", "humidity")
"""Reference air of the needle table: 25 degC, 760 mmHg, 80 % relative humidity (aiee-1914, memory)."""
POWER_FREQUENCY = Limit("frequency", "frequency", 45.0, 65.0)
"""Frequency of the alternating voltages that the tables were made with; the range is that of IEC 60060-1, memory."""
HELD_NOTE = "The humidity lies outside the range of the correction, which is held at its end."
UNKNOWN_ADVICE = "Where no table reaches, electrodes=unknown answers with a bracket."


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

    @cached_property
    def origin(self) -> Air:
        """Air of the table."""
        return Air(relative_density(NEEDLE_PRESSURE, NEEDLE_TEMPERATURE), NEEDLE_HUMIDITY)

    def voltage(self, case: Case, gap: FloatArray | None = None) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Return peak voltages [V], the factor for the air, and where the humidity law was held at its end on the way.

        Parameters
        ----------
        case : Case
            With gaps inside the table, or any where ``gap`` is given.
        gap : ndarray, optional
            Gaps in place of the case's [m].
        """
        length = case.gap if gap is None else gap
        table = interpolate(self.spacings, self.voltages, length)
        here = air_of(case, self.origin)
        carried = carried_to(table, length, self.origin, here, self.law, self.exponents)
        return carried.voltage, carried.factor, carried.humidity_held & other_humidity(self.origin, here)


def air_of(case: Case, origin: Air) -> Air:
    """Return the air of a case; where its humidity is not known, that of the table over density: no correction."""
    same = np.asarray(origin.humidity) / np.asarray(origin.relative_density) * case.relative_density
    return Air(case.relative_density, np.where(np.isnan(case.humidity), same, case.humidity))


def spacing_row(spacings: FloatArray, gap: float) -> str:
    """Return in words which spacings of a table a gap [m] lies on or between."""
    after = int(np.clip(np.searchsorted(spacings, gap * (1 - 1e-9)), 0, spacings.size - 1))
    exact = bool(np.isclose(spacings[after], gap, rtol=1e-9))
    used = spacings[[after]] if exact or after == 0 else spacings[after - 1 : after + 1]
    words = " and ".join(f"{spacing * 100:g} cm" for spacing in used)
    return f"spacing {words}"


def other_humidity(origin: Air, here: Air) -> BoolArray:
    """Return where humidity over density differs from that of the table, so that its humidity law matters."""
    ratios = [np.asarray(air.humidity) / np.asarray(air.relative_density) for air in (origin, here)]
    return np.asarray(np.abs(ratios[1] / ratios[0] - 1) > 1e-3)


def lowest_density(reference: Reference) -> float:
    """Return the relative density below which needle and rod tables are not used."""
    return constants(reference, "correction-constants")["lowest-density-needle-and-rod"]
