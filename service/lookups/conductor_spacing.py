"""/v1/conductor-spacing: conductors on a board by IPC-2221, and what the clearance tables ask beside it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import NamedTuple

from service.answers.lookup import Answer, Lead, Least, Lookup
from service.answers.registry import Registry
from service.lookups.batch_distances import Distances
from service.parameters import Parameter, Question
from service.spoken import said
from service.standards import boards
from service.standards.boards import BARE, HIGH_ALTITUDE, PLACES, BoardTables
from service.standards.requirement import Requirement, distance, doubts, echo, governing, in_words, metres

GOVERNS = {
    "ipc-2221": (
        "Between conductors of one circuit on one board, where a design standard for boards is asked for and nothing "
        "that a person touches depends on the spacing."
    ),
    "iec-60664-1": (
        "Wherever the insulation separates mains or hazardous voltage from what a person can touch, and wherever a "
        "product standard names it; then with its grade, impulses and pollution degree: ask /v1/barrier."
    ),
    "both": "Where both apply, the larger.",
}
COATED = (
    "A coating improves the surroundings only: under one that was tested (IEC 60664-3, type 1), and on inner layers, "
    "the distances of pollution degree 1 stand beside it; under a varnish that was not tested those of the bare board. "
    "Only a coating or moulding tested as solid insulation (type 2) is more: ask /v1/barrier with protection."
)
WITHOUT_END = (
    "Table 6-1 prints a value per volt above 500 V without saying where it ends; nothing here shows that it holds at "
    "thousands of volts: look at the distances beside it."
)
NO_MORE = ", and no table beside it for more"
CAUTIONS = ("not-a-barrier", "local-codes")
RESULTS: Mapping[str, str] = {
    "spacing": "By IPC-2221 Table 6-1.",
    "requirements": "How it was read.",
    "beside": "What the clearance and creepage tables ask for the same voltage, functional insulation.",
    "governs_where": "Which of them governs where.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    tables = BoardTables.of(registry.reference)
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
        keeps_question=True,
        many=partial(Distances, partial(least, tables=tables), ("largest_spacing", "spacing")),
    )


class BoardSpacings(NamedTuple):
    """What tables ask for between conductors: the table of the place, the others beside it, and what is to be said."""

    found: list[Requirement]
    beside: list[Requirement]
    notes: list[str]

    @classmethod
    def of(cls, question: Question, tables: BoardTables) -> BoardSpacings:
        """Return the requirements of a question."""
        voltage, place, altitude = question.number("voltage"), question.key("place"), question.optional("altitude")
        found = boards.spacings(voltage, place, boards.is_high(altitude), tables.spacing)
        beside, silent = boards.other_distances(voltage, place, altitude, tables)
        return cls(found, beside, [*doubts([*found, *beside]), *_notes(found, place, voltage, altitude), *silent])


def least(question: Question, tables: BoardTables) -> Least:
    """Return what an answer says of the distances, the largest that any table asks for first."""
    required = BoardSpacings.of(question, tables)
    own = governing(required.found)
    most = governing([own, *required.beside])
    return Least((most.distance, own.distance), most.key, required.notes, CAUTIONS)


def answer(question: Question, tables: BoardTables) -> Answer:
    """Return the conductor spacing."""
    found, beside, notes = BoardSpacings.of(question, tables)
    largest = governing(found)
    results: dict[str, object] = {
        "spacing": distance(largest.distance),
        "requirements": [one.block("spacing") for one in found],
        "beside": [one.beside("spacing", largest.distance) for one in beside],
        "governs_where": [{"standard": key, "where": text} for key, text in GOVERNS.items()],
    }
    return Answer(
        "conductor-spacing",
        echo(question),
        results,
        largest.method(),
        [],
        {},
        notes,
        CAUTIONS,
        lead=_lead(question.number("voltage"), largest, beside),
    )


def _lead(voltage: float, board: Requirement, beside: list[Requirement]) -> Lead:
    """Return what is read first: the largest of what the tables ask for, since where several apply it governs."""
    most = governing([board, *beside])
    own, far = in_words(board.distance), in_words(most.distance)
    volts = f"{said(voltage, 'voltage')} (direct, or the peak of any other)"
    sentence = f"Conductors with {volts} between them: IPC-2221 asks for {own}"
    if most is board:
        rest = "; tables beside it end below this voltage" if any(one.ended for one in beside) else NO_MORE
        return Lead(f"{sentence}{rest}.", "Spacing, at least", own, "not-a-barrier")
    words = f"{most.title[:1].lower()}{most.title[1:]}"
    if most.ended:
        sentence += f", and a table beside it for {far} where it ends ({words}): where both apply, more than that."
        return Lead(sentence, "The tables ask for more than", far, "not-a-barrier")
    sentence += f", and a table beside it for {far} ({words}): where both apply, the larger."
    return Lead(sentence, "Largest that the tables ask for", far, "not-a-barrier")


def _notes(found: list[Requirement], place: str, voltage: float, altitude: float | None) -> list[str]:
    doubts = found[0].table.description.doubts
    conditions = {
        f"Table 6-1: {doubts}.": bool(doubts),
        COATED: place not in BARE,
        boards.NEIGHBOUR: len(found) > 1,
        WITHOUT_END: voltage > 500.0,
        f"No altitude was given: up to {metres(HIGH_ALTITUDE)} for this table, 2000 m for clearances.": altitude is None
        and place in BARE,
    }
    return [sentence for sentence, holds in conditions.items() if holds]
