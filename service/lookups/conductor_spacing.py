"""/v1/conductor-spacing: conductors on a board by IPC-2221, and what the clearance tables ask beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.errors import OutsideValidity
from service.parameters import Parameter, Question
from service.reference import Table
from service.standards import clearance_rules
from service.standards.asking import distance, echo, millimetres
from service.standards.clearance_asked import Asked
from service.standards.clearance_tables import ClearanceTables, metres
from service.standards.creepage_rules import tracking
from service.standards.creepage_tables import PRINTED, CreepageTables, Path
from service.standards.reading import FINEST, SLACK, Found, origin, round_up, together
from service.standards.requirements import Requirement, governing

HIGH_ALTITUDE = 3050.0
"""Altitude above which bare outer conductors have a column of their own [m]; heading of Table 6-1."""
LOW_ALTITUDE_ONLY = "lead-uncoated"
"""Place whose column is printed for up to that altitude, without one above it; from memory."""
IN_AIR = ("external-uncoated", "lead-uncoated")
"""Places where air lies between the conductors, so that clearances apply."""
PLACES: Mapping[str, tuple[str, str]] = {
    "internal": ("internal", "B1, inside the board"),
    "external-uncoated": ("external_uncoated", "B2, outside, bare, up to 3050 m"),
    "external-coated": ("external_coated", "B4, outside, permanent polymer coating"),
    "assembly-coated": ("assembly_coated", "A5, outside, conformal coating over the assembly"),
    "lead-uncoated": ("lead_uncoated", "A6, component lead, bare"),
    "lead-coated": ("lead_coated", "A7, component lead, conformal coating"),
}
"""Place to column of Table 6-1 and its heading."""
ABOVE = ("external_uncoated_high", "B3, outside, bare, above 3050 m")
GOVERNS = {
    "ipc-2221": (
        "Between conductors of one circuit on one board, where a design standard for boards is asked for and nothing "
        "that a person touches depends on the spacing."
    ),
    "iec-60664-1": (
        "Wherever the insulation separates mains or hazardous voltage from what a person can touch, and wherever a "
        "product standard names it; then with its grade, impulses and pollution degree: ask clearance and creepage."
    ),
    "both": "Where both apply, the larger.",
}
NO_AIR = (
    "No air lies between these conductors as long as board and coating are whole: the clearance tables do not apply "
    "here; coatings have a standard of their own (IEC 60664-3), not in these tables."
)
RESULTS: Mapping[str, str] = {
    "spacing": "By IPC-2221 Table 6-1.",
    "requirements": "How it was read.",
    "beside": "What the clearance and creepage tables ask for the same voltage, functional insulation.",
    "governs_where": "Which of them governs where.",
}


@dataclass(frozen=True, eq=False)
class Tables:
    """The tables that a conductor spacing is read from."""

    spacing: Table
    air: ClearanceTables
    surface: CreepageTables


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    reference = registry.reference
    spacing = reference.table("ipc-2221-table-6-1")
    tables = Tables(spacing, ClearanceTables.of(reference), CreepageTables(reference))
    return Lookup(
        "conductor-spacing",
        "Conductor spacing on a board",
        "The spacing of conductors on a printed board by place, and what the clearance tables ask beside it.",
        (
            Parameter(
                "voltage",
                "voltage",
                "Voltage between the conductors, direct or peak.",
                required=True,
                example="600V",
            ),
            Parameter(
                "place",
                "choice",
                "Where the conductors lie.",
                choices=tuple(PLACES),
                required=True,
                example="external-uncoated",
            ),
            Parameter("altitude", "altitude", "Altitude above sea level.", example="3500m"),
        ),
        lambda question: answer(question, tables),
        example="voltage=600V&place=external-uncoated",
        results=RESULTS,
    )


def answer(question: Question, tables: Tables) -> Answer:
    """Return the conductor spacing.

    Parameters
    ----------
    question : Question
    tables : Tables

    Raises
    ------
    OutsideValidity
        When the altitude lies beyond the clearance tables, for bare conductors.
    """
    voltage, place, altitude = question.number("voltage"), question.key("place"), question.optional("altitude")
    asked = spacing(voltage, place, altitude, tables.spacing)
    beside, silent = _beside(voltage, place, altitude, tables)
    results: dict[str, Any] = {
        "spacing": distance(asked.distance),
        "requirements": [asked.block("spacing")],
        "beside": [one.beside("spacing", asked.distance) for one in beside],
        "governs_where": [{"standard": key, "where": text} for key, text in GOVERNS.items()],
    }
    return Answer(
        "conductor-spacing",
        echo(question),
        results,
        asked.method(),
        [],
        {},
        [*_notes(asked, place, altitude), *silent],
        ("not-a-barrier", "local-codes"),
        title="Conductor spacing on a board",
    )


def spacing(voltage: float, place: str, altitude: float | None, table: Table) -> Requirement:
    """Return the spacing of Table 6-1: its steps up to 500 V, its slope above.

    Parameters
    ----------
    voltage : float
        Direct or peak [V].
    place : str
        Key of `PLACES`.
    altitude : float or None
        [m].
    table : Table
        IPC-2221 Table 6-1.
    """
    high = altitude is not None and altitude > HIGH_ALTITUDE
    column, heading = ABOVE if high and place == "external-uncoated" else PLACES[place]
    steps = [row for row, slope in enumerate(table.flag("per_volt")) if not slope]
    row = next((row for row in steps if voltage <= table["voltage_to"][row] * (1 + SLACK)), steps[-1])
    found = _step(table, column, row)
    if voltage > table["voltage_to"][row] * (1 + SLACK):
        found = _slope(table, column, row, voltage)
    title = f"Column {heading}"
    return Requirement.of("board", title, found, table)


def _step(table: Table, column: str, row: int) -> Found:
    words = f"{table.text('voltage_printed')[row]} V"
    return Found(float(table[column][row]), words, "steps, no interpolation", origin(table, row))


def _slope(table: Table, column: str, row: int, voltage: float) -> Found:
    slope = int(table.flag("per_volt").argmax())
    base, per_volt = float(table[column][row]), float(table[column][slope])
    above = voltage - float(table["voltage_from"][slope])
    rule = f"{millimetres(base)} + {above:.6g} V x {table.text(column)[slope]} mm per V"
    value = round_up(base + above * per_volt, FINEST)
    words = f"{table.text('voltage_printed')[row]} V and the value per volt above"
    return Found(value, words, rule, together((origin(table, row), origin(table, slope))))


def _beside(voltage: float, place: str, altitude: float | None, tables: Tables) -> tuple[list[Requirement], list[str]]:
    if place not in IN_AIR:
        return [], [NO_AIR]
    asked = Asked(2, "functional", altitude=altitude, recurring_peak_voltage=voltage)
    on_board = place == "external-uncoated" and tables.surface.columns["pcb_pollution_2"].covers(voltage)
    path = Path(voltage, 2, "functional", "IIIa", PRINTED if on_board else "general")
    parts: tuple[tuple[str, Callable[[], Requirement]], ...] = (
        ("clearance", lambda: governing(clearance_rules.requirements(asked, tables.air))),
        ("creepage", lambda: next(tracking(path, tables.surface))),
    )
    found: list[Requirement] = []
    silent: list[str] = []
    for name, read in parts:
        try:
            found.append(_named(name, read()))
        except OutsideValidity as error:
            silent.append(f"No {name} beside it: {error.detail}")
    return found, silent


def _named(name: str, one: Requirement) -> Requirement:
    title = {
        "clearance": "Clearance for a voltage that stays or recurs, pollution degree 2",
        "creepage": "Creepage if that voltage stays as rms or direct voltage, pollution degree 2, group IIIa",
    }[name]
    return Requirement(name, title, one.distance, one.table, one.row, one.rule, one.provenance, one.given)


def _notes(asked: Requirement, place: str, altitude: float | None) -> list[str]:
    doubts = asked.table.description.doubts
    notes = [f"Table 6-1: {doubts}."] if doubts else []
    if place == LOW_ALTITUDE_ONLY and altitude is not None and altitude > HIGH_ALTITUDE:
        notes.append(
            "The column for bare leads is for sea level to 3050 m (from memory) and has no counterpart above: the "
            "clearance beside it, which knows the altitude, is the one to look at."
        )
    if altitude is None and place in IN_AIR:
        notes.append(f"No altitude was given: up to {metres(HIGH_ALTITUDE)} for this table, 2000 m for clearances.")
    return notes
