"""What a guidance question holds: its echo with the measure of every voltage, and refusals that say what is needed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from service import units
from service.errors import BadQuestion, Fault
from service.parameters import Question

NO_MEASURES: Mapping[str, str] = MappingProxyType({})


def echo(
    question: Question, measures: Mapping[str, str] = NO_MEASURES, further: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return the ``asked`` block: every value as understood, what else was taken, and what of it was assumed.

    Parameters
    ----------
    question : Question
    measures : mapping of str to str
        Measure of the voltages that are not peak values.
    further : mapping, optional
        Values that were taken without being a parameter, in answer units; they are assumptions.
    """
    asked = {
        name: _shown(question, name, measures.get(name)) for name in question.parameters if name in question.values
    }
    taken = {name: value for name, value in (further or {}).items() if name not in asked}
    assumed = [name for name in asked if name in question.assumed] + list(taken)
    return {**asked, **taken, "assumed": assumed}


def _shown(question: Question, name: str, measure: str | None) -> Any:
    parameter, value = question.parameters[name], question.values[name]
    if measure is not None and not isinstance(value, tuple | str):
        return units.quantity(float(value), parameter.dimension, measure=measure)
    return parameter.show(value)


def needed(names: Iterable[str], detail: str) -> BadQuestion:
    """Return the error that something is missing, with one fault per parameter that would mend it."""
    return BadQuestion(detail, [Fault(name, detail) for name in names])


def contradiction(first: str, second: str, why: str = "") -> BadQuestion:
    """Return the error that two parameters contradict each other."""
    detail = f"{first} and {second} contradict each other; give one of them.{' ' + why if why else ''}"
    return BadQuestion(detail, [Fault(first, detail), Fault(second, detail)])


def volts(value: float) -> str:
    """Return a voltage [V] in words."""
    unit = "V" if value < 1e3 else "kV"
    return f"{units.shown(value, 'voltage', unit):.6g} {unit}"


def millimetres(value: float) -> str:
    """Return a length [m] in words."""
    return f"{units.shown(value, 'length'):.6g} mm"


def kilohertz(value: float) -> str:
    """Return a frequency [Hz] in words."""
    return f"{units.shown(value, 'frequency'):.6g} kHz"


def quantity(value: float, dimension: str, measure: str | None = None) -> dict[str, Any]:
    """Return a calculated SI value as answers show it, without the last binary digits of products and conversions."""
    block = units.quantity(value, dimension, measure=measure)
    return {**block, "value": float(f"{block['value']:.12g}")}


def distance(value: float) -> dict[str, Any]:
    """Return a calculated length [m] as answers show it."""
    return quantity(value, "length")
