"""How a measuring sphere gap is set up: limits, surroundings, resistor and number of sparkovers, from the tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from service import spoken
from service.reference import Reference, Table
from service.units import ROUNDING, Quantity

IMPULSES = ("lightning-impulse", "switching-impulse")
FINEST = 9
"""Decimals of a distance [m] that is a multiple of another: nanometres."""
HEIGHTS = ("min_height_over_diameter", "max_height_over_diameter")


@dataclass(frozen=True)
class SurroundingsRow:
    """A row of table 1.

    Parameters
    ----------
    smallest, largest : float
        Sphere diameters [m] that it is for.
    heights : sequence of float
        Least and largest height of the sparking point above earth, over the diameter.
    clearance : float
        Least clearance around the spheres, over the spacing.
    """

    smallest: float
    largest: float
    heights: Sequence[float]
    clearance: float


@dataclass(frozen=True, eq=False)
class Practice:
    """The practice of IEC 60052, as far as the reference data hold it.

    Parameters
    ----------
    value : mapping
        Constants of ``sphere-gap-practice`` in SI.
    surroundings : Table
        Table 1: height above earth and clearance around the spheres.
    diameters : tuple of float
        Standard diameters [m].
    highest_frequency : float
        Frequency up to which the table was found to hold unchanged [Hz].
    """

    value: Mapping[str, float]
    surroundings: Table
    diameters: tuple[float, ...]
    highest_frequency: float

    @classmethod
    def of(cls, reference: Reference) -> Practice:
        """Return the practice with the tables in use."""
        table = reference.table("sphere-gap-practice")
        value = MappingProxyType(dict(zip(table.text("name"), table["value"].tolist(), strict=True)))
        diameters = np.unique(reference.table("iec-60052-table-2")["sphere_diameter"])
        unchanged_to = reference.table("correction-constants").constant("low-falls-from")
        return cls(value, reference.table("iec-60052-table-1"), tuple(diameters.tolist()), unchanged_to)

    def largest_share(self, waveform: str) -> float:
        """Return the spacing over diameter at which the stated uncertainty ends."""
        kind = "-direct" if waveform == "dc" else ""
        return self.value[f"largest-spacing-over-diameter{kind}"]

    @property
    def dark(self) -> str:
        """Where a gap needs irradiation, in words."""
        below, diameter = self.value["irradiation-below-voltage"], self.value["irradiation-to-diameter"]
        return f"Below {spoken.said(below, 'voltage')}, or with spheres up to {spoken.said(diameter, 'length')}"

    def irradiation_needed(self, voltage: float, diameter: float) -> bool:
        """Return whether a gap must be irradiated, for a peak voltage [V] and a sphere diameter [m]."""
        low = voltage < self.value["irradiation-below-voltage"]
        return low or diameter <= self.value["irradiation-to-diameter"] * (1 + ROUNDING)

    def earth_height(self, diameter: float) -> Quantity | None:
        """Return least and largest height of the sparking point above earth; ``None`` where no row holds."""
        row = self._row(diameter)
        if row is None:
            return None
        low, high = row.heights
        return Quantity(None, "length", low=round(low * diameter, FINEST), high=round(high * diameter, FINEST))

    def side_clearance(self, diameter: float, spacing: float) -> Quantity | None:
        """Return the least clearance around the spheres; ``None`` where no row holds."""
        row = self._row(diameter)
        if row is None:
            return None
        return Quantity(round(row.clearance * spacing, FINEST), "length")

    def series_resistor(self, waveform: str) -> Quantity:
        """Return the range of the resistor in series with the gap; for impulse only its upper end."""
        if waveform in IMPULSES:
            return Quantity(None, "resistance", high=self.value["series-resistor-largest-impulse"])
        low, high = (self.value[f"series-resistor-{end}"] for end in ("lowest", "largest"))
        return Quantity(None, "resistance", low=low, high=high)

    @property
    def sparkovers(self) -> int:
        """Fewest sparkovers at a setting."""
        return int(self.value["fewest-sparkovers"])

    @property
    def interval(self) -> Quantity:
        """Least time between sparkovers."""
        return Quantity(self.value["interval"], "time")

    def instructions(self, diameter: float, spacing: float, waveform: str) -> dict[str, object]:
        """Return what a setting asks of its surroundings; what no row of the table covers is absent.

        Parameters
        ----------
        diameter, spacing : float
            [m].
        """
        fields = {
            "earth_height": self.earth_height(diameter),
            "side_clearance": self.side_clearance(diameter, spacing),
            "series_resistor": self.series_resistor(waveform),
            "sparkovers": self.sparkovers,
            "interval": self.interval,
        }
        return {name: value for name, value in fields.items() if value is not None}

    def _row(self, diameter: float) -> SurroundingsRow | None:
        largest = diameter * (1 + ROUNDING)
        holding = (row for row in self._rows if row.smallest <= largest and diameter <= row.largest * (1 + ROUNDING))
        return next(holding, None)

    @cached_property
    def _rows(self) -> list[SurroundingsRow]:
        names = ("sphere_diameter_from", "sphere_diameter_to", *HEIGHTS, "min_clearance_over_spacing")
        columns = (self.surroundings[name].tolist() for name in names)
        return [SurroundingsRow(low, high, heights, least) for low, high, *heights, least in zip(*columns, strict=True)]
