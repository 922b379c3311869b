"""The body of a probe check, read strictly: unknown members are refused, every fault is named."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.answers.measure import readings as peak_readings
from service.bench.network import Divider
from service.bench.probe_members import VOLTAGES
from service.errors import BadQuestion, Fault
from service.methods import FloatArray
from service.parameters import Given, Question


@dataclass(frozen=True, eq=False)
class Reading:
    """The readings at one setting.

    Parameters
    ----------
    spacing, diameter : float
        [m].
    voltages : ndarray
        Indicated voltages, peak, attenuation applied [V].
    """

    spacing: float
    diameter: float
    voltages: FloatArray


@dataclass(frozen=True, eq=False)
class Body:
    """A probe check as understood.

    Parameters
    ----------
    question : Question
        The flat members.
    readings : tuple of Reading
    divider : Divider or None
    network : Question or None
        The members of the network.
    """

    question: Question
    readings: tuple[Reading, ...]
    divider: Divider | None
    network: Question | None


def read(given: Given) -> Body:
    """Return the body of a probe check as understood.

    Raises
    ------
    BadQuestion
        Naming every member that is missing or contradicts another.
    """
    faults: list[Fault] = []
    question = given.question
    readings = [_reading(one, question, faults) for one in given.parts["readings"]]
    network = given.parts.get("network")
    if network is not None and ("upper_capacitance" in network.question) != ("lower_capacitance" in network.question):
        faults.append(network.fault("upper_capacitance", "upper_capacitance and lower_capacitance go together."))
    if faults:
        unique = list(dict.fromkeys((one.parameter, one.detail) for one in faults))
        raise BadQuestion(" ".join(detail for _, detail in unique), [Fault(*one) for one in unique])
    return Body(
        question,
        tuple(one for one in readings if one is not None),
        None if network is None else _divider(network.question),
        None if network is None else network.question,
    )


def _reading(given: Given, question: Question, faults: list[Fault]) -> Reading | None:
    own = given.question
    sized = own if "sphere_diameter" in own else question
    if "sphere_diameter" not in sized:
        faults.append(Fault("sphere_diameter", "sphere_diameter is needed, for all readings or for each."))
    names = [name for name in VOLTAGES if name in given.parts]
    if len(names) != 1:
        why = "is needed" if not names else "and the other contradict each other; give one"
        faults.append(given.fault(VOLTAGES[0], f"{VOLTAGES[0]} {why}: {VOLTAGES[0]} or {VOLTAGES[1]}."))
        return None
    factor = _factor(names[0], question, faults)
    if factor is None or "sphere_diameter" not in sized:
        return None
    volts = factor * np.array(given.parts[names[0]].values, dtype=np.float64)
    return Reading(own.number("spacing"), sized.number("sphere_diameter"), volts)


def _factor(name: str, question: Question, faults: list[Fault]) -> float | None:
    """Return what turns a reading into an indicated peak voltage."""
    attenuation = 1.0
    if name == VOLTAGES[1]:
        if "attenuation" not in question:
            faults.append(Fault("attenuation", f"attenuation is needed with {VOLTAGES[1]}."))
            return None
        attenuation = question.number("attenuation")
    try:
        return attenuation * peak_readings(1.0, question.key("measure"), question.key("waveform"))[0].high
    except BadQuestion as error:
        faults.extend(error.faults)
        return None


def _divider(network: Question) -> Divider:
    return Divider(
        network.number("upper_resistance"),
        network.number("lower_resistance"),
        network.optional("upper_capacitance"),
        network.optional("lower_capacitance"),
        int(network.number("elements")),
    )
