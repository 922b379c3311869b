"""/v1/pressure: at which pressures a gap breaks down at a voltage; both branches."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers import branches
from service.answers.blocks import also_block, chosen_method, voltage
from service.answers.lookup import Answer, Lookup
from service.answers.measure import MEASURE, asked_voltage, readings
from service.answers.outside import refusal
from service.answers.point import asked_gap, gas_cautions, point_cautions, sized
from service.answers.registry import Registry
from service.answers.situation import (
    ATMOSPHERE,
    FRACTION,
    WAVEFORM,
    Situation,
    electrode_parameters,
    gas_parameter,
    situation,
)
from service.electrodes import Arrangement, Case, FloatArray
from service.errors import BadQuestion
from service.parameters import Parameter, Question

SMALLEST_PRESSURE, LARGEST_PRESSURE = 1e-3, 1e7
"""Range that is searched [Pa]; methods end well within it."""

LEFT_NOTE = "On the left branch less pressure holds more; longer paths than the gap then break first."
FIXED = ("pressure", "altitude")
"""What is answered here, and hence not asked."""


def case_at(arrangement: Arrangement, case: Case, pressures: FloatArray) -> Case:
    """Return a case of one element at many pressures [Pa]."""
    del arrangement  # the same for every arrangement
    return replace(case.repeated(pressures.size), pressure=pressures)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    air = tuple(p for p in ATMOSPHERE if p.name not in FIXED)
    parameters = (
        Parameter("voltage", "voltage", "The voltage, read as measure says.", required=True, example="1kV", high=1e8),
        MEASURE,
        Parameter("gap", "length", "Shortest distance between the electrodes.", example="10mm", low=1e-9, high=1e3),
        *electrode_parameters(registry, None),
        gas_parameter(registry),
        FRACTION,
        *air,
        *WAVEFORM,
        Parameter("method", "choice", "Answer by this method only.", choices=tuple(registry.methods)),
    )
    return Lookup(
        "pressure",
        "Pressure for a voltage",
        "The pressures at which a gap breaks down at a voltage, on both branches.",
        parameters,
        lambda question: answer(question, registry),
        example="voltage=1kV&gap=10mm&electrodes=uniform-field",
        results={
            "pressures": "One per branch: value, low, high, unit, branch.",
            "smallest_breakdown_voltage": "Where nothing breaks down: the lowest voltage that would.",
        },
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the pressures for a voltage.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    BadQuestion
        When the measure is not one voltage.
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = _surroundings(question, registry)
    gap = asked_gap(question, here)
    only = str(question.values["method"]) if "method" in question else None
    curves = branches.Curves(here.arrangement, sized(here, gap), only, case_at, (SMALLEST_PRESSURE, LARGEST_PRESSURE))
    if not curves.on_grid.answered.any():
        raise refusal(here.arrangement, sized(here, gap), only)
    [reading, *more] = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    if more or not reading.sharp:
        raise BadQuestion.about("measure", "Pressures need a measure that is one voltage.", ("peak", "rms"))
    pairs = (("left", branches.left(curves, reading)), ("right", branches.right(curves, reading)))
    found = [_block(ends) | {"branch": name} for name, ends in pairs if ends]
    results: dict[str, Any] = {"pressures": found}
    if not found:
        branches.refuse_beyond(curves, reading)
        results["smallest_breakdown_voltage"] = voltage(*curves.smallest)
    return _answer(question, here, curves, gap, results, registry)


def _surroundings(question: Question, registry: Registry) -> Situation:
    """Return the situation; the pressure, which is answered, is taken at its default and not echoed."""
    values = {**question.values, "pressure": 101300.0}
    here = situation(replace(question, values=values, assumed=question.assumed | {"pressure"}), registry)
    asked = {name: block for name, block in here.asked.items() if name != "pressure"}
    return replace(here, asked=asked)


def _block(ends: branches.Ends) -> dict[str, Any]:
    return units.quantity(ends.value, "pressure", low=ends.low, high=ends.high)


def _answer(
    question: Question,
    here: Situation,
    curves: branches.Curves,
    gap: float,
    results: dict[str, Any],
    registry: Registry,
) -> Answer:
    last = results["pressures"][-1] if results["pressures"] else {}
    shown = next((last[name] for name in ("value", "low", "high") if last.get(name) is not None), None)
    at = curves.grid[curves.lowest] if shown is None else units.to_si(shown, last["unit"], "pressure")
    evaluation = curves.at(np.array([float(at)]), every=True)
    asked = here.echo(
        {
            "voltage": asked_voltage(question),
            "measure": question.key("measure"),
            "gap": units.quantity(gap, "length"),
        }
    )
    if "measure" in question.assumed:
        asked["assumed"] = ["measure", *asked["assumed"]]
    notes = [*here.notes, *here.arrangement.notes]
    notes += evaluation.preferred().estimate.notes if evaluation.answered[0] else ()
    if any(one["branch"] == "left" for one in results["pressures"]):
        notes.append(LEFT_NOTE)
    keys = ("estimate", *(point_cautions(evaluation) if evaluation.answered[0] else ()))
    return Answer(
        "pressure",
        asked,
        results,
        chosen_method(evaluation) if evaluation.answered[0] else None,
        also_block(evaluation) if evaluation.answered[0] else [],
        {},
        notes,
        keys,
        gas_cautions(here.case, registry),
        title=f"Pressure for a voltage, {here.arrangement.title.lower()}",
    )
