"""How far things may differ from what was said: every allowance once, from a table that names its source."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.methods.laws import constants
from service.physics import atmosphere
from service.reference import Reference

TABLE = "judgement-allowances"
"""Key of the table of allowances."""
LATE_WAVEFORMS = frozenset({"lightning-impulse", "switching-impulse", "pulse-train"})
"""Voltages that are over before the first electron may have come, and whose single sparkovers scatter."""


@dataclass(frozen=True)
class Allowances:
    """The allowances in use, SI.

    Parameters
    ----------
    pressure : tuple of float
        Lowest and highest of ordinary weather at sea level [Pa].
    standard_pressure : float
        What the weather moves about [Pa].
    temperature : tuple of float
        Lowest and highest of a workshop [K].
    humidity : tuple of float
        Driest and muggiest air [kg/m3].
    highest_place : float
        Altitude up to which a place is looked for where none was said [m].
    late : float
        How much higher a gap may fire that nothing irradiates, as a share of the voltage; upward only.
    own_part : float
        Relative standard uncertainty of a band that is not common to all settings.
    label : float
        Share by which a printed rating may be rounded.
    spacing : float
        Half width of the spacing of a protective gap [m].
    deviation, deviation_switching, multiple : float
        Relative standard deviation of single sparkovers, and how many of them count.
    """

    pressure: tuple[float, float]
    standard_pressure: float
    temperature: tuple[float, float]
    humidity: tuple[float, float]
    highest_place: float
    late: float
    own_part: float
    label: float
    spacing: float
    deviation: float
    deviation_switching: float
    multiple: float

    @classmethod
    def of(cls, reference: Reference) -> Allowances:
        """Return the allowances of the tables in use."""
        value, scatter = constants(reference, TABLE), constants(reference, "correction-constants")

        def ends(name: str) -> tuple[float, float]:
            return value[f"{name}-lowest"], value[f"{name}-highest"]

        return cls(
            ends("weather-pressure"),
            value["weather-pressure-standard"],
            ends("weather-temperature"),
            ends("weather-humidity"),
            value["highest-place"],
            value["late-sparkover"],
            value["own-part-of-band"],
            value["label-rounding"],
            value["spacing-of-a-protective-gap"],
            scatter["deviation-alternating-and-lightning"],
            scatter["deviation-switching"],
            scatter["scatter-multiple"],
        )

    def scatter(self, waveform: str) -> float:
        """Return how far single sparkovers scatter to either side, as a share of the voltage."""
        deviation = self.deviation_switching if waveform == "switching-impulse" else self.deviation
        return self.multiple * deviation

    def lag(self, irradiated: str) -> float:
        """Return the factor on the upper end of a band for first electrons that come late.

        Parameters
        ----------
        irradiated : str
            ``yes``, ``no`` or ``unknown``; only ``yes`` takes the allowance away.
        """
        return 1.0 if irradiated == "yes" else 1.0 + self.late

    def weather(self, pressure: float) -> tuple[float, float]:
        """Return the lowest and highest pressure [Pa] that the weather makes of a mean pressure [Pa]."""
        low, high = (end / self.standard_pressure for end in self.pressure)
        return pressure * low, pressure * high

    @property
    def anywhere(self) -> tuple[float, float]:
        """Lowest and highest pressure [Pa] of any place from sea level up, in its weather."""
        top = float(atmosphere.standard_pressure(self.highest_place))
        return self.weather(top)[0], self.pressure[1]

    def split(self, band: float, coverage: float = 2.0) -> tuple[float, float]:
        """Return the standard uncertainties of a band: common to all settings, and of each on its own.

        Parameters
        ----------
        band : float
            Relative half width, an expanded uncertainty.
        coverage : float
            Its coverage factor.

        Examples
        --------
        Of 3 % (k = 2), with an own part of 1 %, 1.1 % are common.
        """
        whole = band / coverage
        own = min(self.own_part, whole)
        return math.sqrt(whole**2 - own**2), own
