"""The answer at one point: the gap that was asked, the result fields, the cautions."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import also_block, chosen_method, corrections_block, number, voltage
from service.answers.evaluate import Evaluation
from service.answers.lookup import Answer
from service.answers.registry import Registry
from service.answers.situation import Situation, one
from service.answers.withstand import withstand
from service.errors import BadQuestion
from service.methods import Case
from service.methods.scatter import scatter_note
from service.parameters import Parameter, Question

X_RAY_VOLTAGE = 5e3
"""Voltage above which X-rays are possible across a vacuum or very thin gas [V]; euratom-basic-safety-standards."""
FAST_FREQUENCY = 10e3
"""Frequency above which a current may burn before it is felt [Hz]; cautions are given above it."""


def asked_gap(question: Question, here: Situation) -> float:
    """Return the gap [m] that was given, or that follows from the dimensions.

    Raises
    ------
    BadQuestion
        When there is none, or two.
    """
    arrangement = here.arrangement
    if arrangement.gap_from is None:
        return question.number("gap")
    try:
        follows = float(arrangement.gap_from(here.case.dimensions)[0])
    except KeyError as missing:
        raise question.missing(str(missing.args[0])) from missing
    if "gap" in question:
        raise BadQuestion.about("gap", f"The gap of electrodes={arrangement.key} follows from its diameters.")
    if follows <= 0:
        raise BadQuestion.about("outer_diameter", "outer_diameter must be larger than inner_diameter.")
    return follows


def method_parameter(registry: Registry) -> Parameter:
    """Return the parameter that names the one method wanted."""
    return Parameter("method", "choice", "Answer by this method only.", choices=tuple(registry.methods))


def asked_method(question: Question, here: Situation) -> str | None:
    """Return the key of the one method that is wanted, or ``None``.

    Raises
    ------
    BadQuestion
        When it does not belong to the arrangement.
    """
    only = str(question.values["method"]) if "method" in question else None
    own = [method.key for method in here.arrangement.methods]
    if only is not None and only not in own:
        raise BadQuestion.about("method", f"method={only} does not belong to electrodes={here.arrangement.key}.", own)
    return only


def sized(here: Situation, gap: float) -> Case:
    """Return the situation's case at a gap [m]."""
    return replace(here.case, gap=one(gap))


def answer_of(evaluation: Evaluation, here: Situation, asked: dict[str, Any], registry: Registry) -> Answer:
    """Return the answer for the one element of an evaluation.

    Parameters
    ----------
    evaluation : Evaluation
    here : Situation
    asked : dict
        The echo.
    registry : Registry
    """
    chosen = evaluation.preferred()
    return Answer(
        "breakdown",
        asked,
        results(evaluation, registry),
        chosen_method(evaluation),
        also_block(evaluation),
        corrections_block(evaluation),
        [
            *here.notes,
            *here.arrangement.notes,
            *chosen.estimate.notes,
            *scatter_note(evaluation.case, registry.reference),
        ],
        point_cautions(evaluation),
        gas_cautions(evaluation.case, registry),
        title=f"Breakdown voltage, {here.arrangement.title.lower()}",
    )


def results(evaluation: Evaluation, registry: Registry, index: int = 0) -> dict[str, Any]:
    """Return the result fields at an element; fields that do not apply are absent."""
    value, low, high = (float(array[index]) for array in (evaluation.value, evaluation.low, evaluation.high))
    fields: dict[str, Any] = {"breakdown_voltage": voltage(value, low, high)}
    inception, eta = float(evaluation.inception[index]), float(evaluation.utilization[index])
    if math.isfinite(inception):
        fields["inception_voltage"] = voltage(inception)
    held = float(withstand(evaluation.case, evaluation.low, registry.reference)[index])
    if math.isfinite(held):
        fields["withstand_estimate"] = voltage(held)
    if math.isfinite(value):
        fields["mean_field"] = units.quantity(value / float(evaluation.case.gap[index]), "field")
    if math.isfinite(eta):
        fields["field_utilization_factor"] = number(eta)
    return fields


def point_cautions(evaluation: Evaluation) -> tuple[str, ...]:
    """Return the caution keys of a breakdown answer, or of many: those of any element that is answered."""
    case, answered = evaluation.case, evaluation.answered
    keys = ["estimate", "not-a-barrier"]
    few = [i for i, one in enumerate(evaluation.methods) if one.method.thin]
    thin = answered & np.isin(evaluation.choice, few)
    if (np.fmax(np.fmax(evaluation.high, evaluation.value), 0.0)[thin] > X_RAY_VOLTAGE).any():
        keys.append("x-rays")
    if (case.frequency[answered] > FAST_FREQUENCY).any():
        keys.append("fast-current")
    if case.gas == "air" and np.isfinite(evaluation.inception).any():
        keys.append("ozone")
    return tuple(keys)


def gas_cautions(case: Case, registry: Registry) -> tuple[str, ...]:
    """Return the keys of what the gas adds to the cautions."""
    return tuple(registry.gas_column("cautions")[case.gas].split())
