"""/v1/probe-check: is a probe right? Its readings at sparkover beside the voltage of a sphere gap."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from service.answers.document import Echo, document
from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import (
    Answer,
    Lead,
    Lookup,
    also_block,
    chosen_method,
    corrections_block,
    only_posted,
    voltage,
)
from service.answers.registry import Registry
from service.bench import divider, probe_record
from service.bench.divider import Divider
from service.bench.probe import Check, Overall
from service.bench.probe_sheet import BODY, GROUPS, body_from_csv, diameter_tolerance
from service.bench.settings import COVERAGE, Sparkovers
from service.bench.spheres import IMPULSES
from service.judgement import CANNOT_TELL
from service.parameters import Given
from service.units import Quantity

__all__ = ["BODY", "answer", "body_from_csv", "lookup"]

FORMATS = ("json", "txt", "csv", "md", "html", "svg", "png")
RESULTS: Mapping[str, str] = {
    "overall": "From the accepted settings: verdict (agrees-within-uncertainty, reads-high, reads-low, not-linear, "
    "cannot-tell), explanation, scale factor (multiply readings by it; of a verdict only), expanded uncertainty (a "
    "fraction, k = 2), both ends of the possible error, likely cause, corrected attenuation, linearity, and what it is "
    "valid for.",
    "settings": "Per setting: reference voltage of the gap over everything that was not said, mean and scatter of the "
    "readings, outliers, trend or step, error of the ratio with its uncertainty (k = 2), whether it is accepted, and "
    "why not.",
    "about": "Device, serial, operator and date, as far as they were given.",
    "budget": "The uncertainty row by row: quantity, value, half width, distribution, divisor, sensitivity (per cent "
    "of the scale factor per unit), degrees of freedom (absent where they are without end), standard contribution.",
    "drift": "Change of the scale factor since the earlier record, with its uncertainty (k = 2).",
    "given": "The body as it was given: post it again, or post the whole record to /v1/probe-record.",
    "hash": "SHA-256 over what was given, asked and found; /v1/probe-record compares it.",
    "sign": "Lines to sign a printed record on.",
    "network": "Ratios of the divider, compensated or not, highest voltage of an element, load, and whether the result "
    "carries to another frequency.",
}
BASIS = (
    "Expanded uncertainties have k = 2. The uncertainty of the gap is the band of its method, taken as expanded; about "
    "1 % (standard) of it is of each setting, the rest is common to all and does not average out, nor do spacing, "
    "diameter, density and humidity, half widths of rectangular distributions. The scatter of the sparkovers and the "
    "digits of the readings are of each setting."
)
DUST = (
    "At direct voltage dust and fibres cause low readings: inspect the low ones, clean the spheres, repeat the setting."
)
UNLIT = "{}, a gap needs irradiation: without, its sparks may be {:.0f} % late."
MEAN_OF_JUMPS = (
    "The tables are of the 50 % voltage of impulses; the mean of those that jumped lies about it only where about half "
    "of them did: give levels or up_and_down."
)
LOW = "Readings far below the others are listed as low outliers; they are not removed."
HIGH = "Readings far above the others are listed as high outliers, as late sparks make them; they are not removed."
TREND = "The readings of a setting drift from first to last: a divider that warms up looks so. See trend_percent."
STEP = "The readings of a setting jump after one of them: was something moved or cleaned? See step_percent."
NO_TABLE = "No published table covers every setting: where none does, a model gives the voltage, with its wider band."


EXAMPLE = (
    '{"sphere_diameter":"20mm","waveform":"dc","irradiated":"yes","pressure":"100.2kPa","temperature":"23.0degC",'
    '"relative_humidity":"45percent","readings":[{"spacing":"3mm","indicated_voltages":["12.1kV","12.2kV","12.1kV",'
    '"12.2kV","12.15kV","12.1kV","12.2kV","12.15kV","12.1kV","12.2kV"]}]}'
)
"""Invented readings."""


def lookup(registry: Registry) -> Lookup:
    """Return the lookup; its question comes in a body."""
    return Lookup(
        "probe-check",
        "Probe check",
        "Whether a probe or divider is right: its readings at sparkover beside the voltage of a sphere gap.",
        BODY.parameters,
        only_posted("readings", "A probe check takes its readings in a body: POST it."),
        example=EXAMPLE,
        formats=FORMATS,
        single_values=False,
        results=RESULTS,
        body=BODY,
        answer_given=lambda given: answer(given, registry),
        from_sheet=body_from_csv,
    )


class Checked(NamedTuple):
    """The answer of a check, and its verdict."""

    answer: Answer
    verdict: str


def answer(given: Given, registry: Registry) -> Answer:
    """Return the record of a probe check, as `checked` does."""
    return checked(given, registry).answer


def checked(given: Given, registry: Registry) -> Checked:
    """Return the record of a probe check.

    Raises
    ------
    BadQuestion
        Naming every member that is missing, contradictory or unreadable.
    """
    check = Check.of(given, registry)
    overall = Overall(check) if check.accepted.size else None
    network, earlier = given.parts.get("network"), given.parts.get("earlier")
    results: dict[str, object] = _about(check)
    verdict, explanation = (CANNOT_TELL, NOTHING) if overall is None else (overall.agreed.word, overall.explanation)
    results["overall"] = {"verdict": verdict, "explanation": explanation} if overall is None else overall
    results["settings"] = [_setting(check, place) for place in range(len(check.readings))]
    if network is not None:
        results["network"] = divider.network_block(network.question, check.situations[0].case, check.highest)
    if overall is not None:
        results["budget"] = probe_record.budget(check, overall)
    if earlier is not None and overall is not None:
        results["drift"] = _drift(check, overall, earlier, registry)
    asked = _asked(check, network)
    results["given"] = probe_record.as_given(given)
    results["hash"] = probe_record.hash_of(document({**results, "asked": asked, **registry.versions}))
    results["sign"] = SIGN
    shown = _shown(check)
    if overall is None:
        reasons = (why for reasons in check.why_not for why in reasons)
        explanation = f"{explanation} {next(reasons, '')}".rstrip()
    whole = Answer(
        "probe-check",
        asked,
        results,
        None if shown is None else chosen_method(shown),
        [] if shown is None else also_block(shown),
        {} if shown is None else corrections_block(shown),
        [*_notes(check), *_attenuation_notes(check, network)],
        ("discharge-first", "divider-earth", "ratio-only", "ultraviolet"),
        title=f"Probe check: {verdict}",
        figure=None if overall is None else lambda: probe_record.figure(check, overall),
        lead=Lead(explanation, "Probe", _headline(overall), "ratio-only"),
    )
    return Checked(whole, verdict)


NOTHING = "No setting is accepted, so nothing is said of the probe: see why_not of each setting."
SIGN = [
    "Checked by ______________________________  Date ______________",
    "Witnessed by ____________________________  Date ______________",
]
"""Lines to sign a printed record on."""
HEADLINES = {
    "agrees-within-uncertainty": "agrees within uncertainty",
    "reads-high": "reads high",
    "reads-low": "reads low, more voltage is present",
    "not-linear": "not linear",
    CANNOT_TELL: "cannot tell",
}


def _headline(overall: Overall | None) -> str:
    word = HEADLINES[CANNOT_TELL if overall is None else overall.agreed.word]
    if overall is None or overall.scale_factor is None:
        return word
    return f"{word}; multiply readings by {overall.scale_factor:.3f} (+/- {100 * overall.uncertainty:.2g} %)"


def _about(check: Check) -> dict[str, object]:
    """Return what was checked, by whom and when, as far as it was said."""
    names = [name for name in ("device", "serial", "operator", "date") if name in check.question]
    about = {name: check.question.key(name) for name in names}
    return {"about": about} if about else {}


def _drift(check: Check, overall: Overall, earlier: Given, registry: Registry) -> dict[str, object]:
    before = Check.of(earlier.parts["given"], registry)
    if not before.accepted.size:
        return {"verdict": CANNOT_TELL, "explanation": "No setting of the earlier check is accepted."}
    record = {**earlier.rest, "given": probe_record.as_given(earlier.parts["given"])}
    return probe_record.drift(check, overall, before, Overall(before), record)


def _setting(check: Check, place: int) -> dict[str, object]:
    reading, beside = check.readings[place], check.references
    sparkovers = reading.sparkovers
    fields: dict[str, object] = {
        "sphere_diameter": Quantity(reading.diameter, "length"),
        "spacing": Quantity(reading.spacing, "length"),
    }
    if beside.known[place]:
        low, high = beside.needs.low[:, place].min(), beside.needs.high[:, place].max()
        fields["reference_voltage"] = voltage(float(beside.value[place]), float(low), float(high))
    for name in ("time", "remark"):
        if name in reading.own:
            fields[name] = reading.own.key(name)
    if any(reading.own.given(name) for group in GROUPS for name in group):
        asked = check.situations[place].asked.values
        fields |= {name: asked[name] for name in ("pressure", "temperature", "absolute_humidity") if name in asked}
    fields |= {"sparkovers": sparkovers.count, "mean": voltage(sparkovers.mean)}
    if sparkovers.count > 1:
        fields["standard_deviation_percent"] = 100 * sparkovers.deviation
    for name in ("low_outliers", "high_outliers"):
        outliers = getattr(sparkovers, name)
        if outliers.size:
            fields[name] = [voltage(float(one)) for one in outliers]
    course = sparkovers.course
    if course is not None:
        fields[f"{course.kind}_percent"] = 100 * course.change
        if course.kind == "step":
            fields["step_after"] = course.after
    fields |= _ratio(check, place)
    fields |= {"accepted": not check.why_not[place], "why_not": list(check.why_not[place])}
    return fields | _method(check, place)


def _ratio(check: Check, place: int) -> dict[str, object]:
    if not check.references.known[place]:
        return {}
    ratio = check.readings[place].sparkovers.mean / float(check.references.value[place])
    fields: dict[str, object] = {"ratio_error_percent": 100 * (ratio - 1)}
    own = check.by_itself(place)
    if own is not None:
        fields["ratio_error_uncertainty_percent"] = 100 * COVERAGE * float(own.setting_uncertainty[0]) * ratio
    return fields


def _method(check: Check, place: int) -> dict[str, object]:
    method = check.references.method(place)
    return {} if method is None else {"method": method.key, "provenance": method.provenance}


def _shown(check: Check) -> Evaluation | None:
    """Return the evaluation that the answer shows: of the first accepted setting, else the first with a voltage."""
    found = check.references.evaluation
    answered = found.answered.nonzero()[0].tolist()
    place = next(iter([*check.accepted.tolist(), *answered]), None)
    if place is None:
        return None
    return evaluate(found.arrangement, found.case.take(np.array([place])), every=True)


def _notes(check: Check) -> Iterator[str]:
    question = check.question
    yield BASIS
    yield from dict.fromkeys(note for here in check.situations for note in here.notes)
    if check.late.any():
        yield UNLIT.format(check.practice.dark, 100 * check.allowances.late)
    if check.waveform == "dc":
        yield DUST
    yield from _of_readings(check)
    methods = [check.references.method(place) for place in range(len(check.readings))]
    if any(one is not None and one.kind != "table" for one in methods):
        yield NO_TABLE
    yield from (f"{WIDE} {name}." for name in check.references.wide)
    refused = len(check.readings) - check.accepted.size
    if refused and check.accepted.size:
        yield f"{refused} of {len(check.readings)} settings are not accepted and do not count."
    if "unfilled_rows" in question:
        yield f"{int(question.number('unfilled_rows'))} rows of the sheet have no reading and were left out."


WIDE = "A wide tolerance is taken to act in proportion (first order); the voltage may move further:"


def _of_readings(check: Check) -> Iterator[str]:
    sparkovers = [one.sparkovers for one in check.readings]
    if check.waveform in IMPULSES and any(isinstance(one, Sparkovers) for one in sparkovers):
        yield MEAN_OF_JUMPS
    if any(one.low_outliers.size for one in sparkovers):
        yield LOW
    if any(one.high_outliers.size for one in sparkovers):
        yield HIGH
    courses = {one.course.kind for one in sparkovers if one.course is not None}
    if "trend" in courses:
        yield TREND
    if "step" in courses:
        yield STEP


def _attenuation_notes(check: Check, network: Given | None) -> Iterator[str]:
    nominal = check.question.optional("attenuation")
    if network is None or nominal is None:
        return
    ratio = Divider.of(network.question).ratio(divider.checked_frequency(check.situations[0].case))
    off = 100 * (ratio / nominal - 1)
    if abs(off) > 1:
        yield f"The network as given has a ratio of {ratio:.6g}, {off:+.2g} % from the attenuation."


def _asked(check: Check, network: Given | None) -> Echo:
    question = check.question
    own = ("sphere_diameter", "earthing", "attenuation", "measure", "resolution", "irradiated", *OFF, "unfilled_rows")
    asked = Echo.of(question, own)
    if "diameter_uncertainty" not in asked.values:
        sizes = sorted({reading.diameter for reading in check.readings})
        shown = [Quantity(diameter_tolerance(question, size), "length") for size in sizes]
        asked |= Echo.taken({"diameter_uncertainty": shown[0] if len(shown) == 1 else shown})
    if network is not None:
        asked |= Echo({"network": dict(Echo.of(network.question).values)})
    return asked | check.situations[0].asked


OFF = ("spacing_uncertainty", "diameter_uncertainty", "density_uncertainty", "humidity_uncertainty")
