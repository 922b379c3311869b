"""/v1/hazard: what is stored and what the source gives, beside published limits, the strictest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from service import units
from service.answers.blocks import source_block
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.parameters import Question
from service.reference import Reference
from service.standards.asking import echo, volts
from service.standards.circuit import PARAMETERS, Circuit, circuit_of
from service.standards.limits import Limit, shown, strictest_first
from service.standards.practice_limits import practice_limits
from service.standards.product_limits import capacitor_limits, product_limits, steady_limits
from service.standards.reading import together
from service.standards.regimes import current_bands, exposure, ignition, regime_notes, sparks, x_rays

LEFT = 60.0
"""Voltage to which the discharge time is given [V], direct; the ES1 limit of IEC 62368-1."""
FAST_TO_FEEL = 10e3
"""Frequency above which the caution on burns belongs to the answer [Hz]."""
RESULTS = {
    "stored_energy": "Energy of the charged capacitor.",
    "charge": "Charge of the capacitor.",
    "limits": "Published limits, strictest first: exceeded is true, false, or null where an input is missing.",
    "discharge_time": "Through bleed_resistance to 60 V.",
    "discharge_times": "Through bleed_resistance to each limit.",
    "stick_peak_current": "First current through the discharge stick.",
    "stick_energy": "Energy that the stick's resistor takes up.",
    "current_bands": "Thresholds of effects of current on the body.",
    "ignition": "Published minimum ignition energies, lowest first.",
    "exposure": "Workplace limits of ozone and X-rays, where the voltage calls for them.",
}
NO_FREQUENCY = (
    "No frequency was given: limits of direct and of alternating voltage and current are both listed; rms and peak are "
    "converted as for a sine."
)
SINE = "rms and peak are converted as for a sine."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    return Lookup(
        "hazard",
        "Stored charge, energy and current beside published limits",
        "What a circuit stores and gives, beside published limits, with discharge times.",
        PARAMETERS,
        partial(answer, registry=registry),
        example="voltage=12kV&capacitance=4.4nF&bleed_resistance=200Mohm&stick_resistance=10kohm",
        single_values=False,
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return what a circuit stores beside the limits.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    BadQuestion
        When nothing is given that could be compared, or one thing is said twice.
    """
    circuit, reference = circuit_of(question), registry.reference
    limits = strictest_first(every_limit(circuit, reference), circuit)
    results = _stored(circuit)
    results["limits"] = [one.block() for one in limits]
    results |= _discharge(circuit, limits) | _stick(circuit)
    results["current_bands"] = current_bands(circuit, reference)
    results["ignition"] = ignition(circuit, reference)
    if given_off := exposure(circuit, reference):
        results["exposure"] = given_off
    return Answer(
        "hazard",
        echo(question),
        results,
        _method(reference, limits),
        notes=list(_notes(circuit, reference)),
        cautions=tuple(_cautions(circuit, reference)),
        title="Stored charge, energy and current beside published limits",
    )


def every_limit(circuit: Circuit, reference: Reference) -> Iterator[Limit]:
    """Yield every limit that applies to a circuit.

    Parameters
    ----------
    circuit : Circuit
    reference : Reference
    """
    for part in (product_limits, capacitor_limits, steady_limits, practice_limits):
        yield from part(circuit, reference)


def _stored(circuit: Circuit) -> dict[str, Any]:
    pairs = {"stored_energy": (circuit.energy, "energy"), "charge": (circuit.charge, "charge")}
    return {name: shown(value, dimension) for name, (value, dimension) in pairs.items() if value is not None}


def _discharge(circuit: Circuit, limits: Sequence[Limit]) -> dict[str, Any]:
    to_sixty = circuit.time_to(LEFT)
    if to_sixty is None:
        return {}
    times: dict[str, dict[str, Any]] = {}
    for one in limits:
        if one.left is not None:
            time = circuit.time_to(one.left)
            times.setdefault(
                one.key,
                {
                    "key": one.key,
                    "title": one.title,
                    "voltage": shown(one.left, "voltage"),
                    "time": units.quantity(float(time or 0.0), "time"),
                },
            )
    return {"discharge_time": units.quantity(to_sixty, "time"), "discharge_times": list(times.values())}


def _stick(circuit: Circuit) -> dict[str, Any]:
    if circuit.stick_resistance is None or circuit.voltage is None:
        return {}
    found = {"stick_peak_current": units.quantity(circuit.voltage / circuit.stick_resistance, "current")}
    if circuit.energy is not None:
        found["stick_energy"] = shown(circuit.energy, "energy")
    return found


def _method(reference: Reference, limits: Sequence[Limit]) -> dict[str, Any]:
    table = reference.table("shock-limits")
    return {
        "key": "published-limits",
        "title": "Limits of product standards and thresholds of laboratory practice; each names its own source",
        "kind": "table",
        "validity": table.description.validity or "",
        "source": source_block(table.source),
        "provenance": together(word for one in limits for word in one.provenance.split(" / ")),
    }


def _notes(circuit: Circuit, reference: Reference) -> Iterator[str]:
    if circuit.charge is None:
        yield "The stored charge is not known: for limits on charge, energy and capacitance exceeded is null."
    table = reference.table("iec-62368-1-charged-capacitor")
    last = float(table["es1_voltage"].max())
    if circuit.voltage is None and circuit.capacitance is None:
        yield "IEC 62368-1 limits a charged capacitor by voltage and capacitance; neither is known: it is not listed."
    elif circuit.voltage is not None and circuit.voltage > last:
        yield f"The ES1 limits for a charged capacitor end at {volts(last)}; above it only a capacitance is looked up."
    yield NO_FREQUENCY if circuit.frequency is None else SINE
    if circuit.bleed_resistance is not None and circuit.time_to(LEFT) is None:
        yield "A discharge time needs the voltage and the capacitance, or the charge, beside the resistor."
    if circuit.stick_resistance is not None and circuit.voltage is not None:
        yield (
            "Stick: the peak current is voltage over resistance at the first touch; the whole stored energy ends in "
            "the resistor, which must bear it and the full voltage; then short without a resistor and leave it shorted."
        )
    yield from regime_notes(circuit, reference)


def _cautions(circuit: Circuit, reference: Reference) -> Iterator[str]:
    if circuit.charge is None:
        yield "charge-unknown"
    yield "below-a-limit"
    if circuit.bleed_resistance is not None:
        yield "bleeder"
    yield "self-charge"
    if circuit.frequency is not None and circuit.frequency > FAST_TO_FEEL:
        yield "fast-current"
    yield "fire"
    if sparks(circuit, reference):
        yield "ozone"
    if x_rays(circuit, reference):
        yield "x-rays"
    yield "local-codes"
