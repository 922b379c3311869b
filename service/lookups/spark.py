"""/v1/spark: what made this spark, and whether a claimed voltage can be true."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service import units
from service.answers.blocks import also_block, chosen_method, corrections_block, voltage
from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import Answer, Lookup
from service.answers.measure import MEASURE, Reading, asked_voltage, readings
from service.answers.outside import refusal
from service.answers.point import gas_cautions, point_cautions
from service.answers.registry import Registry
from service.answers.situation import (
    ATMOSPHERE,
    FRACTION,
    Situation,
    electrode_parameters,
    gas_parameter,
    one,
    situation,
)
from service.answers.waveform import WAVEFORM
from service.bench import spark_picture
from service.bench.spark_claim import RUNNING, Band, Zones
from service.bench.spark_shapes import Shape, named, shapes, zones
from service.errors import BadQuestion, Fault, OutsideValidity
from service.parameters import Parameter, Question

LENGTH = Parameter(
    "length",
    "length",
    "Length of the spark: the gap that it jumped.",
    required=True,
    example="9mm",
    low=1e-9,
    high=1e3,
)
CLAIM = (
    Parameter("claimed_voltage", "voltage", "The voltage that is claimed.", measured=True, example="27kV", high=1e9),
    MEASURE,
)
SPARK = (
    Parameter(
        "spark",
        "choice",
        "Whether this is the first spark between cold electrodes, or one that is running.",
        default="first",
        choices=("first", "running"),
    ),
    Parameter(
        "path",
        "choice",
        "Whether the spark went through air (or gas), or along a surface.",
        default="air",
        choices=("air", "surface"),
    ),
)
RESULTS: Mapping[str, str] = {
    "voltage_by_electrodes": "What each electrode shape needs for a first spark of this length, by rising voltage; "
    "sizes that were not asked are those of the example.",
    "bracket": "Between sharp points and a uniform field.",
    "claim": "Verdict on the claimed voltage, the shapes that fit it, and why.",
    "readings": "With measure=unknown: the verdict for each way of reading the claim.",
}
RUNNING_NOTE = "The voltages are those of a first spark between cold electrodes; the running spark tells nothing."


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    return Lookup(
        "spark",
        "What made this spark",
        "The voltage that a first spark of a length needs, by electrode shape, and what it says of a claimed voltage.",
        (
            LENGTH,
            *CLAIM,
            *SPARK,
            *electrode_parameters(registry),
            gas_parameter(registry),
            FRACTION,
            *ATMOSPHERE,
            *WAVEFORM,
        ),
        lambda question: answer(question, registry),
        example="length=9mm&claimed_voltage=27kV",
        results=RESULTS,
    )


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the length of a spark says.

    Parameters
    ----------
    main : Evaluation
        Of the asked electrodes, with every method.
    shapes : list of Shape
        One where the electrodes are told.
    bracket : Evaluation
        Of unknown electrodes; it may have no answer where the electrodes are told.
    judge : Zones or Band
        Judges a claim.
    running : bool
        Whether the spark was running.
    """

    main: Evaluation
    shapes: list[Shape]
    bracket: Evaluation
    judge: Zones | Band
    running: bool

    def verdict(self, reading: Reading) -> tuple[str, str]:
        """Return verdict and explanation for a reading of the claim."""
        return RUNNING if self.running else self.judge.verdict(reading.low, reading.high)

    def fitting(self, given: Sequence[Reading]) -> list[str]:
        """Return the keys of the shapes whose estimate holds some reading of the claim."""
        if self.running:
            return []
        bands = {shape.key: shape.band for shape in self.shapes if shape.band.sharp}
        return [key for key, band in bands.items() if any(band.holds(one.low, one.high) for one in given)]


def answer(question: Question, registry: Registry) -> Answer:
    """Return what a spark says.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    BadQuestion
        When parameters contradict each other.
    OutsideValidity
        When the spark ran along a surface, or no method answers at its length.
    """
    _refuse_surface(question)
    here = situation(question, registry)
    found = evidence(question, here, registry)
    asked = _asked(question, here)
    given = _claim(question, here)
    chosen = found.main.preferred()
    results = _results(found, given)
    notes = [*here.notes, *here.arrangement.notes, *chosen.estimate.notes, *[RUNNING_NOTE] * found.running]
    return Answer(
        "spark",
        asked,
        results,
        chosen_method(found.main),
        also_block(found.main),
        corrections_block(found.main),
        notes,
        ("first-spark", *point_cautions(found.main), "ozone", "fire"),
        gas_cautions(found.main.case, registry),
        title=f"A spark of {units.shown(question.number('length'), 'length'):.4g} mm",
        figure=lambda: spark_picture.figure(found.shapes, found.main, question, results.get("claim")),
    )


def _refuse_surface(question: Question) -> None:
    if question.key("path") == "surface":
        detail = (
            "A spark along a surface is not answered: it flashes over at a fraction of what air holds, and dirt, "
            "moisture and the shape of the surface decide the fraction. Distances along surfaces are at /v1/creepage."
        )
        error = OutsideValidity(detail, [Fault("path", detail, ("air",))])
        error.suggestion = {"path": "air"}
        raise error


def evidence(question: Question, here: Situation, registry: Registry) -> Evidence:
    """Return what the length of the spark says.

    Parameters
    ----------
    question : Question
    here : Situation
    registry : Registry

    Raises
    ------
    OutsideValidity
        When no method answers at this length.
    """
    length, running = question.number("length"), question.key("spark") == "running"
    if "outer_diameter" in question:
        detail = "The outer diameter follows from the length of the spark; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    if here.arrangement.completes is not None:
        question.number("inner_diameter")
    main = named(here, length, every=True)
    if not main.answered[0]:
        error = refusal(here.arrangement, main.case)
        error.suggestion = {"length": f"{units.shown(length, 'length'):.6g}mm", "electrodes": "uniform-field"}
        raise error
    case = replace(here.case, gap=one(length), dimensions={}, options={})
    bracket = evaluate(registry.arrangement("unknown"), case)
    if here.arrangement.key == "unknown":
        found = shapes(here, length, registry)
        return Evidence(main, found, bracket, zones(found, bracket), running)
    shape = Shape(main)
    uniform = evaluate(registry.arrangement("uniform-field"), case)
    return Evidence(main, [shape], bracket, shape.widened(float(uniform.high[0])), running)


def _claim(question: Question, here: Situation) -> tuple[Reading, ...]:
    if "claimed_voltage" not in question:
        if question.given("measure"):
            raise BadQuestion.about("measure", "measure says how claimed_voltage was read; give claimed_voltage too.")
        return ()
    return readings(question.number("claimed_voltage"), question.key("measure"), here.case.waveform)


def _asked(question: Question, here: Situation) -> dict[str, Any]:
    first: dict[str, Any] = {"length": units.quantity(question.number("length"), "length")}
    names = ["spark", "path"]
    if "claimed_voltage" in question:
        first["claimed_voltage"] = asked_voltage(question, "claimed_voltage")
        names = ["measure", *names]
    block = here.echo(first | {name: question.key(name) for name in names})
    own = [name for name in names if name in question.assumed]
    return block | {"assumed": [*own, *block["assumed"]]}


def _results(found: Evidence, given: Sequence[Reading]) -> dict[str, Any]:
    fields: dict[str, Any] = {"voltage_by_electrodes": [shape.block() for shape in found.shapes]}
    if found.bracket.answered[0]:
        ends = (float(found.bracket.low[0]), float(found.bracket.high[0]))
        fields["bracket"] = voltage(float("nan"), *ends)
    if given or found.running:
        fields["claim"] = _judged(found, given)
    if len(given) > 1:
        fields["readings"] = [_reading(found, reading) for reading in given]
    return fields


def _judged(found: Evidence, given: Sequence[Reading]) -> dict[str, Any]:
    verdicts = [found.verdict(reading) for reading in given] or [RUNNING]
    words = {verdict for verdict, _ in verdicts}
    verdict, why = verdicts[0] if len(words) == 1 else ("cannot-tell", DEPENDS)
    return {"verdict": verdict, "electrodes_that_fit": found.fitting(given), "explanation": why}


DEPENDS = "The verdict depends on whether peak, rms or peak-to-peak was claimed: see the readings."


def _reading(found: Evidence, reading: Reading) -> dict[str, Any]:
    verdict, why = found.verdict(reading)
    value = reading.high if reading.sharp else float("nan")
    ends = () if reading.sharp else (reading.low, reading.high)
    return {
        "measure": reading.measure,
        "peak_voltage": voltage(value, *ends),
        "verdict": verdict,
        "explanation": why,
    }
