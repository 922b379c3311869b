"""/v1/breakdown: what a gap holds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

from service.answers.blocks import finite_or_none
from service.answers.echo import Echo
from service.answers.evaluate import Evaluation, evaluate
from service.answers.figure import case_figure
from service.answers.lookup import Answer, Lead, Lookup, parameters_of
from service.answers.outside import refusal, working
from service.answers.point import answer_of, asked_gap, asked_method, method_parameter, sized
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, MIXED, Situation, electrode_parameters, gas_parameter, situation
from service.answers.waveform import WAVEFORM
from service.lookups.batch_voltages import Voltages
from service.lookups.breakdown_curve import answer as over_gaps
from service.parameters import Parameter, Question, read_question
from service.spoken import said, span
from service.units import Quantity

GAP = Parameter("gap", "length", "Shortest distance between the electrodes.", example="8mm", low=1e-9, high=1e3)
RESULTS: Mapping[str, str] = {
    "breakdown_voltage": "Peak voltage at which the gap breaks down; a bracket where its value is null.",
    "inception_voltage": "Peak voltage at which a discharge starts at the electrode of highest field.",
    "withstand_estimate": "The low end less three deviations of scatter, where that is known; not dust, burrs or "
    "moisture. Never a rating.",
    "mean_field": "Breakdown voltage over gap.",
    "field_utilization_factor": "Mean over greatest field.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    curve = (
        Parameter("gap_from", "length", "First gap of a curve.", example="1mm", low=1e-9, high=1e3),
        Parameter("gap_to", "length", "Last gap of a curve.", example="50mm", low=1e-9, high=1e3),
    )
    electrodes, *sizes = electrode_parameters(registry)
    parameters = (
        GAP,
        *curve,
        replace(electrodes, many=True),
        *sizes,
        gas_parameter(registry),
        *MIXED,
        *ATMOSPHERE,
        *WAVEFORM,
        method_parameter(registry),
    )

    def answer(question: Question) -> Answer:
        if "gap_from" in question or "gap_to" in question:
            return over_gaps(question, registry)
        return answer_point(question, registry)

    return Lookup(
        "breakdown",
        "Breakdown voltage of a gap",
        "The voltage at which a gap breaks down, for gap, gas, pressure and electrode arrangement.",
        parameters,
        answer,
        example="gap=8mm&electrodes=uniform-field",
        one_of=(("gap",), ("gap_from", "gap_to"), *registry.sizes_of_gap),
        place=10,
        results=RESULTS,
        many=partial(Voltages, registry),
    )


def answer_point(question: Question, registry: Registry) -> Answer:
    """Return the breakdown voltage at one gap; refuses as `evaluated` does."""
    here, evaluation = evaluated(question, registry)
    case = evaluation.case
    gap = Echo({"gap": Quantity(float(case.gap[0]), "length")})
    asked = gap | here.asked | Echo.of(question, ("method",))
    answer = answer_of(evaluation, here, asked, registry)
    return replace(answer, lead=lead(evaluation, here), figure=lambda: case_figure(here.arrangement, case))


def evaluated(question: Question, registry: Registry) -> tuple[Situation, Evaluation]:
    """Return the situation of a question, and its one element evaluated.

    Raises
    ------
    BadQuestion
        When the gap is missing or contradicts the dimensions, or several arrangements are named.
    OutsideValidity
        When no method answers.
    """
    here = situation(question, registry, None)
    case = sized(here, asked_gap(question, here))
    only = asked_method(question, here)
    evaluation = evaluate(here.arrangement, case, every=True, only=only)
    if not evaluation.answered[0]:
        error = refusal(here.arrangement, case, only)
        if not error.suggestion and here.arrangement.gap_from is None:
            error.suggestion = working(here.arrangement, case, only)
        raise error
    return here, evaluation


def lowest(gap: float, pairs: Sequence[tuple[str, str]], registry: Registry) -> float | None:
    """Return the lowest voltage [V] that may jump a gap [m] of unknown electrodes, with what was typed of the air.

    Raises
    ------
    OutsideValidity
        When no method answers.
    """
    question = read_question("breakdown", parameters_of(lookup, registry), [("gap", f"{gap!r}m"), *pairs])
    return finite_or_none(evaluated(question, registry)[1].low[0])


def lead(evaluation: Evaluation, here: Situation) -> Lead:
    """Return what is read first: the voltage with its band, or the bracket and what decides within it.

    Parameters
    ----------
    evaluation : Evaluation
        Of one element.
    here : Situation
    """
    ends = (float(array[0]) for array in (evaluation.low, evaluation.value, evaluation.high))
    low, value, high = (end if math.isfinite(end) else None for end in ends)
    volts = span(low, value, high, "voltage", measure="peak")
    return Lead(_sentence(here, evaluation, volts, low, value, high), "Breaks down at", volts, "estimate")


def _sentence(
    here: Situation, evaluation: Evaluation, volts: str, low: float | None, value: float | None, high: float | None
) -> str:
    between = f"{here.arrangement.title}, {said(float(evaluation.case.gap[0]), 'length')} apart"
    if value is not None:
        return f"{between}: a spark at {volts}."
    if low is None:
        return f"{between}: a spark {volts.replace('at most', 'at the latest at')}; how much earlier is not known here."
    if high is None:
        return f"{between}: no spark is known below {volts.removeprefix('at least ')}."
    decides = "the shape decides" if here.arrangement.shapeless else "no single voltage is known"
    return f"{between}: a spark somewhere between {volts.replace(' to ', ' and ')}; {decides}."
