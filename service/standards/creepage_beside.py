"""Beside a creepage: rationalized voltages of supplies, flashover figures of practice, and what else to know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import source_block
from service.parameters import Question
from service.reference import Reference, Table
from service.standards.asking import distance, millimetres, volts
from service.standards.clearance_peak import is_fast
from service.standards.creepage_tables import PRINTED, CreepageTables, Path
from service.standards.material_group import Surface
from service.standards.reading import origin
from service.standards.requirements import Requirement

SURFACE_FIGURES = ("PCB external track", "dry clean surface", "outdoor minimum creepage")
"""Beginnings of the rows that speak of a surface; the others of that table repeat standards, or speak of air."""
NOT_AT_DEGREE_3 = 630.0
"""Working voltage above which group IIIb is not recommended at pollution degree 3 [V]; from memory."""
REDUCIBLE_BELOW = 3e-3
"""Clearance below which the groove width may shrink to a third of it [m]; read in a reproduction."""
SECTIONS = (
    "In a winding with sections the voltage is that between neighbouring sections, not the whole; steep pulses crowd "
    "into the first ones, so it is not the same for all."
)
NOT_ASKED = (
    "Creepage is never below the clearance: no voltage of the clearance was given, so it is not in this list. Give "
    "system_voltage with overvoltage_category, impulse_voltage or peak_voltage to have it in."
)
PEAK_ASSUMED = "No peak_voltage was given: the voltage above 30 kHz is taken as sinusoidal, its peak as sqrt 2 x rms."
FAST_BOARD = "Whether Table 2 of IEC 60664-4 holds for printed wiring is not known here."


def rationalized(
    question: Question, path: Path, tables: CreepageTables, reference: Reference, answered: float
) -> list[dict[str, Any]]:
    """Return the creepage by rationalized voltage, where a mains supply has a nominal voltage of the tables.

    Parameters
    ----------
    question : Question
    path : Path
    tables : CreepageTables
    reference : Reference
    answered : float
        Creepage answered [m].
    """
    if "system_voltage" not in question or path.insulation == "functional":
        return []
    return [one.beside("creepage", answered) for one in _nominal(path, tables, reference)]


def _nominal(path: Path, tables: CreepageTables, reference: Reference) -> Iterator[Requirement]:
    for name, kind in (("f3a", "single-phase"), ("f3b", "three-phase")):
        table = reference.table(f"iec-60664-1-table-{name}")
        for row, printed in enumerate(table.text("nominal_printed")):
            if volts(path.working_voltage) not in _listed(printed):
                continue
            voltage = float(table["line_to_line"][row])
            ladder = tables.columns.get(path.column)
            if ladder is not None and ladder.covers(voltage):
                yield _by_row(path, tables, table, row, voltage, kind)


def _listed(printed: str) -> list[str]:
    """Return the line-to-line voltages of a printed cell, ``220, 230, 240`` or ``110-220, 120-240``, in words."""
    return [volts(float(part.split("-")[-1])) for part in printed.split(", ")]


def _by_row(path: Path, tables: CreepageTables, table: Table, row: int, voltage: float, kind: str) -> Requirement:
    found = tables.columns[path.column].step_up(voltage)
    grade = tables.rules["reinforced_creepage_factor"] if path.insulation == "reinforced" else 1.0
    printed = table.text("nominal_printed")[row]
    return Requirement(
        f"rationalized-{kind}",
        f"Between the lines of a {kind} supply of nominal {printed} V",
        found.value * grade,
        table,
        f"{table.source.table}: {printed} V is {volts(voltage)}; F.4: {found.row}",
        "rationalized voltage, no interpolation",
        f"{origin(table, row)} / {found.provenance}",
    )


def flashover(peak: float, reference: Reference) -> dict[str, Any]:
    """Return practice figures for flashover along a surface, as the distance at a peak voltage [V].

    Parameters
    ----------
    peak : float
    reference : Reference
    """
    table = reference.table("surface-flashover")
    rows = [
        row
        for row, item in enumerate(table.text("item"))
        if item.startswith(SURFACE_FIGURES) and np.isfinite(table["field"][row])
    ]
    figures = [_figure(table, row, peak) for row in rows]
    return {
        "peak_voltage": units.quantity(peak, "voltage"),
        "figures": figures,
        "source": source_block(table.source),
    }


def _figure(table: Table, row: int, peak: float) -> dict[str, Any]:
    field = float(table["field"][row])
    block: dict[str, Any] = {
        "item": table.text("item")[row],
        "field": units.quantity(field, "field"),
        "distance": distance(peak / field),
    }
    note = table.text("note")[row]
    return block | ({"note": note} if note else {}) | {"provenance": origin(table, row)}


def notes_of(question: Question, path: Path, surface: Surface, found: Sequence[Requirement], width: float) -> list[str]:
    """Return the sentences that belong to a creepage.

    Parameters
    ----------
    question : Question
    path : Path
    surface : Surface
    found : sequence of Requirement
    width : float
        Groove width X [m].
    """
    through_air = next((one for one in found if one.key == "clearance"), None)
    notes = [*surface.notes, SECTIONS, *_groove(width, through_air)]
    conditions = {
        NOT_ASKED: through_air is None,
        PEAK_ASSUMED: is_fast(path.frequency)
        and not any(name in question for name in ("peak_voltage", "recurring_peak_voltage")),
        FAST_BOARD: is_fast(path.frequency) and path.surface == PRINTED,
        "Group IIIb is not recommended at pollution degree 3 above 630 V (from memory).": path.group == "IIIb"
        and path.pollution_degree == 3
        and path.working_voltage > NOT_AT_DEGREE_3,
        "No reduced value for a rib is printed here; the full creepage stands.": path.ribbed
        and not any("reduced by a rib" in one.row for one in found),
        "The reduced value holds only for a rib of the form that the standard requires.": any(
            "reduced by a rib" in one.row for one in found
        ),
        "The outdoor site class is for high-voltage insulators in the open, not for equipment; it knows no grade of "
        "insulation.": path.site_class is not None,
        "Table F.4 ends below this voltage; only the outdoor site class remains.": path.site_class is not None
        and not any(one.key == "tracking" for one in found),
    }
    return notes + [sentence for sentence, holds in conditions.items() if holds]


def _groove(width: float, through_air: Requirement | None) -> Iterator[str]:
    yield f"A groove narrower than {millimetres(width)} is measured straight across."
    if through_air is not None and through_air.distance < REDUCIBLE_BELOW and through_air.distance / 3 < width:
        reduced = millimetres(round(through_air.distance / 3, 9))
        yield f"The clearance is below 3 mm: the groove width may be reduced to a third of it, {reduced}."
