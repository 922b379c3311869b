"""/v1/gap: how far apart, or how near, for a voltage; every branch."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from service.answers.branch_blocks import Found, beside, results, searched
from service.answers.gap_curves import (
    LARGEST_GAP,
    MANNER,
    SMALLEST_GAP,
    VOLTAGE,
    Curves,
    case_at,
    check_sizes,
    gap_block,
    holding_notes,
    safe_ends,
)
from service.answers.inverse import Ends
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.measure import MEASURE, asked_voltage, readings, taken_as_peak
from service.answers.outside import refusal
from service.answers.point import asked_method, gas_cautions, method_parameter
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, MIXED, electrode_parameters, gas_parameter, situation
from service.answers.waveform import WAVEFORM
from service.errors import OutsideValidity
from service.lookups.batch_places import PlacesOfVoltages, Sought
from service.parameters import Question
from service.spoken import said, span, speak

SOUGHT = Sought("length", situation, case_at, (SMALLEST_GAP, LARGEST_GAP), check_sizes)
"""What many voltages are asked for."""


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    parameters = (
        VOLTAGE,
        MEASURE,
        *electrode_parameters(registry),
        gas_parameter(registry),
        *MIXED,
        *ATMOSPHERE,
        *WAVEFORM,
        method_parameter(registry),
    )
    return Lookup(
        "gap",
        "Gap for a voltage",
        "The gaps that a voltage jumps, and the gap beyond which it does not, on every branch.",
        parameters,
        lambda question: answer(question, registry),
        example="voltage=12kV",
        place=20,
        many=partial(PlacesOfVoltages, registry, SOUGHT),
        results={
            "gaps": "One per branch: value, low, high, unit, branch, method, sparks_below, holds_above (mm).",
            "smallest_breakdown_voltage": "Where nothing breaks down: the lowest voltage that would.",
            "readings": "With measure=unknown: the gaps for each reading.",
        },
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the gaps for a voltage.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = situation(question, registry)
    check_sizes(question, here)
    only = asked_method(question, here)
    curves = registry.kept_curves((here, only), lambda: Curves(here.arrangement, here.case, only, registry.reference))
    _require_some(curves)
    given = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    found = searched(curves, given)
    asked = here.echo({"voltage": asked_voltage(question), "measure": question.key("measure")})
    if "measure" in question.assumed:
        asked["assumed"] = ["measure", *asked["assumed"]]
    if only is not None:
        asked["method"] = only
    around = beside(curves, found, MANNER)
    return Answer(
        "gap",
        asked,
        results(curves, given, found, MANNER, gap_block),
        around.method,
        around.also,
        around.corrections,
        [*here.notes, *here.arrangement.notes, *around.notes, *holding_notes(curves)],
        ("estimate", "which-end", "not-a-barrier", *around.cautions),
        gas_cautions(here.case, registry),
        title=f"Gap for a voltage, {here.arrangement.title.lower()}",
        lead=lead(question, curves, found),
    )


def lead(question: Question, curves: Curves, found: Sequence[Found]) -> Lead:
    """Return what is read first: the gap that keeps apart however the voltage was read, then when it jumps.

    Parameters
    ----------
    question : Question
    curves : Curves
    found : sequence of Found
        One per reading of the voltage.
    """
    measure = question.key("measure")
    volts = said(question.number("voltage"), "voltage")
    volts += ", however it was read" if measure == "unknown" else f" {measure}"
    between = f"{curves.arrangement.title}, {volts}"
    label, caution = "Holds above", "not-a-barrier"
    taken = taken_as_peak(question, curves.case.waveform)
    each = [one for one in found if not isinstance(one, OutsideValidity)]
    rising = [branches["right"] for branches in each if "right" in branches]
    jumps = _jumps(curves, rising)
    if len(each) < len(found):
        why = next(one.detail for one in found if isinstance(one, OutsideValidity))
        return Lead(f"{between}: no gap is known to hold it. {why}{jumps}{taken}", label, "not known", caution)
    if not any(each):
        least = f"{speak(curves.smallest[1], 'voltage', toward='down')} peak"
        sentence = f"{between}: no gap is known to break down below {least}, so none is found for this voltage; "
        sentence += f"a touch needs no gap.{taken}"
        return Lead(sentence, "Nothing known to break down below", least, caution)
    if len(rising) < len([branches for branches in each if branches]):
        where = "a larger gap breaks down at it too, and a smaller one does not protect"
        return Lead(f"{between}: no gap is known to hold it; {where}.{taken}", label, "not known", caution)
    far = [safe_ends(curves, ends).get("holds_above") for ends in rising]
    if any(one is None for one in far):
        none = f"no gap up to {said(curves.covered[1], 'length')}, where the methods end, is known to hold it"
        if curves.case.gas == "vacuum":
            none = "no gap is known to hold it; particles, edges and conditioning decide"
        return Lead(f"{between}: {none}.{jumps}{taken}", label, "not known", caution)
    apart = str(speak(max(one for one in far if one is not None) * 1e-3, "length", toward="up"))
    left = any("left" in branches for branches in each)
    around = " A smaller gap does not protect: the spark takes a longer way round." if left else ""
    return Lead(f"{between}: only more than {apart} is expected to hold.{jumps}{around}{taken}", label, apart, caution)


def _jumps(curves: Curves, rising: Sequence[Ends]) -> str:
    """Return below which gap it sparks, or at which, in a sentence behind another."""
    if not rising:
        return ""
    if len(rising) == 1 and (at := rising[0].value) is not None:
        low, high = rising[0].low, rising[0].high
        return f" It jumps at {span(low, at, high, 'length')}."
    near = [safe_ends(curves, ends).get("sparks_below") for ends in rising]
    if any(one is None for one in near):
        return ""
    below = speak(min(one for one in near if one is not None) * 1e-3, "length", toward="down")
    plates = "even between flat plates; in between the shape decides" if curves.arrangement.key == "unknown" else ""
    return f" Below {below} it jumps{' ' if plates else ''}{plates}."


def _require_some(curves: Curves) -> None:
    if not curves.on_grid.answered.any():
        somewhere = case_at(curves.arrangement, curves.case, np.array([1e-2]))
        raise refusal(curves.arrangement, somewhere, curves.only, "gap")
