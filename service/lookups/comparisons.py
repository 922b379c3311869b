"""Every published table and point set that a model can be held against, as cases with the published voltage."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from service.answers.evaluate import evaluate
from service.answers.registry import Registry
from service.methods import Case, FloatArray, Method
from service.methods.case import AIR
from service.methods.method import NOTHING, BoolArray
from service.physics.atmosphere import REFERENCE_PRESSURE, REFERENCE_TEMPERATURE, SEA_LEVEL_PRESSURE
from service.reference import Reference, Table
from service.units import ROUNDING, to_si

VACUUM = 1e-3
"""Pressure at which vacuum points are compared [Pa]; the law does not depend on it."""
NARROW = 1e-3 * (1 - ROUNDING)
"""Gap below which measured points are reported apart [m]."""


@dataclass(frozen=True, eq=False)
class PointSet:
    """Published voltages with the case that each belongs to.

    Parameters
    ----------
    table : Table
        Where they are printed.
    part : str
        Which of its rows, in words; empty for all.
    electrodes : str
        Key of the arrangement.
    case : Case
        One element a voltage.
    voltages : ndarray
        Peak [V].
    places : tuple of str
        Each row in words.
    calibrated : mapping of str to ndarray of bool
        Rows that a method was fitted to, by method key.
    """

    table: Table
    part: str
    electrodes: str
    case: Case
    voltages: FloatArray
    places: tuple[str, ...]
    calibrated: Mapping[str, BoolArray] = field(default_factory=lambda: NOTHING)

    def select(self, mask: BoolArray, part: str) -> PointSet:
        """Return some of the points under other words."""
        places = tuple(place for place, keep in zip(self.places, mask, strict=True) if keep)
        calibrated = {key: rows[mask] for key, rows in self.calibrated.items()}
        return PointSet(
            self.table, part, self.electrodes, self.case.select(mask), self.voltages[mask], places, calibrated
        )

    def methods(self, registry: Registry) -> Iterator[Method]:
        """Yield the methods that give a voltage here and neither come from the same source nor are scaled to it."""
        methods = registry.arrangement(self.electrodes).methods
        same = tuple(f"{one.key}-" for one in methods if one.source.key == self.table.source.key)
        for method in methods:
            own = method.source.key == self.table.source.key or method.key.startswith(same)
            if not own and method.kind != "bracket" and method.validity.applies(self.case):
                yield method

    def deviations(self, registry: Registry, key: str) -> FloatArray:
        """Return the relative deviation of a method from every voltage; NaN where it does not answer."""
        return self.compared(registry, key)[0]

    def compared(self, registry: Registry, key: str) -> tuple[FloatArray, BoolArray]:
        """Return the relative deviation of a method from every voltage, and whether the voltage lies in its band."""
        found = evaluate(registry.arrangement(self.electrodes), self.case, only=key)
        inside = (found.low <= self.voltages) & (self.voltages <= found.high)
        return np.asarray(found.value / self.voltages - 1), inside


def point_sets(registry: Registry) -> Iterator[PointSet]:
    """Yield every point set."""
    reference = registry.reference
    yield from _spheres(reference, 2, "ac", None)
    yield from _spheres(reference, 3, "lightning-impulse", "positive")
    yield _schumann(reference)
    yield _needles(reference)
    yield _rods(reference)
    yield from _measured_gases(reference)
    yield _vacuum(reference)


def _case(gap: FloatArray, pressure: FloatArray, waveform: str, gas: str = AIR, humidity: float = np.nan) -> Case:
    """Return gaps [m] and pressures [Pa] at room temperature as a case."""
    frequency = 50.0 if waveform == "ac" else 0.0
    temperature, water, hertz = (np.full(gap.size, value) for value in (REFERENCE_TEMPERATURE, humidity, frequency))
    return Case(gap, pressure, temperature, water, hertz, gas=gas, waveform=waveform)


def _spheres(reference: Reference, number: int, waveform: str, polarity: str | None) -> Iterator[PointSet]:
    table = reference.table(f"iec-60052-table-{number}")
    spacing, diameter = table["spacing"], table["sphere_diameter"]
    case = _case(spacing, np.full(spacing.size, REFERENCE_PRESSURE), waveform, humidity=to_si(8.5, "g/m3", "humidity"))
    case = replace(
        case, dimensions={"sphere_diameter": diameter}, options={"earthing": "one-earthed"}, polarity=polarity
    )
    places = tuple(
        f"sphere diameter {row['sphere_diameter_cm']} cm, spacing {row['spacing_cm']} cm" for row in table.rows
    )
    fitted = _calibration_cells(reference, table) if number == 2 else np.zeros(len(table), dtype=np.bool_)
    whole = PointSet(
        table, "", "sphere-gap", case, table["voltage"], places, {"streamer-calibrated": fitted} if number == 2 else {}
    )
    bracketed = table.flag("bracketed")
    yield whole.select(~bracketed, "spacing to 0.5 of the diameter")
    yield whole.select(bracketed, "bracketed cells, spacing beyond 0.5 of the diameter")


def _calibration_cells(reference: Reference, table: Table) -> BoolArray:
    fits = reference.table("streamer-criterion-fits")
    share = fits.constant("calibration-largest-spacing-over-diameter") * (1 + ROUNDING)
    largest = fits.constant("calibration-largest-diameter") * (1 + ROUNDING)
    near = (table["spacing"] <= share * table["sphere_diameter"]) & (table["sphere_diameter"] <= largest)
    used = np.zeros(len(table), dtype=np.bool_)
    used[np.flatnonzero(near)[:: int(fits.constant("calibration-every"))]] = True
    return used


def _schumann(reference: Reference) -> PointSet:
    table = reference.table("schumann-table")
    case = _case(table["gap"], np.full(len(table), SEA_LEVEL_PRESSURE), "ac")
    places = tuple(f"gap {row['gap_cm']} cm" for row in table.rows)
    return PointSet(table, "", "uniform-field", case, table["voltage"], places)


def _needles(reference: Reference) -> PointSet:
    table = reference.table("needle-gap-aiee-1914")
    case = _case(
        table["spacing"], np.full(len(table), SEA_LEVEL_PRESSURE), "ac", humidity=to_si(18.4, "g/m3", "humidity")
    )
    case = replace(case, temperature=np.full(len(table), to_si(25.0, "degC", "temperature")))
    places = tuple(f"spacing {row['spacing_mm']} mm" for row in table.rows)
    return PointSet(table, "", "needle-gap", case, np.sqrt(2) * table["voltage_rms"], places)


def _rods(reference: Reference) -> PointSet:
    table = reference.table("osha-appendix-b-rod-gap")
    case = _case(
        table["spacing"], np.full(len(table), REFERENCE_PRESSURE), "ac", humidity=to_si(11.0, "g/m3", "humidity")
    )
    places = tuple(f"spacing {row['rod_rod_gap_cm']} cm" for row in table.rows)
    return PointSet(table, "", "rod-gap", case, table["voltage"], places)


def _measured_gases(reference: Reference) -> Iterator[PointSet]:
    table = reference.table("norman-2022-points")
    known = set(reference.table("gases").text("key"))
    for gas in dict.fromkeys(key for key in table.text("gas_key") if key in known):
        rows = table.where(gas_key=gas)
        places = tuple(f"gap {row['gap_mm']} mm, {row['pressure_atm']} atm" for row in rows.rows)
        whole = PointSet(
            table, "", "uniform-field", _case(rows["gap"], rows["pressure"], "dc", gas), rows["voltage"], places
        )
        wide = rows["gap"] >= NARROW
        title = gas.replace("-", " ")
        yield whole.select(wide, f"{title}, gap from 1 mm")
        if not wide.all():
            yield whole.select(~wide, f"{title}, gap below 1 mm")


def _vacuum(reference: Reference) -> PointSet:
    table = reference.table("vacuum-points")
    single = np.isfinite(table["voltage"]) & (table["gap_from"] == table["gap_to"])
    case = _case(table["gap_from"][single], np.full(int(single.sum()), VACUUM), "dc", "vacuum")
    places = tuple(
        f"{row['electrode']}, gap {row['gap_mm']} mm" for row, keep in zip(table.rows, single, strict=True) if keep
    )
    return PointSet(
        table, "points with one gap and one voltage", "uniform-field", case, table["voltage"][single], places
    )
