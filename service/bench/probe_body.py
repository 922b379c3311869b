"""The body of a probe check, read strictly: unknown members are refused, every fault is named."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from service.answers.measure import readings as peak_readings
from service.bench.network import Divider
from service.bench.probe_members import (
    FLAT,
    MOST_SETTINGS,
    MOST_SPARKOVERS,
    NESTED,
    NETWORK,
    READING,
    VOLTAGE,
    VOLTAGES,
)
from service.errors import BadQuestion, Fault, did_you_mean, echo
from service.methods import FloatArray
from service.parameters import Parameter, Question, read_question


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


@dataclass
class Reader:
    """Reads parts of a body and keeps every fault.

    Parameters
    ----------
    faults : list of Fault
    """

    faults: list[Fault] = field(default_factory=list)

    def fault(self, parameter: str, detail: str, accepted: Iterable[str] = ()) -> None:
        """Keep a fault."""
        self.faults.append(Fault(parameter, detail, tuple(accepted)))

    def members(self, where: str, given: Mapping[str, Any], known: Sequence[str]) -> dict[str, Any]:
        """Return the known members of an object; keep a fault for every other one."""
        for name in given:
            if name not in known:
                self.fault(where + name[:64], f"'{echo(name)}' is not known here{did_you_mean(name, known)}.", known)
        return {name: value for name, value in given.items() if name in known}

    def question(self, where: str, parameters: Sequence[Parameter], given: Mapping[str, Any]) -> Question | None:
        """Return the question that flat members make, or ``None`` after a fault."""
        pairs = list(self._pairs(where, parameters, given))
        try:
            return read_question("probe-check", parameters, pairs)
        except BadQuestion as error:
            said = {f.parameter for f in self.faults}
            for fault in error.faults:
                if where + fault.parameter not in said:
                    self.faults.append(
                        Fault(where + fault.parameter, where + fault.detail, fault.accepted, fault.valid)
                    )
            return None

    def _pairs(
        self, where: str, parameters: Sequence[Parameter], given: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        for parameter in parameters:
            if parameter.name in given:
                text = self.text(where + parameter.name, given[parameter.name])
                if text is not None:
                    yield parameter.name, text

    def text(self, name: str, value: Any) -> str | None:
        """Return a member as text; a number is taken as it would be written, anything else is a fault."""
        if isinstance(value, str):
            return value
        if isinstance(value, int | float) and not isinstance(value, bool):
            return repr(value)
        self.fault(name, f"{name} must be text, a number with a unit as in a query.")
        return None


def read(body: Mapping[str, Any]) -> Body:
    """Return the body of a probe check as understood.

    Parameters
    ----------
    body : mapping
        JSON structure: quantities as text, ``readings`` a list, ``network`` an object.

    Raises
    ------
    BadQuestion
        Naming every member that is unknown, missing, contradictory or unreadable.
    """
    reader = Reader()
    known = [parameter.name for parameter in (*FLAT, *NESTED)]
    given = reader.members("", body, known)
    question = reader.question("", FLAT, given)
    readings = tuple(_readings(reader, given.get("readings"), question))
    network = _network(reader, given["network"]) if "network" in given else None
    if reader.faults or question is None:
        raise BadQuestion(" ".join(fault.detail for fault in reader.faults), reader.faults)
    return Body(question, readings, None if network is None else _divider(network), network)


def _readings(reader: Reader, given: Any, question: Question | None) -> Iterator[Reading]:
    if not isinstance(given, list) or not given:
        reader.fault("readings", f"readings is needed: {NESTED[0].meaning}")
        return
    if len(given) > MOST_SETTINGS:
        reader.fault("readings", f"readings has {len(given)} settings; at most {MOST_SETTINGS} are accepted.")
        return
    for place, entry in enumerate(given):
        found = _reading(reader, f"readings[{place}].", entry, question)
        if found is not None:
            yield found


def _reading(reader: Reader, where: str, entry: Any, question: Question | None) -> Reading | None:
    if not isinstance(entry, dict):
        reader.fault(where[:-1], f"{where[:-1]} must be an object with spacing and {VOLTAGES[0]}.")
        return None
    given = reader.members(where, entry, [*(p.name for p in READING), *VOLTAGES])
    own = reader.question(where, READING, given)
    voltages = _voltages(reader, where, given, question)
    if own is None or voltages is None or question is None:
        return None
    sized = own if "sphere_diameter" in own else question
    if "sphere_diameter" not in sized:
        reader.fault("sphere_diameter", "sphere_diameter is needed, for all readings or for each.")
        return None
    return Reading(own.number("spacing"), sized.number("sphere_diameter"), voltages)


def _voltages(reader: Reader, where: str, given: Mapping[str, Any], question: Question | None) -> FloatArray | None:
    names = [name for name in VOLTAGES if name in given]
    if len(names) != 1:
        why = "is needed" if not names else "and the other contradict each other; give one"
        reader.fault(where + VOLTAGES[0], f"{where}{VOLTAGES[0]} {why}: {VOLTAGES[0]} or {VOLTAGES[1]}.")
        return None
    name, values = names[0], given[names[0]]
    if not isinstance(values, list) or not 0 < len(values) <= MOST_SPARKOVERS:
        reader.fault(where + name, f"{where}{name} must be a list of 1 to {MOST_SPARKOVERS} voltages.")
        return None
    volts = [_voltage(reader, f"{where}{name}[{place}]", value) for place, value in enumerate(values)]
    factor = _factor(reader, where + name, question)
    if None in volts or factor is None:
        return None
    return factor * np.array(volts, dtype=np.float64)


def _voltage(reader: Reader, name: str, value: Any) -> float | None:
    text = reader.text(name, value)
    try:
        read = None if text is None else replace(VOLTAGE, name=name).read(text)
    except BadQuestion as error:
        reader.faults.extend(error.faults)
        return None
    return read if isinstance(read, float) else None


def _factor(reader: Reader, name: str, question: Question | None) -> float | None:
    """Return what turns a reading into an indicated peak voltage."""
    if question is None:
        return None
    attenuation = 1.0
    if name.endswith(VOLTAGES[1]):
        if "attenuation" not in question:
            reader.fault("attenuation", f"attenuation is needed with {VOLTAGES[1]}.")
            return None
        attenuation = question.number("attenuation")
    try:
        return attenuation * peak_readings(1.0, question.key("measure"), question.key("waveform"))[0].high
    except BadQuestion as error:
        reader.faults.extend(fault for fault in error.faults if fault not in reader.faults)
        return None


def _network(reader: Reader, given: Any) -> Question | None:
    if not isinstance(given, dict):
        reader.fault("network", f"network must be an object. {NESTED[1].meaning}")
        return None
    known = reader.members("network.", given, [parameter.name for parameter in NETWORK])
    if ("upper_capacitance" in known) != ("lower_capacitance" in known):
        reader.fault("network.upper_capacitance", "network needs both capacitances, or neither.")
    return reader.question("network.", NETWORK, known)


def _divider(network: Question) -> Divider:
    return Divider(
        network.number("upper_resistance"),
        network.number("lower_resistance"),
        network.optional("upper_capacitance"),
        network.optional("lower_capacitance"),
        int(network.number("elements")),
    )
