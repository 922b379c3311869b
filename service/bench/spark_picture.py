"""The claim picture: what each electrode shape needs as bars, and the claim, each way of reading it, as lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from service import units
from service.answers.evaluate import Evaluation
from service.answers.figure import Axis, Bar, Figure
from service.answers.measure import Reading, readings
from service.bench.spark_shapes import Shape
from service.parameters import Question

LABELS = {
    "peak": "peak",
    "rms": "rms",
    "peak-to-peak": "peak-to-peak",
    "peak-to-peak-symmetrical": "peak-to-peak",
}
"""Ways of reading a claim, in words."""


def figure(shapes: Sequence[Shape], main: Evaluation, question: Question, claim: Mapping[str, Any] | None) -> Figure:
    """Return the picture of a spark and of the claim on it.

    Parameters
    ----------
    shapes : sequence of Shape
    main : Evaluation
        Of the asked electrodes.
    question : Question
    claim : mapping or None
        The claim block of the answer.
    """
    length = units.shown(question.number("length"), "length")
    reason = [claim["explanation"]] if claim else []
    case = main.case
    return Figure(
        f"What a first spark of {length:.4g} mm needs",
        "Bars of peak voltage in kV, one per electrode shape, and the claimed voltage as lines, one per reading.",
        Axis("voltage, peak", "kV", logarithmic=False),
        Axis("electrodes", ""),
        bars=tuple(_bar(shape) for shape in shapes),
        lines=_lines(question, case.waveform),
        sentences=(
            *reason,
            f"{case.gas}, relative density {float(case.relative_density[0]):.3f}, {case.waveform}.",
            "Judge only the first jump between cold electrodes.",
        ),
    )


def _bar(shape: Shape) -> Bar:
    ends = (shape.band.low, shape.band.high, shape.value)
    low, high, value = (units.shown(volts, "voltage") for volts in ends)
    return Bar(shape.label, low, high, value)


def _lines(question: Question, waveform: str) -> tuple[tuple[str, float], ...]:
    """Return the claim as it was read, and each way of reading it where nobody said which."""
    if "claimed_voltage" not in question:
        return ()
    measure = question.key("measure") if question.given("measure") else "unknown"
    given = readings(question.number("claimed_voltage"), measure, waveform)
    lines = {(LABELS[reading.measure], peak): None for reading in given for peak in _ends(reading, measure)}
    return tuple((f"claim as {label}", units.shown(volts, "voltage")) for label, volts in lines)


def _ends(reading: Reading, measure: str) -> tuple[float, ...]:
    """Return where a reading is drawn; the upper end of peak-to-peak is the line of the peak, where that is drawn."""
    return (reading.low,) if reading.sharp or measure == "unknown" else (reading.low, reading.high)
