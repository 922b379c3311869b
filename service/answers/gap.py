"""/v1/gap: how far apart, or how near, for a voltage; every branch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers import branches
from service.answers.blocks import also_block, chosen_method, corrections_block, voltage
from service.answers.lookup import Answer, Lookup
from service.answers.measure import MEASURE, Reading, asked_voltage, readings
from service.answers.outside import refusal
from service.answers.point import gas_cautions, point_cautions
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

SMALLEST_GAP, LARGEST_GAP = 1e-8, 100.0
"""Range that is searched [m]; methods end well within it."""

VOLTAGE = Parameter(
    "voltage",
    "voltage",
    "The voltage, read as measure says.",
    required=True,
    measured=True,
    example="12kV",
    high=1e8,
)
LEFT_NOTE = (
    "On the left branch longer paths break first: a smaller gap does not protect, the spark takes a longer way round."
)


class Curves(branches.Curves):
    """Value and band of a situation over the gap.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        Of one element.
    only : str, optional
        Key of the one method wanted.
    """

    def __init__(self, arrangement: Arrangement, case: Case, only: str | None = None) -> None:
        super().__init__(arrangement, case, only, case_at, (SMALLEST_GAP, LARGEST_GAP))


def case_at(arrangement: Arrangement, case: Case, gaps: FloatArray) -> Case:
    """Return a case of one element at many gaps [m], with the dimensions that the gap fixes."""
    many = case.with_gap(gaps)
    if arrangement.completes is None:
        return many
    return replace(many, dimensions=dict(arrangement.completes(many.dimensions, gaps)))


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    parameters = (
        VOLTAGE,
        MEASURE,
        *electrode_parameters(registry),
        gas_parameter(registry),
        FRACTION,
        *ATMOSPHERE,
        *WAVEFORM,
        Parameter("method", "choice", "Answer by this method only.", choices=tuple(registry.methods)),
    )
    return Lookup(
        "gap",
        "Gap for a voltage",
        "The gaps that a voltage jumps, and the gap beyond which it does not, on every branch.",
        parameters,
        lambda question: answer(question, registry),
        example="voltage=12kV",
        results={
            "gaps": "One per branch: value, low, high, unit, branch, sparks_below, holds_above (mm).",
            "smallest_breakdown_voltage": "Where nothing breaks down: the lowest voltage that would.",
            "readings": "With measure=unknown: the gaps for each reading.",
        },
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the gaps for a voltage.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = situation(question, registry)
    _check_sizes(question, here)
    only = str(question.values["method"]) if "method" in question else None
    curves = Curves(here.arrangement, here.case, only)
    _require_some(curves, question)
    given = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    asked = here.echo({"voltage": asked_voltage(question), "measure": question.key("measure")})
    if "measure" in question.assumed:
        asked["assumed"] = ["measure", *asked["assumed"]]
    found = [gaps_of(curves, reading) for reading in given]
    results = found[0] if len(found) == 1 else _per_reading(given, found)
    return _answer(curves, here, asked, results, registry)


def _check_sizes(question: Question, here: Situation) -> None:
    if here.arrangement.completes is None:
        return
    if "outer_diameter" in question:
        detail = "In /v1/gap the outer diameter is answered; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    question.number("inner_diameter")


def _require_some(curves: Curves, question: Question) -> None:
    if not curves.on_grid.answered.any():
        middle = case_at(curves.arrangement, curves.case, np.array([1e-2]))
        error = refusal(curves.arrangement, middle, curves.only)
        raise error


def gaps_of(curves: branches.Curves, reading: Reading) -> dict[str, Any]:
    """Return the result fields for one reading of the voltage.

    Parameters
    ----------
    curves : Curves
    reading : Reading

    Raises
    ------
    OutsideValidity
        When the voltage is higher than any method reaches.
    """
    left, right = branches.left(curves, reading), branches.right(curves, reading)
    blocks = [_estimate(left) | {"branch": "left"}] if left else []
    if right:
        blocks.append(_right_block(curves, right))
    if blocks:
        return {"gaps": blocks}
    branches.refuse_beyond(curves, reading)
    return {"gaps": [], "smallest_breakdown_voltage": voltage(*curves.smallest)}


def _right_block(curves: branches.Curves, found: branches.Ends) -> dict[str, Any]:
    block = _estimate(found) | {"branch": "right"}
    ends = {"sparks_below": found.low, "holds_above": found.high}
    block |= {name: units.shown(end, "length") for name, end in ends.items() if end is not None}
    return block | _outer(curves, found.value if found.value is not None else found.high)


def _estimate(found: branches.Ends) -> dict[str, Any]:
    return units.quantity(found.value, "length", low=found.low, high=found.high)


def _outer(curves: branches.Curves, gap: float | None) -> dict[str, Any]:
    if curves.arrangement.completes is None or gap is None:
        return {}
    case = case_at(curves.arrangement, curves.case, np.array([gap]))
    return {"outer_diameter": units.quantity(float(case.dimensions["outer_diameter"][0]), "length")}


def _per_reading(given: tuple[Reading, ...], found: list[dict[str, Any]]) -> dict[str, Any]:
    peaks = [voltage(reading.high if reading.sharp else np.nan, reading.low, reading.high) for reading in given]
    pairs = zip(given, peaks, found, strict=True)
    return {"readings": [{"measure": one.measure, "peak_voltage": peak, **fields} for one, peak, fields in pairs]}


def _answer(
    curves: Curves, here: Situation, asked: dict[str, Any], results: Mapping[str, Any], registry: Registry
) -> Answer:
    at = _answered_gap(results) or float(curves.grid[curves.lowest])
    evaluation = curves.at(np.array([at]), every=True)
    if not evaluation.answered[0]:
        evaluation = curves.at(curves.grid[curves.lowest : curves.lowest + 1], every=True)
    chosen = evaluation.preferred()
    notes = [*here.notes, *here.arrangement.notes, *chosen.estimate.notes]
    if any(gap["branch"] == "left" for gap in results.get("gaps", ())):
        notes.append(LEFT_NOTE)
    if not results.get("gaps", [True]):
        notes.append("At this pressure no gap of this arrangement breaks down at so low a voltage.")
    keys = ("estimate", "which-end", "not-a-barrier", *point_cautions(evaluation))
    return Answer(
        "gap",
        asked,
        results,
        chosen_method(evaluation),
        also_block(evaluation),
        corrections_block(evaluation),
        notes,
        keys,
        gas_cautions(evaluation.case, registry),
        title=f"Gap for a voltage, {here.arrangement.title.lower()}",
    )


def _answered_gap(results: Mapping[str, Any]) -> float | None:
    per_reading = (one["gaps"] for one in results.get("readings", ()) if one.get("gaps"))
    blocks: list[Any] = results.get("gaps") or next(per_reading, [])
    if not blocks:
        return None
    last = blocks[-1]
    shown = next((last[name] for name in ("value", "high", "low") if last.get(name) is not None), None)
    return None if shown is None else units.to_si(shown, last["unit"], "length")
