"""/v1/source-check: can the rating of a source be true?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup, parameters_of
from service.answers.registry import Registry
from service.answers.situation import (
    ATMOSPHERE,
    MEASURE,
    MIXED,
    WAVEFORM,
    WAVEFORMS,
    gas_parameter,
    read_atmosphere,
    read_waveform,
)
from service.bench.power import JUDGES, Balance, OutputReading, Typed, output_readings
from service.bench.spark import Claim, Verdict
from service.errors import BadQuestion, ServiceError
from service.judgement import CANNOT_TELL, Allowances
from service.lookups import spark
from service.parameters import Parameter, Question, read_question
from service.units import Quantity

CURRENT_IS = Parameter(
    "output_current_is",
    "choice",
    "What the claimed current is: an average at the claimed voltage, into a short, or the peak of a pulse.",
    default="unknown",
    choices=("unknown", *JUDGES),
)
RATING = (
    Parameter(
        "input_voltage", "voltage", "Voltage at the input, direct or rms.", required=True, example="24.0V", high=1e7
    ),
    Parameter(
        "input_current", "current", "Mean or rms current at the input.", required=True, example="2.00A", high=1e6
    ),
    Parameter("output_voltage", "voltage", "Claimed output voltage.", required=True, example="12kV", high=1e9),
    Parameter("output_current", "current", "Claimed output current.", example="30mA", high=1e6),
    Parameter("pulse_energy", "energy", "Claimed energy of one pulse.", example="50mJ", high=1e9),
)
SPARK_LENGTH = Parameter("spark_length", "length", "Length of its first spark.", example="9.0mm")

SPARK_NAMES: Mapping[str, str] = {
    "spark_length": "length",
    "spark_length_is": "length_is",
    "output_voltage": "claimed_voltage",
}
"""Names here to names of the same things in the question of a spark; others are called the same."""
STEADY = ("ac", "dc")
"""Waveforms that have an rms value."""
SURROUNDINGS = (*ATMOSPHERE, *WAVEFORM)
RESULTS: Mapping[str, str] = {
    "input_power": "What goes in.",
    "claimed_output_power": "Claimed voltage times claimed current.",
    "largest_output_current": "Largest mean current at the claimed voltage, without any loss.",
    "largest_pulse_energy": "With repetition_frequency: largest energy of one pulse, without any loss.",
    "readings": "The verdict for each way of reading the claimed current, and on a claimed pulse energy.",
    "spark": "With spark_length: what a first spark of this length says of the claimed voltage, as /v1/spark says it.",
    "verdict": "Over all: possible, impossible, more-than-claimed (a hazard) or cannot-tell.",
    "explanation": "Why.",
}
METHOD: Mapping[str, object] = {
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
    "The last digit typed is a tolerance: 24V is 23.5 to 24.5 V, 24.0V is 23.95 to 24.05 V.",
]
NO_CLAIM = "No current and no energy is claimed: the balance says only what it can give at most."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    told = (*RATING, CURRENT_IS, SPARK_LENGTH, replace(spark.LENGTH_IS, name="spark_length_is"))
    around = (replace(MEASURE, default="unknown"), gas_parameter(registry), *MIXED, *SURROUNDINGS)
    return Lookup(
        "source-check",
        "Source check",
        "Whether the claimed output of a source can be true, by what goes in and by its spark.",
        tuple(replace(parameter, digits=True) for parameter in (*told, *around)),
        lambda question: answer(question, registry),
        example="input_voltage=24.0V&input_current=2.00A&output_voltage=12kV&output_current=30mA&measure=peak"
        "&waveform=dc",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the verdict on a claimed rating.

    Raises
    ------
    BadQuestion
        When parameters contradict each other, or belong to a spark and none is given.
    OutsideValidity
        When a spark of the length given is covered by no method.
    """
    read_atmosphere(question, registry)  # refuses contradictions, with a spark or without
    balance = _balance(question, Allowances.of(registry.reference))
    readings = output_readings(balance, question.key("output_current_is"))
    told = _spark(question, registry)
    jumped = None if told is None else told.answer
    results: dict[str, object] = dict(_powers(balance))
    if readings:
        results["readings"] = [_block(reading) for reading in readings]
    if told is not None:
        results["spark"] = _spark_block(told)
    verdict, why = over_all(readings, None if told is None or told.says is None else told.says.verdict)
    return Answer(
        "source-check",
        _asked(question, jumped),
        results | {"verdict": verdict, "explanation": why},
        METHOD,
        notes=[*NOTES, *(jumped.notes if jumped else ())],
        cautions=("mean-current", *(jumped.cautions if jumped else ())),
        gas_cautions=jumped.gas_cautions if jumped else (),
        lead=Lead(why, "Verdict on the claim", verdict.replace("-", " "), "mean-current"),
    )


def _balance(question: Question, allowances: Allowances) -> Balance:
    def known(name: str) -> Typed | None:
        return Typed(question.number(name), question.half_digit(name)) if name in question else None

    half, measure = question.half_digit("output_voltage"), question.key("measure")
    claim = Claim(question.number("output_voltage"), half, measure)
    waveforms: tuple[str, ...] = (_waveform(question),) if question.given("waveform") or pulsed(question) else WAVEFORMS
    if measure == "rms":
        claim.readings(_waveform(question))  # refuses the rms value of an impulse
        waveforms = tuple(form for form in waveforms if form in STEADY)
    return Balance(
        Typed(question.number("input_voltage"), question.half_digit("input_voltage")),
        Typed(question.number("input_current"), question.half_digit("input_current")),
        claim,
        known("output_current"),
        question.optional("repetition_frequency"),
        known("pulse_energy"),
        waveforms,
        allowances.label,
    )


def pulsed(question: Question) -> bool:
    """Return whether pulses are told by their repetition frequency alone."""
    return "repetition_frequency" in question and not question.given("waveform")


def _waveform(question: Question) -> str:
    """Return the waveform; one told by its pulses alone is a pulse train.

    Raises
    ------
    BadQuestion
        When a polarity or a frequency does not belong to the waveform.
    """
    return "pulse-train" if pulsed(question) else read_waveform(question).waveform


def _powers(balance: Balance) -> dict[str, Quantity]:
    fields = {"input_power": Quantity(balance.input_power, "power")}
    if balance.claimed_output_power is not None:
        fields["claimed_output_power"] = Quantity(balance.claimed_output_power, "power")
    fields["largest_output_current"] = Quantity(balance.largest_output_current, "current")
    if balance.largest_pulse_energy is not None:
        fields["largest_pulse_energy"] = Quantity(balance.largest_pulse_energy, "energy")
    return fields


def _block(reading: OutputReading) -> dict[str, str]:
    return {"output_current_is": reading.key, "verdict": reading.verdict, "explanation": reading.explanation}


def _spark(question: Question, registry: Registry) -> spark.Told | None:
    """Return the answer of the spark lookup to the same question, in the digits typed; nothing without a spark."""
    if "spark_length" not in question:
        if question.given("spark_length_is"):
            raise BadQuestion.about("spark_length_is", "spark_length_is belongs to spark_length; give that too.")
        return None
    known = parameters_of(spark.lookup, registry)
    names = {parameter.name for parameter in known}
    pairs = [(SPARK_NAMES.get(name, name), text) for name, text in question.typed.items()]
    pairs += [("waveform", "pulse-train")] * pulsed(question)
    own = [(name, text) for name, text in pairs if name in names]
    try:
        return spark.told(read_question("spark", known, own), registry)
    except ServiceError as error:
        raise error.called({there: here for here, there in SPARK_NAMES.items()}) from error


def _spark_block(told: spark.Told) -> dict[str, object]:
    chosen = told.main.preferred()
    block: dict[str, object] = {"bracket": told.bracket, **(told.says.block() if told.says else {})}
    block |= {"title": chosen.method.title} | ({"row": chosen.estimate.row} if chosen.estimate.row else {})
    return block | {"provenance": chosen.estimate.provenance or chosen.method.provenance}


def over_all(readings: Sequence[OutputReading], spark_says: Verdict | None) -> tuple[str, str]:
    """Return verdict and explanation over all readings and the spark; a hazard comes before a doubt."""
    said = spark_says or Verdict("", "")
    if said.word == "more-than-claimed":
        return said.word, said.explanation
    if said.word == "too-high":
        return "impossible", f"The spark refutes the claimed voltage. {said.explanation}"
    verdicts = {reading.verdict for reading in readings}
    if said.depends_on and verdicts != {"impossible"}:
        return CANNOT_TELL, said.explanation
    if not readings:
        return CANNOT_TELL, NO_CLAIM
    if len(verdicts) == 1:
        return readings[0].verdict, readings[0].explanation
    return CANNOT_TELL, "It depends on what the claimed output is: " + ", ".join(
        f"{reading.key}: {reading.verdict}".replace("-", " ") for reading in readings
    ) + "."


def _asked(question: Question, jumped: Answer | None) -> Echo:
    """Return what was asked; the surroundings only with a spark, which they are for."""
    measures = {"input_voltage": "rms", "output_voltage": question.key("measure")}
    around = {parameter.name for parameter in SURROUNDINGS} | {"gas", "spark_length_is", *(one.name for one in MIXED)}
    names = [name for name in question.parameters if question.given(name) or name not in around]
    asked = Echo.of(question, names, measures)
    if jumped is None:
        return asked
    of_spark = ("gas", "pressure", "temperature", "absolute_humidity", "waveform", "polarity", "frequency")
    taken = {name: jumped.asked.values[name] for name in of_spark if name in jumped.asked.values}
    taken["spark_length_is"] = jumped.asked.values["length_is"]
    return asked | Echo(taken, tuple(name for name in taken if not question.given(name)))
