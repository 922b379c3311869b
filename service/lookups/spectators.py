"""/v1/spectators: how far off people are kept while something is shown at a high voltage; it gives no permission."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup, voltage
from service.answers.registry import Registry
from service.answers.situation import (
    ATMOSPHERE,
    MEASURE,
    PERIODIC,
    SINE,
    WAVEFORM,
    Waveform,
    as_read,
    measure_of,
    measure_taken,
    peaks_of,
    read_atmosphere,
    read_waveform,
)
from service.errors import OutsideValidity
from service.lookups import approach, breakdown, gap
from service.parameters import Parameter, Question
from service.spoken import said
from service.standards.approach_rules import UNQUALIFIED, WHOM
from service.standards.requirement import distance
from service.units import ROUNDING, Quantity

PARAMETERS = (
    Parameter("voltage", "voltage", "Highest voltage.", measured=True, required=True, high=1e7, example="30kV"),
    replace(MEASURE, default="unknown"),
    Parameter(
        "arm_length",
        "length",
        "How far a person reaches; IEC 60364-4-41 takes 1.25 m (memory).",
        default="1.25m",
        low=0.3,
        high=3.0,
    ),
    Parameter(
        "rod_length",
        "length",
        "Of what somebody may hold: a pointer, a ruler, a wire.",
        default="1m",
        low=0.0,
        high=20.0,
        example="1m",
    ),
    Parameter("distance", "length", "At which people stand, to see what is left of it.", high=1000.0, example="3m"),
    Parameter("capacitance", "capacitance", "That the voltage charges.", low=1e-15, high=1e3, example="10nF"),
    *ATMOSPHERE,
    replace(WAVEFORM[0], meaning="Form of the voltage; where it is not said, the one that keeps people furthest off."),
    *WAVEFORM[1:],
)
RESULTS: Mapping[str, str] = {
    "keep_back": "The largest of the distances: outside a locked barrier that far off, with somebody who watches it.",
    "distances": "Largest first: what each rests on, and for whom it was written.",
    "at_the_distance": "What is left of the distance asked when somebody reaches out with the rod, and the lowest "
    "voltage that may jump it.",
    "stored_energy": "Of the capacitance at the highest voltage: it comes out at once, also after switching off.",
    "charge": "Of the capacitance at the highest voltage.",
    "not_for": "What this was not made for.",
}
NOT_FOR = [
    "A reason to leave out the barrier, the switch in a teacher's hand, or the discharge before anybody comes nearer.",
    "Sparks over surfaces, long ropes of flame, flying parts, noise, light, ozone and X-rays: they reach further.",
    "Any school, country or work that has rules of its own; those govern.",
]
REACH = "A person who reaches out with what is held, and a spark from unknown electrodes beyond it"
REACHED = "a spark may reach what is held"
NOT_REACHED = "below the lowest voltage that may jump what is left, in clean dry air; somebody who leans over is nearer"
PERMISSION = "Nothing here is a permission: a barrier, a person who watches it and the rules of the place decide."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "spectators",
        "Spectators",
        "How far people are kept off while something is shown at a high voltage, by rules and by reach; no permission.",
        PARAMETERS,
        lambda question: answer(question, registry),
        example="voltage=30kV&waveform=dc&capacitance=10nF",
        single_values=False,
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the distances.

    Raises
    ------
    OutsideValidity
        When no method says how far the voltage jumps.
    """
    air, wave = read_atmosphere(question, registry), read_waveform(question)
    kinds = _kinds(question, wave)
    peak = max(kinds.values())
    reach = question.number("arm_length") + question.number("rod_length")
    jumps = max(_jumps(question, waveform, volts, registry) for waveform, volts in kinds.items())
    own = Distance(_up(reach + jumps), REACH, "anybody")
    notes = [*air.notes, *wave.notes, PERMISSION]
    rules = list(_rules(kinds, registry))
    if any(one.ended for one in rules):
        notes.append(
            "The published approach distances end below this voltage: more than their last rows is asked here."
        )
    distances = sorted([own, *rules], key=lambda one: -one.distance)
    largest = distances[0].distance
    results: dict[str, object] = {"keep_back": distances[0].shown, "distances": distances}
    if "distance" in question:
        results["at_the_distance"] = _left(question, reach, kinds, registry)
    cautions = ["rules-first", "not-a-barrier", "discharge-first"]
    if "capacitance" in question:
        capacitance = question.number("capacitance")
        results["stored_energy"] = Quantity(capacitance * peak**2 / 2, "energy")
        results["charge"] = Quantity(capacitance * peak, "charge")
        cautions.append("below-a-limit")
    else:
        cautions.append("charge-unknown")
    results["not_for"] = NOT_FOR
    metres, volts = f"{_up(largest):g} m", question.number("voltage")
    read = as_read(question) if measure_of(question, wave.waveform) != "peak" else f"{said(volts, 'voltage')} peak"
    sentence = (
        f"People stay outside a locked barrier {metres} off or further: the largest of what published rules and a "
        f"person's reach say for {read}{', of any form' * (len(kinds) > 1)}. {PERMISSION}"
    )
    return Answer(
        "spectators",
        _asked(question, wave) | air.asked | _as_understood(question, wave),
        results,
        notes=notes,
        cautions=tuple(cautions),
        first=("cautions",),
        lead=Lead(sentence, "Keep people back", metres, "rules-first"),
    )


def _up(length: float) -> float:
    """Return a distance [m] rounded up to a centimetre."""
    return math.ceil(length * 100 - 1e-6) / 100


def _kinds(question: Question, wave: Waveform) -> dict[str, float]:
    """Return the waveforms that the voltage may have, each with its highest peak [V]."""
    measure, kinds = question.key("measure"), [wave.waveform]
    if "waveform" in question.assumed:
        kinds = list(WAVEFORM[0].choices if "frequency" not in question else PERIODIC)
    # an rms value is one of a voltage that lasts
    lasting = [one for one in kinds if len(kinds) == 1 or measure != "rms" or one in ("ac", "dc")]
    return {one: peaks_of(question, one).high for one in lasting}


def _asked(question: Question, wave: Waveform) -> Echo:
    own = Echo.of(question, (one.name for one in PARAMETERS[:6]), {"voltage": measure_of(question, wave.waveform)})
    return own | measure_taken(question, wave.waveform)


def _as_understood(question: Question, wave: Waveform) -> Echo:
    if "waveform" not in question.assumed:
        return wave.asked
    return Echo.taken({"waveform": "any"}) | Echo.of(question, ("frequency",))


def _typed(question: Question, waveform: str) -> list[tuple[str, str]]:
    """Return what other lookups are asked with, at a waveform."""
    typed = dict(question.typed_of((*ATMOSPHERE, *WAVEFORM)))
    return list({**typed, "waveform": waveform}.items())


def _jumps(question: Question, waveform: str, peak: float, registry: Registry) -> float:
    """Return the gap [m] above which unknown electrodes hold the voltage."""
    found = gap.for_voltage(peak, _typed(question, waveform), registry)
    if found.nothing:
        return 0.0  # no gap is known to break down at so little: what is held reaches, and no spark beyond it
    held = [one.holds_above for one in found.rising if one.holds_above is not None]
    if not held:
        raise OutsideValidity.about("voltage", "No method says how far this voltage jumps from unknown electrodes.")
    return max(held)


@dataclass(frozen=True)
class Distance:
    """How far off [m], what that rests on, and for whom it was written."""

    distance: float
    basis: str
    for_whom: str
    ended: bool = False

    @property
    def shown(self) -> Quantity:
        """The distance as answers show it."""
        return distance(self.distance)

    def block(self) -> dict[str, object]:
        """Return it as answers show it."""
        return {"distance": self.shown, "basis": self.basis, "for_whom": self.for_whom}


def _rules(kinds: Mapping[str, float], registry: Registry) -> Iterator[Distance]:
    """Yield the approach distances of published rules for people without training, each for what asks most.

    Where the tables end below the voltage, their last rows stand: no less is asked above them.
    """
    supplies = {"ac": [volts / SINE for one, volts in kinds.items() if one == "ac"]}
    supplies["dc"] = [volts for one, volts in kinds.items() if one != "ac"]
    found: dict[tuple[str, str, str], Distance] = {}
    for supply, volts in supplies.items():
        if not volts:
            continue
        nominal, last = max(volts), approach.last_named(supply, registry.reference)
        ended = f" (its table ends at {said(last, 'voltage')})" if nominal > last * (1 + ROUNDING) else ""
        for one in approach.named(min(nominal, last), supply, UNQUALIFIED, registry.reference):
            key = (one.regulation, one.boundary, one.person)
            if one.distance is not None and (key not in found or found[key].distance < one.distance):
                basis = f"{one.regulation}, {one.boundary}".rstrip(", ") + ended
                found[key] = Distance(one.distance, basis, WHOM[one.person], bool(ended))
    yield from found.values()


def _left(question: Question, reach: float, kinds: Mapping[str, float], registry: Registry) -> dict[str, object]:
    left = question.number("distance") - reach
    if left <= 0:
        return {"left": Quantity(0.0, "length"), "word": "within reach: the live part can be touched"}
    fields: dict[str, object] = {"left": Quantity(left, "length")}
    try:
        jumps = {one: breakdown.lowest(left, _typed(question, one), registry) for one in kinds}
    except OutsideValidity:
        jumps = {}
    found = {one: volts for one, volts in jumps.items() if volts is not None}
    if not found or len(found) < len(kinds):
        return fields | {"word": "no method says what jumps so far"}
    word = REACHED if any(kinds[one] >= volts for one, volts in found.items()) else NOT_REACHED
    return fields | {"may_jump_from": voltage(min(found.values())), "word": word}
