"""One setting of a sphere gap: which spacing sparks at a voltage, how well that is known, and whether it is covered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import voltage
from service.answers.crossings import rising_inverse
from service.answers.evaluate import Evaluation, evaluate
from service.answers.registry import Registry
from service.answers.situation import one
from service.bench.sphere_practice import SLACK, Practice
from service.methods import Arrangement, Case, FloatArray, Method

SHARES = np.geomspace(5e-4, 2.0, 64)
"""Spacings over diameter that are searched; beyond the end corona comes first."""

SAME = 1e-6
"""Relative difference up to which two voltages are one."""


def why_not(practice: Practice, spacing: float, diameter: float, waveform: str, frequency: float) -> list[str]:
    """Return why the standard states no accuracy for a setting, whatever method gives its voltage.

    Parameters
    ----------
    practice : Practice
    spacing, diameter : float
        [m].
    waveform : str
    frequency : float
        [Hz].
    """
    reasons = []
    largest = practice.largest_share(waveform)
    if spacing > largest * diameter * SLACK:
        share = spacing / diameter
        reasons.append(f"The spacing is {share:.3g} of the diameter; the stated uncertainty ends at {largest:g}.")
    if frequency > practice.highest_frequency * SLACK:
        words = f"{units.shown(practice.highest_frequency, 'frequency'):g} kHz"
        reasons.append(f"Above {words} spheres were measured to spark lower than the table.")
    return reasons


@dataclass(frozen=True, eq=False)
class Setting:
    """Spheres set to a spacing.

    Parameters
    ----------
    evaluation : Evaluation
        Of one element, every method.
    practice : Practice
    """

    evaluation: Evaluation
    practice: Practice

    @property
    def case(self) -> Case:
        """The case, of one element."""
        return self.evaluation.case

    @property
    def diameter(self) -> float:
        """Of the spheres [m]."""
        return float(self.case.dimensions["sphere_diameter"][0])

    @property
    def spacing(self) -> float:
        """Shortest distance of the spheres [m]."""
        return float(self.case.gap[0])

    @property
    def value(self) -> float:
        """Peak voltage at which it sparks over [V]."""
        return float(self.evaluation.value[0])

    @property
    def band(self) -> float:
        """Relative half width of the band."""
        low, high = float(self.evaluation.low[0]), float(self.evaluation.high[0])
        return max(high - self.value, self.value - low) / self.value

    @property
    def method(self) -> Method:
        """The method that answers."""
        return self.evaluation.preferred().method

    @property
    def row(self) -> str | None:
        """Rows of the table that were used."""
        return self.evaluation.preferred().estimate.row

    @property
    def irradiation_needed(self) -> bool:
        """Whether the gap must be irradiated."""
        return self.practice.irradiation_needed(self.value, self.diameter)

    @cached_property
    def why_not(self) -> tuple[str, ...]:
        """Why the standard does not cover this setting; empty where it does."""
        reasons = []
        if self.method.kind != "table":
            reasons.append(f"No published table covers this setting; the voltage is that of '{self.method.title}'.")
        frequency = float(self.case.frequency[0])
        reasons += why_not(self.practice, self.spacing, self.diameter, self.case.waveform, frequency)
        return tuple(reasons)

    @property
    def within_limits(self) -> bool:
        """Whether the standard covers this setting."""
        return not self.why_not

    @property
    def usable(self) -> bool:
        """Whether a check may use this setting: by a table or by a model, within the limits of the arrangement."""
        frequency = float(self.case.frequency[0])
        return not why_not(self.practice, self.spacing, self.diameter, self.case.waveform, frequency)

    def reference_voltage(self) -> dict[str, Any]:
        """Return the voltage with its band."""
        return voltage(self.value, float(self.evaluation.low[0]), float(self.evaluation.high[0]))

    def block(self) -> dict[str, Any]:
        """Return the setting as answers show it."""
        estimate = self.evaluation.preferred().estimate
        fields: dict[str, Any] = {
            "sphere_diameter": units.quantity(self.diameter, "length"),
            "spacing": units.quantity(self.spacing, "length"),
            "spacing_over_diameter": self.spacing / self.diameter,
            "within_limits": self.within_limits,
        }
        if self.why_not:
            fields["why_not"] = list(self.why_not)
        fields |= {
            "uncertainty_percent": round(100 * self.band, 2),
            "irradiation_needed": self.irradiation_needed,
            **self.practice.instructions(self.diameter, self.spacing, self.case.waveform),
            "method": self.method.key,
        }
        if self.row:
            fields["row"] = self.row
        return fields | {"provenance": estimate.provenance or self.method.provenance}


@dataclass(frozen=True, eq=False)
class Spheres:
    """Equal spheres of one diameter in a situation.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        Of one element, with the sphere diameter.
    practice : Practice
    """

    arrangement: Arrangement
    case: Case
    practice: Practice

    @classmethod
    def of(cls, registry: Registry, case: Case, diameter: float, earthing: str = "one-earthed") -> Spheres:
        """Return the spheres of a diameter [m] in the surroundings of a case.

        Parameters
        ----------
        registry : Registry
        case : Case
            Atmosphere and waveform.
        diameter : float
        earthing : str
        """

        def make() -> Spheres:
            sized = replace(case, dimensions={"sphere_diameter": one(diameter)}, options={"earthing": earthing})
            return cls(registry.arrangement("sphere-gap"), sized, Practice.of(registry.reference))

        kept: Spheres = registry.kept_curves((case, ("spheres", diameter, earthing)), make)
        return kept

    @property
    def diameter(self) -> float:
        """[m]."""
        return float(self.case.dimensions["sphere_diameter"][0])

    @cached_property
    def spacings(self) -> FloatArray:
        """Spacings that are searched [m], the ends of the tables' ranges included."""
        ends = [self.practice.largest_share(self.case.waveform) * self.diameter, *self._table_ends()]
        return np.unique([*(SHARES * self.diameter), *ends])

    def _table_ends(self) -> Iterator[float]:
        for method in self.methods:
            if method.kind == "table":
                limits = [limit for limit in method.validity.limits if limit.quantity == "gap"]
                yield from (float(end[0]) for limit in limits for end in limit.bounds(self.case))

    @cached_property
    def _on_grid(self) -> dict[str, FloatArray]:
        return {}

    @cached_property
    def curve(self) -> Evaluation:
        """The preferred evaluation over the spacings."""
        return evaluate(self.arrangement, self.case.with_gap(self.spacings))

    def at(self, spacing: float, *, every: bool = False) -> Setting | None:
        """Return the setting at a spacing [m]; ``None`` where no method gives a voltage.

        Parameters
        ----------
        spacing : float
        every : bool
            Evaluate all valid methods, not only the preferred one.
        """
        found = evaluate(self.arrangement, replace(self.case, gap=one(spacing)), every=every)
        return Setting(found, self.practice) if np.isfinite(found.value[0]) else None

    def settings_for(self, voltages: Sequence[float], *, tables_only: bool = False) -> list[Setting | None]:
        """Return the settings that spark over at peak voltages [V]; ``None`` where none does.

        Parameters
        ----------
        voltages : sequence of float
        tables_only : bool
            Leave out what only a model answers.
        """
        wanted = np.asarray(voltages, dtype=np.float64)
        gaps = np.full(wanted.shape, np.nan)
        for method in self.methods:
            left = np.isnan(gaps)
            if left.any() and (method.kind == "table" or not tables_only):
                gaps[left] = self._inverse(method, wanted[left])
        return [self._sparking_at(gap, volts) for gap, volts in zip(gaps.tolist(), wanted.tolist(), strict=True)]

    def _sparking_at(self, gap: float, volts: float) -> Setting | None:
        """Return the setting at a spacing if it is this voltage that the preferred method gives there."""
        setting = self.at(gap) if np.isfinite(gap) else None
        same = setting is not None and abs(setting.value - volts) <= SAME * abs(volts) + 1e-8
        return setting if same else None

    @cached_property
    def methods(self) -> tuple[Method, ...]:
        """Methods that give a voltage here, in order of trust."""
        applying = (method for method in self.arrangement.methods if method.validity.applies(self.case))
        return tuple(method for method in applying if method.kind != "bracket")

    def _inverse(self, method: Method, voltages: FloatArray) -> FloatArray:
        def value(gaps: FloatArray) -> FloatArray:
            return evaluate(self.arrangement, self.case.with_gap(gaps), only=method.key).value

        if method.key not in self._on_grid:
            self._on_grid[method.key] = value(self.spacings)
        on_grid = self._on_grid[method.key]
        found = rising_inverse(value, self.spacings, on_grid, voltages)
        # the ends of a table are places of the grid, and no voltage lies beyond them
        close = np.abs(voltages[:, None] - on_grid) <= SAME * np.abs(on_grid) + 1e-8
        last = close.shape[1] - 1 - np.argmax(close[:, ::-1], axis=1)
        return np.where(np.isnan(found) & close.any(axis=1), self.spacings[last], found)

    @cached_property
    def covered(self) -> tuple[float, float] | None:
        """Lowest and highest peak voltage that the standard covers [V]; ``None`` where it covers none."""
        return self._reach("table")

    @cached_property
    def reach(self) -> tuple[float, float] | None:
        """Lowest and highest peak voltage that a table or a model gives [V] within the limits of the arrangement."""
        return self._reach("table", "model", "formula")

    def _reach(self, *kinds: str) -> tuple[float, float] | None:
        largest = self.practice.largest_share(self.case.waveform) * self.diameter * SLACK
        if float(self.case.frequency[0]) > self.practice.highest_frequency * SLACK:
            return None
        near = evaluate(self.arrangement, self.case.with_gap(self.spacings[self.spacings <= largest]))
        places = [place for place, used in enumerate(near.methods) if used.method.kind in kinds]
        volts = near.value[np.isin(near.choice, places)]
        return (float(volts.min()), float(volts.max())) if volts.size else None
