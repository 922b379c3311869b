"""The secondary coefficient of a Paschen question: given as a number, or by cathode from the table of cathodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.answers.registry import Registry
from service.errors import BadQuestion, Fault
from service.lookups.paschen_sweep import closed_forms
from service.parameters import Parameter, Question

GAMMA = Parameter(
    "gamma",
    "number",
    "Secondary coefficient of the cathode; for closed forms only.",
    low=1e-8,
    high=0.5,
    example="0.02",
)
UNNAMED = ("unspecified", "any-metal")
"""Cathodes of the table that name no material."""


def cathode_parameter(registry: Registry) -> Parameter:
    """Return the cathode parameter with every material of the table of secondary coefficients."""
    table = registry.reference.table("gamma-secondary")
    keys = tuple(key for key in dict.fromkeys(table.text("cathode_key")) if key not in UNNAMED)
    meaning = "Material of the cathode, whose secondary coefficient closed forms then use."
    return Parameter("cathode", "choice", meaning, choices=keys, example="cu", excludes=("gamma",))


@dataclass(frozen=True)
class GivenSecondary:
    """A given secondary coefficient.

    Parameters
    ----------
    value : float or None
        ``None`` where nothing was given: every method uses its own.
    note : str
        Which row of the table of cathodes it is; empty where it is not taken from there.
    """

    value: float | None = None
    note: str = ""


def given_secondary(question: Question, registry: Registry, gas: str) -> GivenSecondary:
    """Return the secondary coefficient that a question gives for a gas.

    Parameters
    ----------
    question : Question
    registry : Registry
    gas : str
        Gas key.

    Raises
    ------
    BadQuestion
        When both gamma and cathode are given, the cathode is not tabulated for the gas, or the gas has no closed form.
    """
    asked = [name for name in ("gamma", "cathode") if name in question]
    if not asked:
        return GivenSecondary()
    if len(asked) == 2:
        detail = "gamma and cathode contradict each other; give one of them."
        raise BadQuestion(detail, [Fault(name, detail) for name in asked])
    forms = closed_forms(registry)
    if not any(gas in m.validity.gases and key in forms for key, m in registry.methods.items()):
        raise BadQuestion.about(asked[0], f"{asked[0]} is for closed forms, and gas={gas} has none.")
    if asked == ["gamma"]:
        return GivenSecondary(question.number("gamma"))
    return _of_cathode(question.key("cathode"), registry, gas)


def _of_cathode(cathode: str, registry: Registry, gas: str) -> GivenSecondary:
    table = registry.reference.table("gamma-secondary").where(gas_key=gas)
    numbers, keys = table["gamma"], table.text("cathode_key")
    rows = [i for i, key in enumerate(keys) if key == cathode and np.isfinite(numbers[i])]
    if not rows:
        known = tuple(key for key in dict.fromkeys(keys) if key not in UNNAMED)
        raise BadQuestion.about("cathode", f"No secondary coefficient of {cathode} in {gas} is tabulated.", known)
    first, *others = (
        f"{numbers[i]:g} ({table.text('conditions')[i]}; {table.text('row_source')[i]}; {table.provenance[i]})"
        for i in rows
    )
    note = f"Secondary coefficient of the cathode: {first}; it depends on the surface, 50 % or worse."
    return GivenSecondary(float(numbers[rows[0]]), " ".join([note, *(f"Another print: {other}." for other in others)]))
