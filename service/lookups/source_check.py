"""/v1/source-check: can the rating of a source be true?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from service import units
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.bench.power_balance import JUDGES, Balance
from service.lookups import spark
from service.parameters import Parameter, Question, read_question

CURRENT_IS = Parameter(
    "output_current_is",
    "choice",
    "What the claimed current is: an average at the claimed voltage, into a short, or the peak of a pulse.",
    default="unknown",
    choices=("unknown", *JUDGES),
)
PARAMETERS = (
    Parameter(
        "input_voltage", "voltage", "Voltage at the input, direct or rms.", required=True, example="24V", high=1e7
    ),
    Parameter("input_current", "current", "Mean or rms current at the input.", required=True, example="2A", high=1e6),
    Parameter("output_voltage", "voltage", "Claimed output voltage.", required=True, example="12kV", high=1e9),
    Parameter("output_current", "current", "Claimed output current.", required=True, example="30mA", high=1e6),
    CURRENT_IS,
    Parameter("repetition_frequency", "frequency", "Pulses per second.", example="1kHz", high=1e9),
    Parameter("spark_length", "length", "Length of its first spark.", example="9mm", low=1e-9, high=1e3),
)
REFUTES = {"too-high", "too-low"}
"""Verdicts of a spark that no shape of electrodes reconciles with the claimed voltage."""
SPARK_WAVEFORM = "dc"
"""Waveform at which the spark is judged: the one whose bracket is wide for every one-sided voltage."""
RESULTS: Mapping[str, str] = {
    "input_power": "What goes in.",
    "claimed_output_power": "Claimed voltage times claimed current.",
    "largest_output_current": "Largest mean current at the claimed voltage, without any loss.",
    "largest_pulse_energy": "With repetition_frequency: largest energy of one pulse, without any loss.",
    "readings": "The verdict for each way of reading the claimed current.",
    "spark": "With spark_length: what a first spark of this length says of the claimed voltage.",
    "verdict": "Over all: possible, impossible or cannot-tell.",
    "explanation": "Why.",
}
METHOD: Mapping[str, Any] = {
    "key": "power-balance",
    "title": "Power balance",
    "kind": "formula",
    "validity": "mean values over many pulses; the stored energy neither grows nor falls",
    "source": {"key": "energy-conservation", "citation": "Conservation of energy; any textbook"},
    "provenance": "derived",
}
NOTES = [
    "The balance counts no losses: a real source gives less.",
    "Input values are taken as mean power; of an alternating input the power factor lowers it.",
]


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    return Lookup(
        "source-check",
        "Source check",
        "Whether the claimed output of a source can be true, by what goes in and by its spark.",
        PARAMETERS,
        lambda question: answer(question, registry),
        example="input_voltage=24V&input_current=2A&output_voltage=12kV&output_current=30mA",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the verdict on a claimed rating.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    OutsideValidity
        When a spark of the length given is covered by no method.
    """
    balance = Balance(
        question.number("input_voltage"),
        question.number("input_current"),
        question.number("output_voltage"),
        question.number("output_current"),
        question.optional("repetition_frequency"),
    )
    wanted = question.key("output_current_is")
    readings = [_reading(balance, name) for name in JUDGES if wanted in (name, "unknown")]
    jumped = _spark(question, registry) if "spark_length" in question else None
    results = _powers(balance) | {"readings": readings}
    if jumped is not None:
        results["spark"] = _spark_block(jumped)
    verdict, why = over_all(readings, results["spark"]["verdict"] if jumped else "")
    return Answer(
        "source-check",
        _asked(question, jumped),
        results | {"verdict": verdict, "explanation": why},
        METHOD,
        notes=[*NOTES, *([SPARK_NOTE] if jumped else [])],
        cautions=("mean-current", *(jumped.cautions if jumped else ())),
        title="Source check",
    )


def _powers(balance: Balance) -> dict[str, Any]:
    fields = {
        "input_power": units.quantity(balance.input_power, "power"),
        "claimed_output_power": units.quantity(balance.claimed_output_power, "power"),
        "largest_output_current": units.quantity(balance.largest_output_current, "current"),
    }
    if balance.largest_pulse_energy is None:
        return fields
    return fields | {"largest_pulse_energy": units.quantity(balance.largest_pulse_energy, "energy")}


def _reading(balance: Balance, name: str) -> dict[str, Any]:
    verdict, explanation = JUDGES[name](balance)
    return {"output_current_is": name, "verdict": verdict, "explanation": explanation}


SPARK_NOTE = "The spark is judged at 101.3 kPa and 20 degC, one-sided voltage; ask /v1/spark for other conditions."


def _spark(question: Question, registry: Registry) -> Answer:
    length = f"{units.shown(question.number('spark_length'), 'length')!r}mm"
    claim = f"{units.shown(question.number('output_voltage'), 'voltage')!r}kV"
    pairs = [("length", length), ("claimed_voltage", claim), ("waveform", SPARK_WAVEFORM)]
    return spark.answer(read_question("spark", spark.lookup(registry).parameters, pairs), registry)


def _spark_block(jumped: Answer) -> dict[str, Any]:
    claim, method = jumped.results["claim"], jumped.method or {}
    block = {"bracket": jumped.results["bracket"], "verdict": claim["verdict"], "explanation": claim["explanation"]}
    return block | {name: method[name] for name in ("title", "row", "provenance") if name in method}


def over_all(readings: Sequence[Mapping[str, Any]], said: str) -> tuple[str, str]:
    """Return verdict and explanation over all readings and the spark.

    Parameters
    ----------
    readings : sequence of mapping
        Each with ``verdict`` and ``explanation``.
    said : str
        Verdict of the spark; empty without one.
    """
    if said in REFUTES:
        return "impossible", "The spark refutes the claimed voltage, whatever the current."
    verdicts = {one["verdict"] for one in readings}
    if len(verdicts) == 1:
        return readings[0]["verdict"], readings[0]["explanation"]
    return "cannot-tell", "It depends on what the claimed current is: " + ", ".join(
        f"{one['output_current_is']}: {one['verdict']}" for one in readings
    )


def _asked(question: Question, jumped: Answer | None) -> dict[str, Any]:
    shown = {name: question.parameters[name].show(value) for name, value in question.values.items()}
    shown["input_voltage"] |= {"measure": "rms"}
    asked = {name: shown[name] for name in question.parameters if name in shown}
    assumed = [name for name in asked if name in question.assumed]
    if jumped is None:
        return asked | {"assumed": assumed}
    names = ("gas", "pressure", "temperature", "absolute_humidity", "waveform", "polarity")
    taken = {name: jumped.asked[name] for name in names if name in jumped.asked}
    return asked | taken | {"assumed": [*assumed, *taken]}
