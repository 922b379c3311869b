"""/v1/clearance: the distance through air that insulation standards ask for, and what the air would hold there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from service import units
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.answers.situation import REFERENCE_HUMIDITY
from service.parameters import Question
from service.standards.asking import distance, echo, volts
from service.standards.clearance_asked import PLACE, VOLTAGES, Asked, asked_of, require_voltage
from service.standards.clearance_beside import TEMPERATURE, Beside, breakdown, figure, overvoltages, pressure_of
from service.standards.clearance_rules import altitude_factor, requirements
from service.standards.clearance_tables import ClearanceTables
from service.standards.reading import FINEST, round_up
from service.standards.requirements import Requirement, governing

MEASURES: Mapping[str, str] = {"system_voltage": "rms"}
ALTERNATING_TO = 1000.0
"""Highest system voltage of Table F.1 for alternating supplies [V]; the rows above are for direct voltage only."""
RESULTS: Mapping[str, str] = {
    "clearance": "The largest of the requirements.",
    "governed_by": "Key of the requirement that asks for it.",
    "requirements": "Every requirement with table, row, rule and provenance.",
    "breakdown_at_clearance": "Breakdown voltage at that clearance and altitude, unknown electrodes and plates.",
    "temporary_overvoltages": "What the supply may show for seconds or longer; beside the requirements.",
}
IMPULSE_TEST = (
    "Homogeneous field (case B): a clearance below that of case A must be verified by an impulse voltage test on the "
    "finished article; it asks for rounded electrodes, their radius at least a fifth of the clearance."
)
MARGIN = (
    "Breakdown is shown for alternating voltage, as peak, so that the margin is seen: unknown electrodes begin at what "
    "sharp points hold; burrs, moisture and dust beyond the pollution degree lower it."
)
GIVEN_IMPULSE = (
    "impulse_voltage is taken as the impulse of a circuit that no mains category fixes, so rows may be interpolated; "
    "for the mains give system_voltage and overvoltage_category."
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    tables = ClearanceTables.of(registry.reference)
    beside = Beside(registry.reference, tables)
    return Lookup(
        "clearance",
        "Clearance through air",
        "The distance through air that the insulation standards ask for, and what that distance of air would hold.",
        (*VOLTAGES, *PLACE),
        lambda question: answer(question, registry, tables, beside),
        example="system_voltage=230V&overvoltage_category=III&pollution_degree=2&insulation=basic",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry, tables: ClearanceTables, beside: Beside) -> Answer:
    """Return the clearance with every requirement.

    Parameters
    ----------
    question : Question
    registry : Registry
    tables : ClearanceTables
    beside : Beside

    Raises
    ------
    BadQuestion
        When no voltage is given, or parameters contradict or need each other.
    OutsideValidity
        When a voltage, frequency or altitude lies beyond its table.
    """
    asked = asked_of(question)
    require_voltage(asked)
    found = requirements(asked, tables)
    largest = governing(found)
    shown, silent = breakdown(asked, largest.distance, registry)
    results: dict[str, Any] = {
        "clearance": distance(largest.distance),
        "governed_by": largest.key,
        "requirements": [one.block("clearance") for one in found],
    }
    results |= {"breakdown_at_clearance": shown} if shown else {}
    supply = overvoltages(asked, registry.reference.table("iec-60664-1-rules"))
    results |= {"temporary_overvoltages": supply} if supply else {}
    factor = altitude_factor(asked.altitude, tables.altitude).value
    notes = [*_notes(asked), *silent]
    return Answer(
        "clearance",
        echo(question, MEASURES, _surroundings(asked)),
        results,
        largest.method(),
        [_at_altitude(one, factor).beside("clearance", largest.distance) for one in beside.requirements(asked, found)],
        {"altitude_factor": factor},
        notes,
        ("not-a-barrier", "local-codes"),
        title="Clearance through air",
        figure=partial(figure, asked, tables, found, tuple(notes)),
    )


def _at_altitude(one: Requirement, factor: float) -> Requirement:
    if factor <= 1.0:
        return one
    return replace(
        one, distance=round_up(one.distance * factor, FINEST), rule=f"{one.rule}; x {factor:.6g} for altitude"
    )


def _surroundings(asked: Asked) -> dict[str, Any]:
    return {
        "pressure": units.quantity(pressure_of(asked), "pressure"),
        "temperature": units.quantity(TEMPERATURE, "temperature"),
        "absolute_humidity": units.quantity(REFERENCE_HUMIDITY, "humidity"),
    }


def _notes(asked: Asked) -> list[str]:
    notes = [MARGIN]
    if asked.homogeneous:
        notes.append(IMPULSE_TEST)
    if asked.impulse_voltage is not None:
        notes.append(GIVEN_IMPULSE)
    if asked.system_voltage is not None:
        notes.append(
            "Temporary overvoltages of the supply stand beside the requirements; to dimension the air for one, give "
            "its peak as recurring_peak_voltage."
        )
        if asked.system_voltage > ALTERNATING_TO:
            notes.append(
                f"Above {volts(ALTERNATING_TO)} the rows of Table F.1 are for direct voltage only (edition of 2020, "
                "from memory, doubtful)."
            )
    if asked.altitude is None:
        notes.append(
            "No altitude was given: the clearance holds up to 2000 m; what the air would hold is shown at 101.3 kPa."
        )
    return notes
