"""/v1/clearance: the distance through air that insulation standards ask for, and what the air would hold there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np

from service.answers.evaluate import answered, evaluate
from service.answers.figure import Curve, Figure, Mark, PlotAxis, plotted
from service.answers.lookup import Answer, Lead, Least, Lookup, voltage
from service.answers.registry import Registry
from service.answers.situation import POWER_FREQUENCY, REFERENCE_HUMIDITY
from service.lookups.batch_distances import Distances
from service.methods import Case, FloatArray
from service.methods.case import same
from service.parameters import Question
from service.physics import atmosphere
from service.physics.atmosphere import REFERENCE_PRESSURE, REFERENCE_TEMPERATURE
from service.standards import clearance as rules
from service.standards.clearance import ClearanceTables
from service.standards.ladder import relation
from service.standards.requirement import (
    PLACE,
    VOLTAGES,
    ClearanceQuestion,
    Requirement,
    as_understood,
    asked_of,
    distance,
    doubts,
    echo,
    governing,
    in_words,
    measures,
    require_voltage,
)
from service.units import Quantity

RESULTS: Mapping[str, str] = {
    "clearance": "The largest of the requirements.",
    "governed_by": "Key of the requirement that asks for it.",
    "requirements": "Every requirement with table, row, rule and provenance.",
    "breakdown_at_clearance": "Breakdown voltage at that clearance and altitude, unknown electrodes and plates.",
    "temporary_overvoltages": "What the supply may show for seconds or longer, across solid insulation.",
}
CAUTIONS = ("not-a-barrier", "local-codes")
SILENT = "No method answers for electrodes={} at this clearance and pressure."
MARGIN = (
    "Breakdown is shown for alternating voltage, as peak, so that the margin is seen: unknown electrodes begin at what "
    "sharp points hold; burrs, moisture and dust beyond the pollution degree lower it."
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    tables = ClearanceTables.of(registry.reference)
    return Lookup(
        "clearance",
        "Clearance through air",
        "The distance through air that the insulation standards ask for, and what that distance of air would hold.",
        (*VOLTAGES, *PLACE),
        lambda question: answer(question, registry, tables),
        example="system_voltage=230V&overvoltage_category=III&pollution_degree=2&insulation=basic",
        one_of=(("system_voltage", "overvoltage_category"), ("impulse_voltage",), ("recurring_peak_voltage",)),
        results=RESULTS,
        keeps_question=True,
        many=partial(
            Distances,
            partial(least, tables=tables),
            ("clearance",),
            further=partial(unanswered, registry=registry),
        ),
    )


def _required(question: Question, tables: ClearanceTables) -> tuple[ClearanceQuestion, list[Requirement], list[str]]:
    """Return a question as understood, what it asks for, and what is to be said of that."""
    asked = asked_of(question)
    require_voltage(asked)
    found = rules.requirements(asked, tables)
    return asked, found, [MARGIN, *doubts(found), *rules.notes_of(asked, found)]


def least(question: Question, tables: ClearanceTables) -> Least:
    """Return what an answer says of the distance, without the rest of it."""
    asked, found, notes = _required(question, tables)
    largest = governing(found)
    rules.overvoltages(asked, tables)  # refuses what the answer does
    about = (largest.distance, pressure_of(asked), frequency_of(asked))
    return Least((largest.distance,), largest.key, notes, CAUTIONS, about)


def unanswered(gap: FloatArray, pressure: FloatArray, frequency: FloatArray, registry: Registry) -> list[str]:
    """Return the notes on what is not known of the air at many clearances."""
    case = _air(gap, pressure, frequency)
    there = {one.key: answered(one, case).all() for one in (registry.shapeless, registry.plates)}
    return [SILENT.format(key) for key, known in there.items() if not known]


def answer(question: Question, registry: Registry, tables: ClearanceTables) -> Answer:
    """Return the clearance with every requirement."""
    asked, found, notes = _required(question, tables)
    largest = governing(found)
    shown, silent = breakdown(asked, largest.distance, registry)
    results: dict[str, object] = {
        "clearance": distance(largest.distance),
        "governed_by": largest.key,
        "requirements": [each.block("clearance") for each in found],
    }
    results |= {"breakdown_at_clearance": shown} if shown else {}
    supply = rules.overvoltages(asked, tables)
    results |= {"temporary_overvoltages": supply} if supply else {}
    return Answer(
        "clearance",
        echo(as_understood(question), measures(question), surroundings(asked)),
        results,
        largest.method(),
        [each.beside("clearance", largest.distance) for each in rules.other_tables(asked, found, tables)],
        {"altitude_factor": rules.altitude_factor(asked.altitude, tables.altitude).value},
        [*notes, *silent],
        CAUTIONS,
        figure=partial(figure, asked, tables, found),
        lead=_lead(asked, largest),
    )


def _lead(asked: ClearanceQuestion, largest: Requirement) -> Lead:
    """Return what is read first: the clearance, and what asks for it."""
    far = in_words(largest.distance)
    sentence = (
        f"{asked.insulation.capitalize()} insulation at pollution degree {asked.pollution_degree}: at least {far} "
        f"through air, asked for by: {largest.title[:1].lower()}{largest.title[1:]}."
    )
    return Lead(sentence, "Clearance, at least", far, "not-a-barrier")


def pressure_of(asked: ClearanceQuestion) -> float:
    """Return the pressure at the altitude asked, or the default [Pa]."""
    if asked.altitude is None:
        return REFERENCE_PRESSURE
    found: float = relation(atmosphere.standard_pressure, atmosphere.has_standard_pressure, asked.altitude)
    return found


def frequency_of(asked: ClearanceQuestion) -> float:
    """Return the frequency asked, or that of the mains [Hz]."""
    return POWER_FREQUENCY if asked.frequency is None else asked.frequency


def surroundings(asked: ClearanceQuestion) -> dict[str, object]:
    """Return the air that a breakdown voltage is shown for, as answers show it."""
    return {
        "pressure": Quantity(pressure_of(asked), "pressure"),
        "temperature": Quantity(REFERENCE_TEMPERATURE, "temperature"),
        "absolute_humidity": Quantity(REFERENCE_HUMIDITY, "humidity"),
    }


def air_of(asked: ClearanceQuestion, gap: float) -> Case:
    """Return the air at the altitude asked, with a gap [m]."""
    return _air(*(np.array([number]) for number in (gap, pressure_of(asked), frequency_of(asked))))


def _air(gap: FloatArray, pressure: FloatArray, frequency: FloatArray) -> Case:
    temperature, humidity = (same(np.array([one]), gap.size) for one in (REFERENCE_TEMPERATURE, REFERENCE_HUMIDITY))
    return Case(gap, pressure, temperature, humidity, frequency)


def breakdown(asked: ClearanceQuestion, clearance: float, registry: Registry) -> tuple[dict[str, Quantity], list[str]]:
    """Return the breakdown voltage of a clearance [m] between unknown electrodes and plates, and what is not known."""
    case = air_of(asked, clearance)
    found = {one.key: evaluate(one, case) for one in (registry.shapeless, registry.plates)}
    shown = {key: voltage(*each.numbers()) for key, each in found.items() if each.answered[0]}
    silent = [key for key in found if key not in shown]
    return shown, [SILENT.format(key) for key in silent]


def figure(asked: ClearanceQuestion, tables: ClearanceTables, found: Sequence[Requirement]) -> Figure:
    """Return the picture: the columns of F.2 and F.7a, and what was read from them."""
    column, peak = tables.column(asked), tables.peak[asked.case]
    curves = tuple(
        Curve(label, plotted(ladder.arguments, "voltage"), plotted(ladder.values, "length"))
        for label, ladder in (("impulses (F.2)", column), ("stays or recurs (F.7a)", peak))
    )
    marks = tuple(mark for each in found for mark in _marks(each))
    return Figure(
        "Clearance and voltage",
        f"Clearances of IEC 60664-1 up to 2000 m, case {asked.case}, pollution degree {asked.pollution_degree}.",
        PlotAxis("Peak voltage", "kV"),
        PlotAxis("Clearance", "mm"),
        curves=curves,
        marks=marks,
    )


def _marks(of: Requirement) -> list[Mark]:
    peaks = [given.value for name, given in of.given.items() if name in ("impulse_voltage", "peak_voltage")]
    return [Mark(of.title, plotted([value], "voltage"), plotted([of.distance], "length")) for value in peaks]
