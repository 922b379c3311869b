"""/v1/approach: which distances published rules keep people at, largest first; it gives no permission."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from service.answers.lookup import Answer, Lead, Lookup
from service.answers.registry import Registry
from service.parameters import Parameter, Question
from service.reference import Reference, Table
from service.spoken import said, speak
from service.standards.approach_rules import (
    BOUNDARY_TABLES,
    LINES_TABLE,
    QUALIFIED,
    RULES,
    UNQUALIFIED,
    WHOM,
    WORKING_TABLE,
    Entry,
)
from service.standards.ladder import table_ends
from service.standards.requirement import echo, edition_parameter, volts, year_of
from service.units import ROUNDING

NOT_FOR = [
    (
        "Test benches, open set-ups and supplies that somebody built: these rules are for installed systems under the "
        "care of an employer."
    ),
    "Capacitors and anything that keeps a charge after switching off: see hazard.",
    (
        "Deciding that a spark cannot jump: the distances are for work at normal voltage, with the transients that "
        "their rules assume."
    ),
    "Any country or work that has rules of its own; those govern.",
]
RESULTS: Mapping[str, str] = {
    "distances": "Largest first, then what has no distance: distance or text, regulation, boundary, for_whom, row.",
    "not_for": "What these rules were not written for.",
}
ALTITUDE = "osha-1910-269-table-r5"


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "approach",
        "Approach distances in published rules",
        "Where published rules keep people around live parts of installed systems; it gives no permission.",
        (
            Parameter(
                "nominal_voltage",
                "voltage",
                "Nominal voltage, phase to phase rms, or direct.",
                required=True,
                example="13.8kV",
            ),
            Parameter("supply", "choice", "Kind of supply.", default="ac", choices=("ac", "dc")),
            Parameter(
                "person",
                "choice",
                "Whom the rules are asked for.",
                default=UNQUALIFIED,
                choices=(UNQUALIFIED, QUALIFIED),
            ),
            edition_parameter("Year whose editions of the rules are asked.", _years(registry.reference)),
        ),
        lambda question: answer(question, registry),
        example="nominal_voltage=13.8kV&supply=ac",
        keeps_question=True,
        single_values=False,
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the distances of published rules.

    Raises
    ------
    OutsideValidity
        Above the last row of every table.
    """
    voltage, supply, person = question.number("nominal_voltage"), question.key("supply"), question.key("person")
    reference = registry.reference
    year = year_of(question)
    ordered = named(voltage, supply, person, reference, year)
    return Answer(
        "approach",
        echo(question, {"nominal_voltage": "rms" if supply == "ac" else "direct"}),
        {"distances": ordered, "not_for": NOT_FOR},
        _method(ordered[0]),
        notes=_notes(voltage, supply, person, reference, ordered, year),
        cautions=("rules-first", "not-a-barrier", "local-codes"),
        first=("cautions",),
        lead=_lead(voltage, supply, ordered[0]),
    )


def named(voltage: float, supply: str, person: str, reference: Reference, year: int | None = None) -> list[Entry]:
    """Return what the rules name at a nominal voltage [V] for a person, the largest distance first.

    Raises
    ------
    OutsideValidity
        Above the last row of every table.
    """
    _check_range(voltage, supply, reference, year)
    whole = [entry for rule in RULES for entry in rule(voltage, supply, reference, year)]
    chosen = [entry for entry in whole if person == QUALIFIED or entry.person == UNQUALIFIED]
    return sorted(chosen, key=lambda entry: (entry.distance is None, -(entry.distance or 0.0)))


def _lead(voltage: float, supply: str, largest: Entry) -> Lead:
    """Return what is read first: the largest distance that a rule names, for whom, and that it permits nothing."""
    asked = f"{said(voltage, 'voltage')} {'AC' if supply == 'ac' else 'DC'}"
    label, caution = "Largest distance named", "rules-first"
    if largest.distance is None:
        return Lead(f"At {asked} these rules name no distance, only words: {largest.printed}.", label, "none", caution)
    far = str(speak(largest.distance, "length", toward="up"))
    who = WHOM[largest.person]
    printed = "" if largest.printed == far else f" ({largest.printed})"
    sentence = f"At {asked} these rules name up to {far}{printed}, for {who}; they give no permission."
    return Lead(sentence, label, far, caution)


def _method(largest: Entry) -> dict[str, object]:
    table = largest.table
    block: dict[str, object] = {"key": table.key, "title": table.title, "kind": "table"}
    validity = table.description.validity
    block |= {"validity": validity} if validity else {}
    return block | {"source": table.source.block(), "row": largest.row, "provenance": largest.provenance}


def _years(reference: Reference) -> list[float]:
    """Return the years in which an edition of the boundaries begins or ends to hold, newest first."""
    tables = [reference.table(key) for key in BOUNDARY_TABLES.values()]
    years = {year for table in tables for name in ("edition_from", "edition_to") for year in table[name]}
    # what is no number has no order, and would leave the others in that of the set
    return sorted((one for one in years if not math.isnan(one)), reverse=True)


def _last(reference: Reference, key: str, year: int | None) -> float | None:
    """Return the voltage at which a table ends in an edition [V]; nothing where it has no rows."""
    table = reference.table(key).as_of(year)
    return float(table["voltage_to"].max()) if len(table) else None


def last_named(supply: str, reference: Reference, year: int | None = None) -> float:
    """Return the nominal voltage at which the last table of a supply ends [V]."""
    keys = [BOUNDARY_TABLES[supply], *((WORKING_TABLE,) if supply == "ac" else ())]
    return max((end for key in keys if (end := _last(reference, key, year)) is not None), default=math.inf)


def _check_range(voltage: float, supply: str, reference: Reference, year: int | None) -> None:
    last = last_named(supply, reference, year)
    if voltage > last * (1 + ROUNDING):
        measure = "rms" if supply == "ac" else "direct"
        raise table_ends("nominal_voltage", f"The tables end at {volts(last)}.", "voltage", last, measure)


def _notes(
    voltage: float, supply: str, person: str, reference: Reference, entries: Sequence[Entry], year: int | None
) -> list[str]:
    notes = []
    if any(entry.distance is None for entry in entries):
        notes.append("'Avoid contact' and 'not specified' are not distances of zero: the rule only names none.")
    if person == QUALIFIED:
        notes.append(
            "A person counts as qualified only for the work, the voltage and the equipment that they were trained for."
        )
        if supply == "ac":
            notes.append(_altitude_note(reference.table(ALTITUDE)))
    asked = {BOUNDARY_TABLES[supply]: "The NFPA 70E table"}
    if supply == "ac" and person == QUALIFIED:
        asked = {LINES_TABLE: "Table S-5"} | asked
    for key, name in asked.items():
        last = _last(reference, key, year)
        if last is None:
            notes.append(f"{name} has no rows of that year here.")
        elif voltage > last * (1 + ROUNDING):
            notes.append(f"{name} ends at {volts(last)} and has no distance here.")
    if supply == "dc" and person == QUALIFIED:
        notes.append("The tables of 29 CFR 1910 for qualified persons are for alternating voltage and are not shown.")
    doubts = reference.table(BOUNDARY_TABLES[supply]).description.doubts
    return notes + ([f"NFPA 70E: {doubts}."] if doubts else [])


def _altitude_note(table: Table) -> str:
    start, end, factor = (table.text(name) for name in ("altitude_from", "altitude_to", "factor"))
    return (
        f"Tables R-6 and R-7 hold up to {end[0]} m; above, Table R-5 multiplies them, from {factor[1]} ({start[1]} to "
        f"{end[1]} m) to {factor[-1]} (up to {end[-1]} m), from memory."
    )
