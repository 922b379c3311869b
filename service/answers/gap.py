"""/v1/gap: how far apart, or how near, for a voltage; every branch."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers import branches
from service.answers.branch_blocks import Manner, beside, results, searched
from service.answers.lookup import Answer, Lookup
from service.answers.measure import MEASURE, Reading, asked_voltage, readings
from service.answers.outside import refusal
from service.answers.point import asked_method, gas_cautions, method_parameter
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, FRACTION, Situation, electrode_parameters, gas_parameter, situation
from service.answers.waveform import WAVEFORM
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
MANNER = Manner(
    "length",
    "gap",
    "pressure",
    "On the left branch longer paths break first: a smaller gap does not protect, the spark takes a longer way round.",
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
    many = replace(case, gap=gaps) if case.size == gaps.size else case.with_gap(gaps)
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
        method_parameter(registry),
    )
    return Lookup(
        "gap",
        "Gap for a voltage",
        "The gaps that a voltage jumps, and the gap beyond which it does not, on every branch.",
        parameters,
        lambda question: answer(question, registry),
        example="voltage=12kV",
        results={
            "gaps": "One per branch: value, low, high, unit, branch, method, sparks_below, holds_above (mm).",
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
    check_sizes(question, here)
    only = asked_method(question, here)
    curves = registry.kept_curves((here, only), lambda: Curves(here.arrangement, here.case, only))
    _require_some(curves)
    given = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    found = searched(curves, given)
    asked = here.echo({"voltage": asked_voltage(question), "measure": question.key("measure")})
    if "measure" in question.assumed:
        asked["assumed"] = ["measure", *asked["assumed"]]
    if only is not None:
        asked["method"] = only
    said = beside(curves, found, MANNER)
    return Answer(
        "gap",
        asked,
        results(curves, given, found, MANNER, _block),
        said.method,
        said.also,
        said.corrections,
        [*here.notes, *here.arrangement.notes, *said.notes],
        ("estimate", "which-end", "not-a-barrier", *said.cautions),
        gas_cautions(here.case, registry),
        title=f"Gap for a voltage, {here.arrangement.title.lower()}",
    )


def check_sizes(question: Question, here: Situation) -> None:
    """Refuse the outer diameter where the gap fixes it, and a missing inner one.

    Parameters
    ----------
    question : Question
    here : Situation

    Raises
    ------
    BadQuestion
        When a diameter is given that follows, or one is missing.
    """
    if here.arrangement.completes is None:
        return
    if "outer_diameter" in question:
        detail = "The outer diameter follows from the gap here; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    question.number("inner_diameter")


def _require_some(curves: Curves) -> None:
    if not curves.on_grid.answered.any():
        raise refusal(curves.arrangement, case_at(curves.arrangement, curves.case, np.array([1e-2])), curves.only)


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
    return results(curves, [reading], [branches.reached(curves, reading)], MANNER, _block)


def _block(curves: branches.Curves, name: str, found: branches.Ends) -> dict[str, Any]:
    block = units.quantity(found.value, "length", low=found.low, high=found.high) | {"branch": name}
    if name == "right":
        ends = {"sparks_below": found.low, "holds_above": found.high}
        block |= {key: units.shown(end, "length") for key, end in ends.items() if end is not None}
        block |= _outer(curves, found.value if found.value is not None else found.high)
    return block


def _outer(curves: branches.Curves, gap: float | None) -> dict[str, Any]:
    if curves.arrangement.completes is None or gap is None:
        return {}
    case = case_at(curves.arrangement, curves.case, np.array([gap]))
    return {"outer_diameter": units.quantity(float(case.dimensions["outer_diameter"][0]), "length")}
