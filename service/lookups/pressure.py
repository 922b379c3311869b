"""/v1/pressure: at which pressures a gap breaks down at a voltage; both branches."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from service.answers import inverse
from service.answers.document import Echo
from service.answers.evaluate import refusal
from service.answers.gap_curves import VOLTAGE
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.registry import Registry
from service.answers.results import (
    Found,
    Manner,
    asked_gap,
    asked_method,
    beside,
    least_known,
    method_parameter,
    results,
    searched,
    sized,
)
from service.answers.situation import (
    ATMOSPHERE,
    MEASURE,
    MIXED,
    WAVEFORM,
    Situation,
    as_read,
    electrode_parameters,
    gas_parameter,
    readings,
    situation,
    taken_as_peak,
)
from service.errors import OutsideValidity
from service.lookups.batch_places import PlacesOfVoltages, Sought
from service.lookups.breakdown import GAP
from service.methods import Arrangement, Case
from service.parameters import Question
from service.physics.atmosphere import REFERENCE_PRESSURE, largest_humidity
from service.physics.numbers import Numbers
from service.spoken import said, span, speak
from service.units import ROUNDING, Quantity

SMALLEST_PRESSURE, LARGEST_PRESSURE = 1e-3, 1e7
"""Range that is searched [Pa]; methods end well within it."""

MANNER = Manner(
    "pressure",
    "pressure",
    "gap",
    "On the left branch less pressure holds more, and longer paths than the gap then break first.",
)
FIXED = ("pressure", "altitude", "sea_level_pressure")
"""What is answered here, and hence not asked."""


def case_at(arrangement: Arrangement, case: Case, pressures: Numbers) -> Case:
    """Return a case at many pressures [Pa]; humidity that the air cannot hold is not corrected for.

    A case in plain numbers is laid at a plain number.
    """
    del arrangement  # the same for every arrangement
    many = case if case.is_plain or case.size == pressures.size else case.repeated(pressures.size)
    many = many.but({"pressure": pressures})
    if not case.in_air:
        return many
    of = many.of
    held: Numbers = largest_humidity(many.temperature, of.minimum(pressures, 1e6))
    held = float(held) if many.is_plain else held
    return many.but({"humidity": of.where(many.humidity <= held * (1 + ROUNDING), many.humidity, np.nan)})


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    air = tuple(p for p in ATMOSPHERE if p.name not in FIXED)
    parameters = (
        replace(VOLTAGE, example="1kV"),
        MEASURE,
        replace(GAP, example="10mm"),
        *electrode_parameters(registry, None),
        gas_parameter(registry),
        *MIXED,
        *air,
        *WAVEFORM,
        method_parameter(registry),
    )
    return Lookup(
        "pressure",
        "Pressure for a voltage",
        "The pressures at which a gap breaks down at a voltage, on both branches.",
        parameters,
        lambda question: answer(question, registry),
        example="voltage=1kV&gap=10mm&electrodes=uniform-field",
        one_of=(("gap",), *registry.sizes_of_gap),
        many=partial(PlacesOfVoltages, registry, SOUGHT),
        results={
            "pressures": "One per branch: value, low, high, unit, branch, method.",
            "smallest_breakdown_voltage": "Where nothing breaks down: the lowest voltage that would.",
            "readings": "With measure=unknown: the pressures for each reading.",
        },
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the pressures for a voltage.

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = surroundings(question, registry)
    gap = asked_gap(question, here)
    only = asked_method(question, here)
    case = sized(here, gap)
    curves = inverse.Curves(here.arrangement, case, only, case_at, (SMALLEST_PRESSURE, LARGEST_PRESSURE))
    if not curves.on_grid.answered.any():
        raise refusal(here.arrangement, case, only, "pressure")
    given = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    found = searched(curves, given)
    around = beside(curves, found, MANNER)
    return Answer.at(
        "pressure",
        here,
        Echo.of(question, ("voltage", "measure"))
        | Echo({"gap": Quantity(gap, "length")})
        | here.asked
        | Echo.of(question, ("method",)),
        results(curves, given, found, MANNER),
        around.evaluations,
        registry,
        notes=around.notes,
        cautions=("estimate", *around.cautions),
        title=f"Pressure for a voltage, {here.arrangement.title.lower()}",
        lead=lead(question, curves, gap, found),
    )


def lead(question: Question, curves: inverse.Curves, gap: float, found: Sequence[Found]) -> Lead:
    """Return what is read first: the pressures among which it may break down, the ends rounded outward.

    Parameters
    ----------
    gap : float
        [m].
    found : sequence of Found
        One per reading of the voltage.
    """
    across = f"{curves.arrangement.title}, {said(gap, 'length')} apart, {as_read(question)}"
    each = [one for one in found if not isinstance(one, OutsideValidity)]
    every = [ends for branches in each for ends in branches.values()]
    taken = taken_as_peak(question, curves.case.waveform)
    label = "May break down"
    if not every and len(each) == len(found):
        least = least_known(curves)
        below = f"at no pressure is it known to break down below {least}"
        if least is None:
            below = "no pressure is found for this voltage, but how little sharp electrodes take here is not known"
        lowest = "Nothing known to break down below" if least else "Lowest breakdown voltage"
        return Lead(f"{across}: {below}.{taken}", lowest, least or "not known", "estimate")
    left = [branches["left"] for branches in each if "left" in branches]
    right = [branches["right"] for branches in each if "right" in branches]
    first = _end((ends.low for ends in left), min) if left else None
    last = _end((ends.high for ends in right), max) if right and len(each) == len(found) else None
    begins = "from 0" if first is None else f"from {speak(first, 'pressure', toward='down')}"
    ends = "with no end known" if last is None else f"to {speak(last, 'pressure', toward='up')}"
    where = _reach(each[0]) if len(found) == 1 else f"{begins} {ends}"
    open_ = "" if last is not None and first is not None else " An end that no method reaches is left open."
    return Lead(f"{across}: breaks down {where}.{open_}{taken}", label, f"{begins} {ends}", "estimate")


def _reach(branches: Mapping[str, inverse.Ends]) -> str:
    """Return between which pressures it breaks down: at those between the branches too, not only on them."""
    words = {name: span(one.low, one.value, one.high, "pressure") for name, one in branches.items()}
    for name, end, toward in (("left", "low", "down"), ("right", "high", "up")):
        if name in branches and branches[name].value is None and getattr(branches[name], end) is not None:
            words[name] = str(speak(getattr(branches[name], end), "pressure", toward=toward))
    prepositions = {"left": "from", "right": "up to"}
    return " ".join(f"{preposition} {words[name]}" for name, preposition in prepositions.items() if name in words)


def _end(values: Iterable[float | None], outermost: Callable[[list[float]], float]) -> float | None:
    """Return the outermost of some ends; nothing where one of them is open."""
    each = list(values)
    known = [one for one in each if one is not None]
    return outermost(known) if known and len(known) == len(each) else None


def surroundings(question: Question, registry: Registry) -> Situation:
    """Return the situation; the pressure, which is answered, is taken at a default and not echoed."""
    values = {**question.values, "pressure": REFERENCE_PRESSURE}
    here = situation(replace(question, values=values, assumed=question.assumed | {"pressure"}), registry)
    return replace(here, asked=here.asked.without("pressure"))


SOUGHT = Sought("pressure", surroundings, case_at, (SMALLEST_PRESSURE, LARGEST_PRESSURE))
"""What many voltages are asked for."""
