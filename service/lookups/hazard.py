"""/v1/hazard: what to do first, then what is stored and what the source gives beside published limits."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from service import units
from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.registry import Registry
from service.answers.results import FAST_FREQUENCY
from service.parameters import Parameter, Question
from service.reference import Reference, weakest
from service.spoken import plain, rounded, told
from service.standards.body import (
    body_current,
    current_bands,
    discharge_practice,
    exposure,
    ignition,
    reaches,
    regime_notes,
    sparks,
    x_rays,
)
from service.standards.circuit import JUDGED, LEFT, PARAMETERS, TOLERANCES, Circuit, circuit_of
from service.standards.limits import (
    DOES_NOT_APPLY,
    EXCEEDED,
    STORED,
    UNKNOWN,
    PublishedLimit,
    classes,
    every_limit,
    shown_limit,
    spanned,
    strictest_first,
)
from service.standards.requirement import echo, edition_parameter, volts, year_of
from service.units import Quantity

RULE = 50.0
"""Voltage to which rules for power capacitors give a time [V]."""
RESULTS = {
    "do_first": "What to do before anything else.",
    "in_words": "What was found, in a sentence.",
    "stored_energy": "Energy of the charged capacitor.",
    "charge": "Charge of the capacitor.",
    "wait_at_least": "Discharge time with resistor and capacitor at the upper ends of their tolerances, rounded up.",
    "discharge_time": "Through bleed_resistance to discharge_to: with the values as given, and at worst (high).",
    "discharge_times": "The same to 50 V too; with everything=true to each limit.",
    "stick_peak_current": "First current through the discharge stick.",
    "stick_energy": "Energy that the stick's resistor takes up.",
    "body_current": "Current that can flow through a body, hand to hand.",
    "reaches": "What that current and the stored energy can do.",
    "classes": "Classes of IEC 62368-1: exceeded by voltage and current together, or by what is stored.",
    "limits": (
        "Published limits that apply, strictest first; with everything=true also those that do not. state is exceeded, "
        "not-exceeded, does-not-apply or unknown."
    ),
    "current_bands": "With everything=true: thresholds of effects of current on the body.",
    "ignition": "With everything=true: published minimum ignition energies, lowest first.",
    "exposure": "With everything=true: workplace limits of ozone and X-rays, where the voltage calls for them.",
}
NO_FREQUENCY = (
    "Neither a frequency nor measure=direct was said: limits of direct and of alternating voltage and current are both "
    "judged; rms and peak are converted as for a sine."
)
SINE = "rms and peak are converted as for a sine."
NO_MEASURE = (
    "measure was not said: the voltage is taken as direct or as a peak, and beside a limit for alternating voltage as "
    "the rms value of a sine too; where the two disagree the limit is unknown."
)


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    years = registry.reference.table("shock-limits")["edition_from"]
    edition = edition_parameter("Year whose editions of the standards are asked.", sorted(set(years)))
    everything = Parameter(
        "everything", "boolean", "Show also the limits that do not apply, bands, ignition and exposure.", example="true"
    )
    return Lookup(
        "hazard",
        "Stored charge, energy and current beside published limits",
        "What a circuit stores and gives, beside published limits, with discharge times.",
        (*PARAMETERS, edition, everything),
        partial(answer, registry=registry),
        example="voltage=12kV&capacitance=4.4nF&bleed_resistance=200Mohm&stick_resistance=10kohm",
        keeps_question=True,
        single_values=False,
        one_of=tuple((name,) for name in JUDGED),
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return what a circuit stores beside the limits.

    Raises
    ------
    BadQuestion
        When nothing is given that could be compared, or one thing is said twice.
    """
    circuit, reference = circuit_of(question), registry.reference
    year = year_of(question)
    everything = bool(question.values.get("everything"))
    down_to = question.optional("discharge_to") or LEFT
    limits = strictest_first(every_limit(circuit, reference, year), circuit)
    listed = [one for one in limits if everything or _on_the_page(one)]
    wait = _wait_at_least(circuit, down_to)
    in_words = _in_words(limits)
    results: dict[str, object] = {"do_first": list(_do_first(circuit, wait, down_to)), "in_words": in_words}
    results |= _stored(circuit) | _waiting(circuit, wait, down_to, limits if everything else []) | _stick(circuit)
    through = body_current(circuit, reference, year)
    if through is not None:
        results["body_current"] = spanned(through, "current")
    results["reaches"] = list(reaches(circuit, reference, year))
    results["classes"] = classes(circuit, limits)
    results["limits"] = [one if everything else replace(one, further={}) for one in listed]
    if everything:
        results["current_bands"] = current_bands(circuit, reference, year)
        results["ignition"] = ignition(circuit, reference)
        if given_off := exposure(circuit, reference):
            results["exposure"] = given_off
    return Answer(
        "hazard",
        _asked(question, circuit),
        results,
        _method(reference, limits),
        notes=list(_notes(question, circuit, limits, reference, everything=everything)),
        cautions=tuple(_cautions(circuit, reference)),
        first=("do_first", "in_words"),
        lead=_lead(circuit, wait, in_words),
    )


def _lead(circuit: Circuit, wait: Quantity | None, in_words: str) -> Lead:
    """Return what is read first: how long to wait, or that it counts as charged; then what was found."""
    sentence = f"Switch off, wait, measure, discharge and short, in this order. {in_words}"
    if wait is not None:
        time = told(wait, toward="up", zeros=False)
        return Lead(sentence, "Before measuring, wait at least", time, "bleeder")
    known = "charge-unknown" if circuit.charge is None else "below-a-limit"
    return Lead(sentence.replace(" wait,", ""), "Treat it", "as charged until it is shorted", known)


def _on_the_page(limit: PublishedLimit) -> bool:
    """Return whether a limit applies; one on current, power or time that nothing was said of is counted in a note."""
    return limit.state != DOES_NOT_APPLY and (limit.asked is not None or limit.dimension in STORED)


def _asked(question: Question, circuit: Circuit) -> Echo:
    """Return what was asked; of what was not said only what this answer rests on."""
    measure = {"voltage": question.key("measure")} if question.given("measure") else {}
    further: dict[str, object] = {}
    if circuit.time_constant is not None:
        further = {name: Quantity(value, "fraction") for name, value in TOLERANCES.items()}
        further["discharge_to"] = shown_limit(LEFT, "voltage", "dc")
    if "voltage" in question and not question.given("measure"):
        further["measure"] = "not said"
        measure = {"voltage": "unknown"}
    return echo(question, {**measure, "discharge_to": "dc"}, further)


def _do_first(circuit: Circuit, wait: Quantity | None, down_to: float) -> Iterator[str]:
    highest = circuit.volts(frozenset())
    full = "the full voltage" if highest is None else f"at least {volts(_up(highest.high))}"
    if circuit.charge is None:
        yield "Treat the circuit as charged: what it stores is not known until it is discharged, shorted and measured."
    yield "Switch off, pull the plug or lock the switch, and let nobody switch on again."
    if wait is not None:
        yield (
            f"Wait at least {wait.value:g} s to come down to {volts(down_to)}, then measure all the "
            f"same, with a meter made for {full}: the time holds only while the resistor is whole and connected."
        )
    else:
        yield f"Measure with a meter made for {full}; no time was found after which the voltage is gone."
    yield "Discharge through a resistor made for that voltage and energy, then short without one, and leave it shorted."


def _in_words(limits: Sequence[PublishedLimit]) -> str:
    by_state = {state: [one for one in limits if one.state == state] for state in (EXCEEDED, UNKNOWN)}
    applying = [one for one in limits if one.state != DOES_NOT_APPLY]
    if not applying:
        return "None of the published limits listed here applies; that says nothing of what they leave out."
    exceeded, unknown = by_state[EXCEEDED], by_state[UNKNOWN]
    open_ = f" {len(unknown)} cannot be told from what was said." if unknown else ""
    if not exceeded:
        none = (
            f"None of {len(applying)} published limits that may apply is known to be exceeded"
            if unknown
            else (f"None of the {len(applying)} published limits that apply is exceeded")
        )
        return f"{none}, which is not the same as out of danger.{open_}"
    first = exceeded[0]
    are = "is" if len(exceeded) == 1 else "are"
    return (
        f"{len(exceeded)} of {len(applying)} published limits that apply or may apply {are} exceeded; the strictest "
        f"is {first.title}{_times(first)}.{open_}"
    )


def _times(limit: PublishedLimit) -> str:
    if limit.asked is None or limit.limit <= 0:
        return ""
    ratio = limit.asked.high / limit.limit
    return f", exceeded {plain(rounded(ratio, 3), zeros=False)} times" if 1.005 < ratio < math.inf else ""


def _stored(circuit: Circuit) -> dict[str, object]:
    pairs = {"stored_energy": (circuit.energy, "energy"), "charge": (circuit.charge, "charge")}
    return {name: spanned(value, dimension) for name, (value, dimension) in pairs.items() if value is not None}


def _wait_at_least(circuit: Circuit, down_to: float) -> Quantity | None:
    times = circuit.time_to(down_to)
    return None if times is None else Quantity(_up(times[1]), "time")


def _waiting(
    circuit: Circuit, wait: Quantity | None, down_to: float, limits: Sequence[PublishedLimit]
) -> dict[str, object]:
    times = circuit.time_to(down_to)
    if times is None:
        return {}
    rows = {down_to: f"to {volts(down_to)}", RULE: f"to {volts(RULE)}"}
    for one in limits:
        if one.left is not None:
            rows.setdefault(one.left, one.title)
    return {
        "wait_at_least": wait,
        "discharge_time": _time(*times),
        "discharge_times": [_row(circuit, left, title) for left, title in rows.items()],
    }


def _row(circuit: Circuit, left: float, title: str) -> dict[str, object]:
    return {
        "title": title,
        "voltage": shown_limit(left, "voltage", "dc"),
        "time": _time(*(circuit.time_to(left) or (0, 0))),
    }


def _time(value: float, worst: float) -> Quantity:
    return Quantity(value, "time", high=worst)


def _up(value: float) -> float:
    """Return a number rounded up to three digits."""
    return units.cut(value, math.ceil, 3) if value > 0 else 0.0


def _stick(circuit: Circuit) -> dict[str, object]:
    if circuit.stick_resistance is None or circuit.voltage is None:
        return {}
    found: dict[str, object] = {
        "stick_peak_current": Quantity(circuit.voltage.high / circuit.stick_resistance, "current")
    }
    if circuit.energy is not None:
        found["stick_energy"] = spanned(circuit.energy, "energy")
    return found


def _method(reference: Reference, limits: Sequence[PublishedLimit]) -> dict[str, object]:
    table = reference.table("shock-limits")
    return {
        "key": "published-limits",
        "title": "Limits of product standards and thresholds of laboratory practice; each names its own source",
        "kind": "table",
        "validity": table.description.validity or "",
        "source": table.source.block(),
        "provenance": weakest(one.provenance for one in limits),
    }


def _notes(
    question: Question, circuit: Circuit, limits: Sequence[PublishedLimit], reference: Reference, *, everything: bool
) -> Iterator[str]:
    yield from _unknown(circuit, limits)
    left_out = sum(not _on_the_page(one) for one in limits)
    if left_out and not everything:
        yield f"everything=true lists {left_out} further limits, conditions, body currents and ignition energies."
    yield from _end_of_table(circuit, reference)
    if len(circuit.kinds) > 1:
        yield NO_FREQUENCY
    elif circuit.kinds != {"dc"}:
        yield SINE
    if "voltage" in question and not question.given("measure") and circuit.kinds != {"dc"}:
        yield NO_MEASURE
    yield from _resistors(question, circuit)
    if everything:
        yield from discharge_practice(reference)
        yield from regime_notes(circuit, reference)


def _end_of_table(circuit: Circuit, reference: Reference) -> Iterator[str]:
    last = float(reference.table("iec-62368-1-charged-capacitor")["es1_voltage"].max())
    if circuit.voltage is None and circuit.capacitance is None:
        yield "IEC 62368-1 limits a charged capacitor by voltage and capacitance; neither is known: it is not listed."
    elif circuit.voltage is not None and circuit.voltage.high > last:
        yield f"The ES1 limits for a charged capacitor end at {volts(last)}; above it only a capacitance is looked up."


def _resistors(question: Question, circuit: Circuit) -> Iterator[str]:
    if circuit.bleed_resistance is not None and circuit.time_constant is None:
        yield "A discharge time needs the voltage and the capacitance, or the charge, beside the resistor."
    if circuit.time_constant is not None and not all(question.given(name) for name in TOLERANCES):
        yield (
            f"A tolerance that was not said is taken as {circuit.resistance_tolerance:.0%} of the resistor and "
            f"{circuit.capacitance_tolerance:.0%} of the capacitor (common practice, no source)."
        )
    if circuit.stick_resistance is not None and circuit.voltage is not None:
        yield (
            "Stick: the peak current is voltage over resistance at the first touch; the whole stored energy ends in "
            "the resistor, which must bear it and the full voltage; then short without a resistor and leave it shorted."
        )


SAY = {
    "charge": "capacitance or charge",
    "energy": "voltage with capacitance or charge",
    "capacitance": "capacitance",
    "voltage": "measure and frequency",
    "current": "available_current, and voltage with its measure",
    "power": "voltage and available_current",
    "time": "bleed_resistance and capacitance",
}
"""What to say so that limits of a dimension can be judged."""


def _unknown(circuit: Circuit, limits: Sequence[PublishedLimit]) -> Iterator[str]:
    unknown = [one.dimension for one in limits if one.state == UNKNOWN]
    for dimension in dict.fromkeys(unknown):
        which = "charge" if dimension == "energy" and circuit.voltage is not None else dimension
        count = unknown.count(dimension)
        yield f"Unknown: {count} {'limit' if count == 1 else 'limits'} on {dimension}; to judge them say {SAY[which]}."


def _cautions(circuit: Circuit, reference: Reference) -> Iterator[str]:
    if circuit.charge is None:
        yield "charge-unknown"
    yield "below-a-limit"
    if circuit.bleed_resistance is not None:
        yield "bleeder"
    yield "self-charge"
    if circuit.frequency is not None and circuit.frequency > FAST_FREQUENCY:
        yield "fast-current"
    yield "fire"
    if sparks(circuit, reference):
        yield "ozone"
    if x_rays(circuit, reference):
        yield "x-rays"
    yield "local-codes"
