"""/v1/reading: what voltage is there when a checked probe shows one, and what does that mean for a gap?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup, voltage
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, WAVEFORM, Reading, electrode_parameters, measure_taken, peaks_of
from service.bench import probe_record
from service.bench.probe import Check, Overall, possible
from service.bench.probe_sheet import INDICATED_AS, RECORD
from service.bench.settings import COVERAGE, rectangular
from service.errors import BadQuestion, OutsideValidity
from service.lookups import gap
from service.parameters import Given, Members, Parameter, Part, Question
from service.spoken import between, said, speak
from service.units import Quantity

__all__ = ["BODY", "answer", "lookup"]

INDICATED = Parameter(
    "indicated", "voltage", "What the probe shows, attenuation applied.", required=True, high=1e8, example="9.30kV"
)
SCALE = Parameter(
    "scale_factor",
    "number",
    "Of the probe check: readings are multiplied by it.",
    low=1e-9,
    high=1e9,
    required=True,
    example="0.922",
)
UNCERTAINTY = Parameter(
    "expanded_uncertainty",
    "fraction",
    "Of the scale factor, k = 2, as the probe check says it.",
    required=True,
    low=0.0,
    high=0.9,
    example="5percent",
)
RESULTS: Mapping[str, str] = {
    "true_voltage": "Indicated voltage times the scale factor, with its band (k = 2), the digits of the reading in it.",
    "scale_factor": "That was applied.",
    "expanded_uncertainty_percent": "Of the true voltage, k = 2.",
    "for_a_gap": "Of the highest voltage that there may be: the gap that keeps apart lies above `holds_above`; of the "
    "lowest: `sparks_below`. Electrodes as asked, unknown by default.",
}
MEASURE = replace(
    INDICATED_AS,
    meaning="How the instrument was read; where that is not said, alternating voltage may be any of them, and other "
    "voltages are peak values. A record says it by itself.",
    default="unknown",
    choices=(*INDICATED_AS.choices, "unknown"),
)
FURTHER = "The voltage lies outside what the check covered, {}: there the scale factor was not checked."


def _parameters(registry: Registry) -> tuple[Parameter, ...]:
    return (INDICATED, MEASURE, SCALE, UNCERTAINTY, *electrode_parameters(registry), *ATMOSPHERE, *WAVEFORM)


BODY = Members(
    (INDICATED, MEASURE, *ATMOSPHERE, *WAVEFORM),
    (Part("record", "The record of the probe check that holds for this probe.", RECORD, required=True),),
)
ALSO_ASKED = True
"""Asked in a query with a scale factor, or posted with a record."""


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "reading",
        "Reading of a checked probe",
        "What voltage there is when a probe that was checked shows one, and what that means for a gap.",
        _parameters(registry),
        lambda question: answer(question, registry),
        example="indicated=9.30kV&waveform=dc&scale_factor=0.922&expanded_uncertainty=5percent",
        results=RESULTS,
        body=BODY,
        answer_given=lambda given: answer_with_record(given, registry),
        also_asked=True,
    )


@dataclass(frozen=True)
class Known:
    """What is known of the probe.

    Parameters
    ----------
    scale_factor, uncertainty : float
        Readings are multiplied by the first; relative, k = 2.
    """

    scale_factor: float
    uncertainty: float
    notes: tuple[str, ...] = ()


def answer(question: Question, registry: Registry) -> Answer:
    """Return the true voltage.

    Raises
    ------
    BadQuestion
        When the scale factor or its uncertainty was not said.
    """
    return _answer(question, Known(question.number("scale_factor"), question.number("expanded_uncertainty")), registry)


def answer_with_record(given: Given, registry: Registry) -> Answer:
    """Return the true voltage by the record of a check.

    Raises
    ------
    BadQuestion
        When the record gives no scale factor.
    """
    record = given.parts["record"]
    check = Check.of(record.parts["given"], registry)
    overall = Overall(check) if check.accepted.size else None
    scale = None if overall is None else overall.scale_factor
    if overall is None or scale is None:
        detail = "record gives no scale factor: its check found no one ratio, or could not tell."
        raise BadQuestion.about("record", detail)
    # what was not said is as the record says; the gap is asked of electrodes that nobody knows
    declared = {one.name: one for one in _parameters(registry)}
    assumed = {one.name: one.read(one.default) for one in declared.values() if one.default is not None}
    known = {
        name: check.question.key(name)
        for name in ("measure", "waveform")
        if check.question.given(name) and not given.question.given(name)
    }
    question = replace(
        given.question,
        lookup="reading",
        values={**assumed, **given.question.values, **known},
        assumed=frozenset(assumed) - known.keys() - {name for name in assumed if given.question.given(name)},
        parameters=declared,
        typed={**given.question.typed, **known},
    )
    notes = list(_of_record(question, overall, record))
    return _answer(question, Known(scale, overall.uncertainty, tuple(notes)), registry)


def _of_record(question: Question, overall: Overall, record: Given) -> Iterator[str]:
    whole = {**record.rest, "given": probe_record.as_given(record.parts["given"])}
    stated = record.rest.get("hash")
    if stated != probe_record.hash_of(whole):
        yield "The hash of the record does not fit: the scale factor was worked out anew from the readings in it."
    volts = overall.comparison.reference
    shown = _shown(question)
    if not volts.min() <= shown.low / overall.ratio <= shown.high / overall.ratio <= volts.max():
        yield FURTHER.format(between(float(volts.min()), float(volts.max()), "voltage", unit="kV"))
    checked = overall.check.waveform
    if question.key("waveform") != checked:
        yield f"The probe was checked with waveform={checked}; at another its ratio may be another."


def _shown(question: Question) -> Reading:
    """Return the lowest and the highest peak of what the probe shows."""
    return peaks_of(question, question.key("waveform"), "indicated")


def _answer(question: Question, known: Known, registry: Registry) -> Answer:
    shown = _shown(question)
    digits = COVERAGE * float(rectangular(question.half_digit("indicated"))) / question.number("indicated")
    uncertainty = math.hypot(known.uncertainty, digits)
    low, high = (
        peak * known.scale_factor * end
        for peak, end in zip((shown.low, shown.high), possible(1.0, uncertainty), strict=True)
    )
    value = shown.high * known.scale_factor if shown.sharp else math.nan
    results: dict[str, object] = {
        "true_voltage": voltage(value, low, high),
        "scale_factor": known.scale_factor,
        "expanded_uncertainty_percent": 100 * uncertainty,
    }
    notes = list(known.notes)
    beside = _for_a_gap(question, low, high, registry)
    results |= {"for_a_gap": beside} if beside else {}
    if not beside:
        notes.append("No method of these electrodes reaches this voltage: nothing is said of a gap.")
    return Answer(
        "reading",
        Echo.of(question, measures={"indicated": shown.measure}) | measure_taken(question, question.key("waveform")),
        results,
        notes=notes,
        cautions=("ratio-only", "discharge-first", "divider-earth", "not-a-barrier"),
        lead=_lead(question, value, (low, high)),
    )


def _lead(question: Question, value: float, ends: tuple[float, float]) -> Lead:
    """Return what is read first: the highest voltage that may be there."""
    low, top = speak(ends[0], "voltage", toward="down"), str(speak(ends[1], "voltage", toward="up"))
    shown = said(question.number("indicated"), "voltage")
    if math.isnan(value):
        sentence = (
            f"Anything from {low} to {top} peak may be there (k = 2) where the probe shows {shown}: it was not said "
            "whether that is a peak or an rms value."
        )
    else:
        peak = _shown(question).high
        sentence = (
            f"{speak(value, 'voltage')} peak are there, anything from {low} to {top} (k = 2), where the probe shows "
            f"{said(peak, 'voltage')} peak."
        )
        if ends[1] > peak:
            sentence = f"More voltage may be there than the probe shows. {sentence}"
    return Lead(sentence, "True voltage, up to", top, "ratio-only")


def _for_a_gap(question: Question, low: float, high: float, registry: Registry) -> dict[str, object]:
    """Return below which gap it sparks and above which it is held, for the ends of the voltage."""
    typed = list(question.typed.items())
    try:
        near, far = (gap.for_voltage(volts, typed, registry).rising for volts in (low, high))
    except OutsideValidity:
        return {}
    ends = {"sparks_below": near[0].sparks_below if near else None, "holds_above": far[0].holds_above if far else None}
    found: dict[str, object] = {name: Quantity(end, "length") for name, end in ends.items() if end is not None}
    return found | ({"electrodes": question.key("electrodes")} if found else {})
