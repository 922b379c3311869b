"""The answer at one point: the gap that was asked, the result fields, the cautions."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from service.answers.blocks import finite_or_none, voltage
from service.answers.document import Shown
from service.answers.echo import Echo
from service.answers.evaluate import Evaluation
from service.answers.lookup import Answer
from service.answers.registry import Registry
from service.answers.situation import Situation, one
from service.errors import BadQuestion
from service.methods import Case
from service.methods.method import single
from service.methods.withstand import scatter_note, withstand
from service.parameters import Parameter, Question
from service.units import Quantity

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
    if here.arrangement.gap_from is None:
        return question.number("gap")
    follows = gap_that_follows(question, here)
    if follows <= 0:
        raise BadQuestion.about("outer_diameter", "outer_diameter must be larger than inner_diameter.")
    return follows


def gap_that_follows(question: Question, here: Situation) -> float:
    """Return the gap [m] that follows from the dimensions of an arrangement whose sizes fix it.

    Raises
    ------
    BadQuestion
        When a dimension is missing, or a gap is given beside them.
    """
    arrangement = here.arrangement
    assert arrangement.gap_from is not None
    try:
        follows = float(arrangement.gap_from(here.case.dimensions)[0])
    except KeyError as missing:
        raise question.missing(str(missing.args[0])) from missing
    if "gap" in question:
        raise BadQuestion.about("gap", f"The gap of electrodes={arrangement.key} follows from its diameters.")
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
    if "method" not in question:
        return None
    only, own = question.key("method"), [method.key for method in here.arrangement.methods]
    if only not in own:
        raise BadQuestion.about("method", f"method={only} does not belong to electrodes={here.arrangement.key}.", own)
    return only


def sized(here: Situation, gap: float) -> Case:
    """Return the situation's case at a gap [m]."""
    return replace(here.case, gap=one(gap))


def answer_of(evaluation: Evaluation, here: Situation, asked: Echo, registry: Registry) -> Answer:
    """Return the answer for the one element of an evaluation."""
    return Answer.at(
        "breakdown",
        here,
        asked,
        Point.of(evaluation, registry).block(),
        [evaluation],
        registry,
        notes=scatter_note(evaluation.case, registry.reference),
        cautions=point_cautions(evaluation),
        title=f"Breakdown voltage, {here.arrangement.title.lower()}",
    )


@dataclass(frozen=True)
class Point(Shown):
    """What is known of breakdown at one element; what does not apply is absent."""

    breakdown_voltage: Quantity
    inception_voltage: Quantity | None = None
    withstand_estimate: Quantity | None = None
    mean_field: Quantity | None = None
    field_utilization_factor: float | None = None

    @classmethod
    def of(cls, evaluation: Evaluation, registry: Registry) -> Point:
        """Return that of the one element of an evaluation."""
        value, low, high = evaluation.numbers()
        inception, eta = float(evaluation.inception[0]), float(evaluation.utilization[0])
        held = single(withstand(evaluation.case.plain, single(evaluation.low), registry.reference))
        return cls(
            voltage(value, low, high),
            voltage(inception) if math.isfinite(inception) else None,
            voltage(held) if math.isfinite(held) else None,
            Quantity(value / float(evaluation.case.gap[0]), "field") if math.isfinite(value) else None,
            finite_or_none(eta),
        )

    @property
    def inception(self) -> float | None:
        """The voltage at which a discharge starts [V], where one starts before breakdown or at it."""
        return None if self.inception_voltage is None else self.inception_voltage.value


def point_cautions(evaluation: Evaluation) -> tuple[str, ...]:
    """Return the caution keys of a breakdown answer, or of many: those of any element that is answered."""
    case, answered = evaluation.case, evaluation.answered
    keys = ["estimate", "not-a-barrier"]
    few = [i for i, one in enumerate(evaluation.methods) if one.method.thin]
    thin = answered & np.isin(evaluation.choice, few) if few else None
    if thin is not None and (np.fmax(np.fmax(evaluation.high, evaluation.value), 0.0)[thin] > X_RAY_VOLTAGE).any():
        keys.append("x-rays")
    if (case.frequency[answered] > FAST_FREQUENCY).any():
        keys.append("fast-current")
    if case.in_air and np.isfinite(evaluation.inception).any():
        keys.append("ozone")
    return tuple(keys)
