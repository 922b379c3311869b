"""/v1/approach: which distances published rules keep people at, largest first; it gives no permission."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.answers.blocks import source_block
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.guidance.asking import distance, echo, volts
from service.guidance.reading import SLACK, beyond, origin
from service.parameters import Parameter, Question
from service.reference import Reference, Table

UNQUALIFIED, QUALIFIED = "unqualified", "qualified"
WHOM: Mapping[str, str] = {
    UNQUALIFIED: "anyone without training for exactly this work, and everything that they hold or drive",
    QUALIFIED: "people trained and equipped for exactly this work, under their employer's rules",
}
TEXTS: Mapping[str, str] = {"avoid contact": "avoid contact", "n/s": "not specified"}
"""Printed cells without a distance, in words."""
BOUNDARIES: Sequence[tuple[str, str, str]] = (
    ("limited_movable", "limited approach boundary, exposed movable conductor", UNQUALIFIED),
    ("limited_fixed", "limited approach boundary, exposed fixed circuit part", UNQUALIFIED),
    ("restricted", "restricted approach boundary", QUALIFIED),
    ("prohibited", "prohibited approach boundary (withdrawn in 2015)", QUALIFIED),
)
"""Columns of the boundary tables, with whom each concerns."""
NOT_FOR = [
    "Test benches, open set-ups and supplies that somebody built: these rules are for installed systems under the care "
    "of an employer.",
    "Capacitors and anything that keeps a charge after switching off: see hazard.",
    "Deciding that a spark cannot jump: the distances are for work at normal voltage, with the transients that their "
    "rules assume.",
    "Any country or work that has rules of its own; those govern.",
]
RESULTS: Mapping[str, str] = {
    "distances": "Largest first, then what has no distance: distance or text, regulation, boundary, for_whom, row.",
    "not_for": "What these rules were not written for.",
}
ALTITUDE = "osha-1910-269-table-r5"


@dataclass(frozen=True)
class Entry:
    """A distance or text of a rule.

    Parameters
    ----------
    regulation, boundary : str
        Which rule, and what it is called there.
    person : str
        Whom it concerns.
    distance : float or None
        [m].
    printed : str
        As it stands in the table.
    table : Table
    row, rule, provenance : str
    """

    regulation: str
    boundary: str
    person: str
    distance: float | None
    printed: str
    table: Table
    row: str
    rule: str
    provenance: str

    def block(self) -> dict[str, Any]:
        """Return the entry as answers show it."""
        shown: dict[str, Any] = (
            {"text": TEXTS.get(self.printed, self.printed)}
            if self.distance is None
            else {"distance": distance(self.distance), "printed": self.printed}
        )
        return shown | {
            "regulation": self.regulation,
            "boundary": self.boundary,
            "for_whom": WHOM[self.person],
            "person": self.person,
            "table": self.table.key,
            "row": self.row,
            "rule": self.rule,
            "source": source_block(self.table.source),
            "provenance": self.provenance,
        }


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
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
        ),
        lambda question: answer(question, registry),
        example="nominal_voltage=13.8kV&supply=ac",
        single_values=False,
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the distances of published rules.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    OutsideValidity
        Above the last row of every table.
    """
    voltage, supply, person = question.number("nominal_voltage"), question.key("supply"), question.key("person")
    reference = registry.reference
    _check_range(voltage, supply, reference)
    whole = [entry for rule in RULES for entry in rule(voltage, supply, reference)]
    chosen = [entry for entry in whole if person == QUALIFIED or entry.person == UNQUALIFIED]
    ordered = sorted(chosen, key=lambda entry: (entry.distance is None, -(entry.distance or 0.0)))
    return Answer(
        "approach",
        echo(question, {"nominal_voltage": "rms" if supply == "ac" else "direct"}),
        {"distances": [entry.block() for entry in ordered], "not_for": NOT_FOR},
        _method(ordered[0]),
        notes=_notes(voltage, supply, person, reference, ordered),
        cautions=("rules-first", "not-a-barrier", "local-codes"),
        title="Approach distances in published rules",
        first=("cautions",),
    )


def _method(largest: Entry) -> dict[str, Any]:
    table = largest.table
    block: dict[str, Any] = {"key": table.key, "title": table.title, "kind": "table"}
    validity = table.description.validity
    block |= {"validity": validity} if validity else {}
    return block | {"source": source_block(table.source), "row": largest.row, "provenance": largest.provenance}


def overhead_lines(voltage: float, supply: str, reference: Reference) -> Iterator[Entry]:
    """Yield the distance for unqualified persons at overhead lines: a step for each started step of voltage above.

    Parameters
    ----------
    voltage : float
        Nominal [V], taken as the voltage to ground.
    supply : str
        The rule does not tell the kinds apart.
    reference : Reference
    """
    del supply
    table = reference.table("osha-1910-333-unqualified")
    base, limit = table.constant("distance"), table.constant("voltage")
    step, per = table.constant("step-distance"), table.constant("step-voltage")
    steps = max(0, math.ceil((voltage - limit) / per - SLACK))
    cells = {name: f"{table.row(name)['value']} {table.row(name)['unit']}" for name in ("distance", "step-distance")}
    printed = cells["distance"] + (f" + {steps} x {cells['step-distance']}" if steps else "")
    rule = (
        f"{cells['distance']} up to {volts(limit)} to ground, {cells['step-distance']} more for each started "
        f"{volts(per)} above; the nominal voltage is taken as that to ground"
    )
    yield Entry(
        "29 CFR 1910.333(c)(3)(i)",
        "distance to overhead lines",
        UNQUALIFIED,
        base + steps * step,
        printed,
        table,
        f"up to {volts(limit)}" if not steps else f"{steps} steps above {volts(limit)}",
        rule,
        table.provenance[0],
    )


def boundaries(voltage: float, supply: str, reference: Reference) -> Iterator[Entry]:
    """Yield the boundaries of NFPA 70E for the kind of supply.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        ``ac`` or ``dc``.
    reference : Reference
    """
    table = reference.table(f"nfpa-70e-{supply}")
    row = _row(voltage, table)
    if row is None:
        return
    for column, boundary, person in BOUNDARIES:
        yield _entry(table, row, column, f"{column}_printed", "NFPA 70E, generation of 2009 and 2012", boundary, person)


def qualified_lines(voltage: float, supply: str, reference: Reference) -> Iterator[Entry]:
    """Yield the distance of Table S-5, alternating voltage, qualified persons.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        Nothing for ``dc``.
    reference : Reference
    """
    table = reference.table("osha-1910-333-table-s5")
    row = _row(voltage, table)
    if supply != "ac" or row is None:
        return
    regulation, boundary = "29 CFR 1910.333(c)(3)(ii), Table S-5", "approach distance, overhead lines"
    yield _entry(table, row, "distance", "distance_printed", regulation, boundary, QUALIFIED)


def minimum_distances(voltage: float, supply: str, reference: Reference) -> Iterator[Entry]:
    """Yield the distances of Tables R-6 and R-7, alternating voltage, qualified persons.

    Parameters
    ----------
    voltage : float
        Nominal [V].
    supply : str
        Nothing for ``dc``.
    reference : Reference
    """
    table = reference.table("osha-1910-269-table-r6-r7")
    row = _row(voltage, table)
    if supply != "ac" or row is None:
        return
    regulation = f"29 CFR 1910.269, Table {table.text('table')[row]}"
    for column, words in (("phase_to_ground", "phase to ground"), ("phase_to_phase", "phase to phase")):
        yield _entry(table, row, column, column, regulation, f"minimum approach distance, {words}", QUALIFIED)


RULES: tuple[Callable[[float, str, Reference], Iterator[Entry]], ...] = (
    overhead_lines,
    boundaries,
    qualified_lines,
    minimum_distances,
)


def _row(voltage: float, table: Table) -> int | None:
    """Return the first row that reaches the voltage; between printed rows the next one, below the first none."""
    for row, (last, printed) in enumerate(zip(table["voltage_to"], table.text("voltage_printed"), strict=True)):
        open_end = printed.startswith("<")
        if voltage < last * (1 - SLACK) or (not open_end and voltage <= last * (1 + SLACK)):
            return row if row or voltage >= table["voltage_from"][0] * (1 - SLACK) else None
    return None


def _entry(table: Table, row: int, column: str, printed: str, regulation: str, boundary: str, person: str) -> Entry:
    value = float(table[column][row])
    text = table.text(printed)[row]
    metric = printed == column
    return Entry(
        regulation,
        boundary,
        person,
        None if np.isnan(value) else value,
        f"{text} m" if metric and not np.isnan(value) else text,
        table,
        _with_unit(table.text("voltage_printed")[row], metric=metric),
        "row as printed; between rows the next one",
        origin(table, row),
    )


def _with_unit(printed: str, *, metric: bool) -> str:
    if metric:
        return f"{printed} kV"
    return printed if printed.endswith("V") else f"{printed} V"


def _check_range(voltage: float, supply: str, reference: Reference) -> None:
    keys = [f"nfpa-70e-{supply}", *(("osha-1910-269-table-r6-r7",) if supply == "ac" else ())]
    last = max(float(reference.table(key)["voltage_to"][-1]) for key in keys)
    if voltage > last * (1 + SLACK):
        measure = "rms" if supply == "ac" else "direct"
        raise beyond("nominal_voltage", f"The tables end at {volts(last)}.", "voltage", last, measure)


def _notes(voltage: float, supply: str, person: str, reference: Reference, entries: Sequence[Entry]) -> list[str]:
    notes = []
    if any(entry.distance is None for entry in entries):
        notes.append("'Avoid contact' and 'not specified' are not distances of zero: the rule only names none.")
    if person == QUALIFIED:
        notes.append(
            "A person counts as qualified only for the work, the voltage and the equipment that they were trained for."
        )
        if supply == "ac":
            notes.append(_altitude_note(reference.table(ALTITUDE)))
    ends = {"osha-1910-333-table-s5": "Table S-5", f"nfpa-70e-{supply}": "The NFPA 70E table"}
    for key, name in ends.items():
        last = float(reference.table(key)["voltage_to"][-1])
        asked = key.startswith("nfpa") or (supply == "ac" and person == QUALIFIED)
        if voltage > last * (1 + SLACK) and asked:
            notes.append(f"{name} ends at {volts(last)} and has no distance here.")
    if supply == "dc" and person == QUALIFIED:
        notes.append("The tables of 29 CFR 1910 for qualified persons are for alternating voltage and are not shown.")
    doubts = reference.table(f"nfpa-70e-{supply}").description.doubts
    return notes + ([f"NFPA 70E: {doubts}."] if doubts else [])


def _altitude_note(table: Table) -> str:
    start, end, factor = (table.text(name) for name in ("altitude_from", "altitude_to", "factor"))
    return (
        f"Tables R-6 and R-7 hold up to {end[0]} m; above, Table R-5 multiplies them, from {factor[1]} ({start[1]} to "
        f"{end[1]} m) to {factor[-1]} (up to {end[-1]} m), from memory."
    )
