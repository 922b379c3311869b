"""Beside a clearance: what other tables ask, what the air would hold there, the supply's overvoltages, a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import source_block, voltage
from service.answers.evaluate import evaluate
from service.answers.figure import Axis, Curve, Figure, Mark
from service.answers.registry import Registry
from service.answers.situation import REFERENCE_HUMIDITY, one
from service.methods import Case
from service.physics import atmosphere
from service.reference import Reference, Table
from service.standards.asking import volts
from service.standards.clearance_asked import Asked
from service.standards.clearance_peak import graded_peak, is_fast
from service.standards.clearance_tables import ClearanceTables
from service.standards.reading import Found, Ladder, together
from service.standards.requirements import Requirement

ARRANGEMENTS = ("unknown", "uniform-field")
DEFAULT_PRESSURE = 101.3e3
"""Pressure where no altitude is given [Pa], as everywhere in the service."""
TEMPERATURE = 293.15
MAINS_FREQUENCY = 50.0


def pressure_of(asked: Asked) -> float:
    """Return the pressure at the altitude asked, or the default [Pa]."""
    return DEFAULT_PRESSURE if asked.altitude is None else float(atmosphere.standard_pressure(asked.altitude))


def breakdown(asked: Asked, clearance: float, registry: Registry) -> tuple[dict[str, Any], list[str]]:
    """Return the breakdown voltage of a clearance [m] between unknown electrodes and plates, and what is not known.

    Parameters
    ----------
    asked : Asked
    clearance : float
        [m].
    registry : Registry
    """
    frequency = MAINS_FREQUENCY if asked.frequency is None else asked.frequency
    case = Case(
        gap=one(clearance),
        pressure=one(pressure_of(asked)),
        temperature=one(TEMPERATURE),
        humidity=one(REFERENCE_HUMIDITY),
        frequency=one(frequency),
    )
    found = {key: evaluate(registry.arrangement(key), case) for key in ARRANGEMENTS if key in registry.arrangements}
    shown = {
        key: voltage(float(one_.value[0]), float(one_.low[0]), float(one_.high[0]))
        for key, one_ in found.items()
        if one_.answered[0]
    }
    silent = [key for key in ARRANGEMENTS if key not in shown]
    return shown, [f"No method answers for electrodes={key} at this clearance and pressure." for key in silent]


def overvoltages(asked: Asked, table: Table) -> list[dict[str, Any]]:
    """Return the temporary overvoltages that a supply of this system voltage may have; doubled where reinforced.

    Parameters
    ----------
    asked : Asked
    table : Table
        Rules of IEC 60664-1.
    """
    if asked.system_voltage is None:
        return []
    grade = 2 if asked.reinforced else 1
    return [_overvoltage(asked.system_voltage, grade, table, row) for row in _overvoltage_rows(table)]


def _overvoltage_rows(table: Table) -> Iterator[int]:
    yield from (place for place, name in enumerate(table.text("rule")) if name.startswith("temporary_overvoltage"))


def _overvoltage(system: float, grade: int, table: Table, row: int) -> dict[str, Any]:
    value = grade * (system + float(table["number"][row]))
    doubled = ", doubled for reinforced insulation" if grade == 2 else ""
    return {
        "voltage": units.quantity(value, "voltage", measure="rms"),
        "duration": table.text("unit")[row].removeprefix("V rms, "),
        "rule": table.text("value_printed")[row] + doubled,
        "source": source_block(table.source),
        "provenance": table.provenance[row],
    }


class Beside:
    """What other tables ask for the same question; information, it does not govern.

    Parameters
    ----------
    reference : Reference
        Loaded tables.
    tables : ClearanceTables
    """

    def __init__(self, reference: Reference, tables: ClearanceTables) -> None:
        a1 = reference.table("iec-60664-1-table-a1")
        high = reference.table("iec-60950-high-voltage-clearance")
        quiet = reference.table("iec-60664-1-table-f7b")
        self.tables = tables
        self.impulse = Ladder.of(a1, "voltage_impulse", "clearance", volts)
        self.peak = Ladder.of(a1, "voltage_peak", "clearance", volts)
        self.quiet = Ladder.of(quiet, "voltage", "case_a", volts)
        self.equipment = Ladder.of(high, "voltage", "clearance", volts)
        self.mains = reference.table("iec-61010-1-mains")

    def requirements(self, asked: Asked, found: Sequence[Requirement]) -> list[Requirement]:
        """Return what the other tables ask, up to 2000 m.

        Parameters
        ----------
        asked : Asked
        found : sequence of Requirement
            What governs and its rivals.
        """
        parts: tuple[Callable[[Asked, Sequence[Requirement]], Iterator[Requirement]], ...] = (
            self._withstand_table,
            self._case_a,
            self._without_discharge,
            self._information_technology,
            self._laboratory,
        )
        return [one_ for part in parts for one_ in part(asked, found)]

    def _withstand_table(self, asked: Asked, found: Sequence[Requirement]) -> Iterator[Requirement]:
        """Yield the gap at which Table A.1 reaches the voltage: it differs from F.7a, and neither is corrected."""
        if asked.homogeneous:
            return
        for of in found:
            name, ladder = {
                "impulse": ("impulse_voltage", self.impulse),
                "recurring-peak": ("peak_voltage", self.peak),
            }.get(of.key, ("", self.peak))
            wanted = units.to_si(of.given[name]["value"], "kV", "voltage") if name else np.inf
            if ladder.arguments[0] <= wanted <= ladder.last:
                title = f"Table A.1 reaches the voltage of '{of.key}' here"
                yield Requirement.of("withstand-table", title, ladder.interpolated(wanted), ladder.table)

    def _case_a(self, asked: Asked, found: Sequence[Requirement]) -> Iterator[Requirement]:
        del found
        if not asked.homogeneous or asked.recurring_peak_voltage is None or is_fast(asked.frequency):
            return
        wanted, rule, _ = graded_peak(asked, self.tables)
        ladder = self.tables.peak["A"]
        if ladder.covers(wanted):
            yield Requirement.of("case-a", "Without a test: case A", ladder.interpolated(wanted), ladder.table, rule)

    def _without_discharge(self, asked: Asked, found: Sequence[Requirement]) -> Iterator[Requirement]:
        del found
        if asked.homogeneous or asked.recurring_peak_voltage is None or is_fast(asked.frequency):
            return
        wanted, rule, _ = graded_peak(asked, self.tables)
        if self.quiet.arguments[0] <= wanted <= self.quiet.last:
            read = self.quiet.interpolated(wanted)
            yield Requirement.of("no-partial-discharge", "Without partial discharge", read, self.quiet.table, rule)

    def _information_technology(self, asked: Asked, found: Sequence[Requirement]) -> Iterator[Requirement]:
        del found
        wanted = asked.recurring_peak_voltage
        if wanted is None or is_fast(asked.frequency):
            return
        if self.equipment.arguments[0] <= wanted <= self.equipment.last:
            read = self.equipment.interpolated(wanted, units.to_si(0.1, "mm", "length"))
            title = "Information technology equipment, every grade alike"
            yield Requirement.of("information-technology", title, read, self.equipment.table)

    def _laboratory(self, asked: Asked, found: Sequence[Requirement]) -> Iterator[Requirement]:
        del found
        if asked.system_voltage is None or asked.insulation == "functional":
            return
        table = self.mains
        rows = [
            row
            for row, category in enumerate(table.text("overvoltage_category"))
            if category == asked.category
            and table["voltage_from"][row] < asked.system_voltage
            and asked.system_voltage <= table["voltage_to"][row]
        ]
        for row in rows[:1]:
            grade = 2 if asked.reinforced else 1
            words = f"category {asked.category}, {table.text('voltage_printed')[row]} V"
            rule = "doubled for reinforced insulation" if asked.reinforced else "as printed"
            found_ = Found(grade * float(table["clearance"][row]), words, rule, together([table.provenance[row]]))
            yield Requirement.of("laboratory-equipment", "Measuring and laboratory equipment", found_, table)


def figure(asked: Asked, tables: ClearanceTables, found: Sequence[Requirement], sentences: tuple[str, ...]) -> Figure:
    """Return the picture: the columns of F.2 and F.7a, and what was read from them.

    Parameters
    ----------
    asked : Asked
    tables : ClearanceTables
    found : sequence of Requirement
    sentences : tuple of str
        Under the picture.
    """
    column, peak = tables.column(asked), tables.peak[asked.case]
    curves = tuple(
        Curve(label, *_plotted(ladder))
        for label, ladder in (("impulses (F.2)", column), ("stays or recurs (F.7a)", peak))
    )
    marks = tuple(mark for mark in map(_mark, found) if mark is not None)
    return Figure(
        "Clearance and voltage",
        f"Clearances of IEC 60664-1 up to 2000 m, case {asked.case}, pollution degree {asked.pollution_degree}.",
        Axis("Peak voltage", "kV"),
        Axis("Clearance", "mm"),
        curves=curves,
        marks=marks,
        sentences=sentences,
    )


def _plotted(ladder: Ladder) -> tuple[np.ndarray, np.ndarray]:
    x = np.array([units.shown(value, "voltage") for value in ladder.arguments])
    y = np.array([units.shown(value, "length") for value in ladder.values])
    return x, y


def _mark(one_: Requirement) -> Mark | None:
    given: Mapping[str, Any] = one_.given.get("impulse_voltage") or one_.given.get("peak_voltage") or {}
    if not given:
        return None
    return Mark(one_.title, np.array([given["value"]]), np.array([units.shown(one_.distance, "length")]))
