"""/v1/gap: how far apart, or how near, for a voltage; every branch."""

from __future__ import annotations

import numpy as np

from service.answers.branch_blocks import beside, results, searched
from service.answers.gap_curves import MANNER, VOLTAGE, Curves, case_at, check_sizes, gap_block, holding_notes
from service.answers.lookup import Answer, Lookup
from service.answers.measure import MEASURE, asked_voltage, readings
from service.answers.outside import refusal
from service.answers.point import asked_method, gas_cautions, method_parameter
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, MIXED, electrode_parameters, gas_parameter, situation
from service.answers.waveform import WAVEFORM
from service.parameters import Question


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
    said = beside(curves, found, MANNER)
    return Answer(
        "gap",
        asked,
        results(curves, given, found, MANNER, gap_block),
        said.method,
        said.also,
        said.corrections,
        [*here.notes, *here.arrangement.notes, *said.notes, *holding_notes(curves)],
        ("estimate", "which-end", "not-a-barrier", *said.cautions),
        gas_cautions(here.case, registry),
        title=f"Gap for a voltage, {here.arrangement.title.lower()}",
    )


def _require_some(curves: Curves) -> None:
    if not curves.on_grid.answered.any():
        raise refusal(curves.arrangement, case_at(curves.arrangement, curves.case, np.array([1e-2])), curves.only)
