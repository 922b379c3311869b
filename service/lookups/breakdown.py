"""/v1/breakdown: what a gap holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate, refusal, working
from service.answers.figure import MOST_CURVES, Curve, Figure, Mark, PlotAxis, case_figure
from service.answers.gap_curves import GapCurves, check_sizes
from service.answers.lookup import Answer, Lead, Lookup, finite_or_none, parameters_of, voltage
from service.answers.registry import Registry
from service.answers.results import answer_of, asked_gap, asked_method, method_parameter, point_cautions, sized
from service.answers.situation import (
    ATMOSPHERE,
    MIXED,
    WAVEFORM,
    Situation,
    electrode_parameters,
    gas_parameter,
    refuse_foreign,
    situation,
)
from service.errors import BadQuestion, OutsideValidity
from service.lookups.batch_points import Voltages
from service.methods import FloatArray
from service.parameters import Parameter, Question, read_question
from service.spoken import said, span, span_of
from service.units import Quantity, Series

GAP = Parameter("gap", "length", "Shortest distance between the electrodes.", example="8mm")
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
        Parameter("gap_from", "length", "First gap of a curve.", example="1mm"),
        Parameter("gap_to", "length", f"Last gap of a curve, of at most {MOST_CURVES} electrodes.", example="50mm"),
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
    """
    volts = voltage(*evaluation.numbers())
    words = span_of(volts)
    return Lead(_sentence(here, evaluation, volts, words), "Breaks down at", words, "estimate")


def _sentence(here: Situation, evaluation: Evaluation, volts: Quantity, words: str) -> str:
    between = f"{here.arrangement.title}, {said(float(evaluation.case.gap[0]), 'length')} apart"
    if volts.value is not None:
        return f"{between}: a spark at {words}."
    if volts.low is None:
        return f"{between}: a spark {words.replace('at most', 'at the latest at')}; how much earlier is not known here."
    if volts.high is None:
        return f"{between}: no spark is known below {words.removeprefix('at least ')}."
    decides = "the shape decides" if here.arrangement.shapeless else "no single voltage is known"
    return f"{between}: a spark somewhere between {words.replace(' to ', ' and ')}; {decides}."


POINTS = 160
"""Points of a curve."""


def over_gaps(question: Question, registry: Registry) -> Answer:
    """Return curves of breakdown voltage over the gap.

    Parameters
    ----------
    question : Question
        With ``gap_from`` and ``gap_to``.

    Raises
    ------
    BadQuestion
        When one end is missing, or they are not in order.
    OutsideValidity
        When no arrangement answers anywhere between them.
    """
    first, last = question.number("gap_from"), question.number("gap_to")
    if not first < last:
        raise BadQuestion.about("gap_to", "gap_to must be greater than gap_from.")
    listed = len(question.listed("electrodes"))
    if listed > MOST_CURVES:
        detail = (
            f"{listed} electrodes are listed; at most {MOST_CURVES} are compared over a range of gaps, from gap_from "
            "to gap_to."
        )
        raise BadQuestion.about("electrodes", detail)
    gaps = np.geomspace(first, last, POINTS)
    only = str(question.values["method"]) if "method" in question else None
    arrangements = [registry.arrangement(str(key)) for key in question.listed("electrodes")]
    refuse_foreign(question, arrangements, registry)
    methods = [method.key for one in arrangements for method in one.methods]
    if only is not None and only not in methods:
        named = ",".join(one.key for one in arrangements)
        raise BadQuestion.about("method", f"method={only} does not belong to electrodes={named}.", methods)
    found = [_one(question, registry, one.key, gaps, only) for one in arrangements]
    if not any(evaluation.answered.any() for _, evaluation in found):
        detail = "No method of these electrodes answers between gap_from and gap_to."
        raise OutsideValidity.about(("gap_from", "gap_to"), detail)
    here = found[0][0]
    results = {"curves": [_block(there, evaluation) for there, evaluation in found]}
    return Answer(
        "breakdown",
        _asked(question, [there for there, _ in found]),
        results,
        notes=[note for there, evaluation in found for note in _notes(there, evaluation)],
        cautions=tuple(dict.fromkeys(key for there, one in found for key in _cautions(there, one, only))),
        gas_cautions=registry.gas_cautions(here.case.gas),
        title="Breakdown voltage against gap",
        figure=partial(_draw, question, found),
        lead=_lead(found),
    )


def _lead(found: list[tuple[Situation, Evaluation]]) -> Lead:
    """Return what is read first: where each curve begins and ends, and between which voltages they all lie."""
    every: list[float] = []
    parts = []
    for here, one in found:
        if not one.answered.any():
            parts.append(f"{here.arrangement.title}: no method answers")
            continue
        ends = np.flatnonzero(one.answered)[[0, -1]]
        words = [f"{span_of(voltage(*one.numbers(int(i))))} at {said(float(one.case.gap[i]), 'length')}" for i in ends]
        parts.append(f"{here.arrangement.title}: {', '.join(dict.fromkeys(words))}")
        every += [float(volts) for array in (one.low, one.high) for volts in array[np.isfinite(array)]]
    whole = span(min(every), None, max(every), "voltage", measure="peak")
    return Lead(f"{'. '.join(parts)}.", "Breaks down, over these gaps", whole, "estimate")


def _one(
    question: Question, registry: Registry, key: str, gaps: FloatArray, only: str | None
) -> tuple[Situation, Evaluation]:
    here = situation(question, registry, key)
    check_sizes(question, here)
    return here, GapCurves(here.arrangement, here.case, only).at(gaps)


def _asked(question: Question, each: list[Situation]) -> Echo:
    """Return the echo: the range, then the sizes and surroundings of every arrangement."""
    asked = Echo.of(question, ("gap", "gap_from", "gap_to"))
    asked |= Echo({"electrodes": [here.arrangement.key for here in each]}) | Echo.taken({"points": POINTS})
    for here in each:
        asked |= here.asked
    return asked | Echo.of(question, ("method",))


def _cautions(here: Situation, found: Evaluation, only: str | None) -> tuple[str, ...]:
    """Return the caution keys of the ends of a curve, where voltages are highest."""
    places = np.flatnonzero(found.answered)[[0, -1]] if found.answered.any() else ()
    curves = GapCurves(here.arrangement, here.case, only)
    keys = [key for i in places for key in point_cautions(curves.at(found.case.gap[[i]]))]
    return ("estimate", "not-a-barrier", *keys)


def _block(here: Situation, found: Evaluation) -> dict[str, object]:
    methods = [found.methods[i].method.key if i >= 0 else None for i in found.choice]
    return {
        "electrodes": here.arrangement.key,
        "gap": Series(found.case.gap, "length"),
        "breakdown_voltage": Series(found.value, "voltage", found.low, found.high),
        "method": methods,
    }


def _notes(here: Situation, found: Evaluation) -> list[str]:
    title = here.arrangement.title
    notes = [*here.notes, *(f"{title}: {note}" for note in here.arrangement.notes)]
    notes += [*(f"{title}: {note}" for one in found.methods for note in one.estimate.notes)]
    if not found.answered.all():
        notes.append(f"{title}: no method answers for part of these gaps; the curve is broken there.")
    return notes


def _draw(question: Question, found: list[tuple[Situation, Evaluation]]) -> Figure:
    curves = [curve for here, evaluation in found for curve in _curves(here, evaluation)]
    steps = (mark for _, evaluation in found for mark in _hand_over_marks(evaluation))
    marks = (*_asked_marks(question, found), *steps)
    titles = ", ".join(here.arrangement.title.lower() for here, _ in found)
    case = found[0][0].case
    air = f"{said(float(case.pressure[0]), 'pressure')}, {said(float(case.temperature[0]), 'temperature')}"
    return Figure(
        "Breakdown voltage against gap",
        f"Peak breakdown voltage over the gap, logarithmic axes, for {titles}.",
        PlotAxis("Gap", "mm"),
        PlotAxis("Breakdown voltage, peak", "kV"),
        tuple(curves),
        marks,
        sentences=(
            f"In {case.gas.replace('-', ' ')} at {air}; {case.waveform}.",
            "Bands are each method's stated uncertainty; a dashed line is only a bound.",
            "Estimates for clean, dry electrodes of exactly this shape; never the only protection of a person.",
        ),
    )


def _curves(here: Situation, found: Evaluation) -> list[Curve]:
    gaps, title = found.case.gap * 1e3, here.arrangement.title
    sharp = np.isfinite(found.value)
    curves = []
    if sharp.any():
        # a curve ends where its method does: nothing is drawn across a step between two
        ends = _hand_overs(found) + 1
        value, low, high = (np.insert(one / 1e3, ends, np.nan) for one in (found.value, found.low, found.high))
        curves.append(Curve(title, np.insert(gaps, ends, np.nan), value, low, high))
    if (found.answered & ~sharp).any():
        low, high = (np.where(sharp, np.nan, array) / 1e3 for array in (found.low, found.high))
        curves += [
            Curve(f"{title}, {word}", gaps, bound, dashed=True)
            for word, bound in (("low end", low), ("high end", high))
            if np.isfinite(bound).any()
        ]
    return curves


STEP = 0.01
"""Relative step between two methods from which a curve is broken; below it is no wider than its line."""


def _hand_overs(found: Evaluation) -> np.ndarray:
    """Return the points behind which another method answers, with a step."""
    with np.errstate(invalid="ignore"):
        slope = np.diff(np.log(found.value))
    usual = np.nanmedian(slope) if np.isfinite(slope).any() else 0.0
    ends = np.isfinite(found.value[1:]) != np.isfinite(found.value[:-1])
    both = (found.choice[1:] >= 0) & (found.choice[:-1] >= 0) & (found.choice[1:] != found.choice[:-1])
    return np.flatnonzero(both & (ends | (np.abs(slope - usual) > STEP)))


def _hand_over_marks(found: Evaluation) -> Iterator[Mark]:
    places = _hand_overs(found)
    if places.size:
        gaps, volts = (np.stack([array[places], array[places + 1]]) for array in (found.case.gap, found.value))
        gaps = np.sqrt(gaps[0] * gaps[1])
        volts = np.exp(np.nanmean(np.log(volts), axis=0))
        yield Mark("methods hand over", gaps * 1e3, volts / 1e3, "hand-over")


def _asked_marks(question: Question, found: list[tuple[Situation, Evaluation]]) -> tuple[Mark, ...]:
    if "gap" not in question:
        return ()
    asked = question.number("gap")
    marks = []
    for here, evaluation in found:
        at = GapCurves(here.arrangement, here.case).at(np.array([asked]))
        volts = np.array([at.value[0], at.low[0], at.high[0]]) / 1e3
        volts = volts[:1] if np.isfinite(volts[0]) else volts[1:]
        volts = volts[np.isfinite(volts)]
        del evaluation
        if volts.size:
            marks.append(Mark("asked", np.full(volts.size, asked * 1e3), volts))
    return tuple(marks)
