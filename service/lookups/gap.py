"""/v1/gap: how far apart, or how near, for a voltage; every branch."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from service.answers.document import Echo
from service.answers.gap_curves import (
    LARGEST_GAP,
    MANNER,
    SMALLEST_GAP,
    VOLTAGE,
    GapCurves,
    SafeEnds,
    case_at,
    check_sizes,
    holding_notes,
    kept_curves,
)
from service.answers.inverse import Ends
from service.answers.lookup import Answer, Lead, Lookup, parameters_of
from service.answers.registry import Registry
from service.answers.results import Found, asked_method, beside, least_known, method_parameter, results, searched
from service.answers.situation import (
    ATMOSPHERE,
    MEASURE,
    MIXED,
    WAVEFORM,
    Reading,
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
from service.parameters import Question, read_question
from service.spoken import said, span, speak

SOUGHT = Sought("length", situation, case_at, (SMALLEST_GAP, LARGEST_GAP), check_sizes)
"""What many voltages are asked for."""


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
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

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here, _, curves, given, found = search(question, registry)
    around = beside(curves, found, MANNER)
    return Answer.at(
        "gap",
        here,
        Echo.of(question, ("voltage", "measure")) | here.asked | Echo.of(question, ("method",)),
        results(curves, given, found, MANNER),
        around.evaluations,
        registry,
        notes=[*around.notes, *holding_notes(curves)],
        cautions=("estimate", "which-end", "not-a-barrier", *around.cautions),
        title=f"Gap for a voltage, {here.arrangement.title.lower()}",
        lead=lead(question, curves, found),
    )


class Search(NamedTuple):
    """A question about a gap, and the branches that each reading of its voltage reaches."""

    here: Situation
    only: str | None
    curves: GapCurves
    given: Sequence[Reading]
    found: Sequence[Found]

    @property
    def nothing(self) -> bool:
        """Whether no gap is known to break down at so little."""
        return not any(self.found)

    @property
    def rising(self) -> list[SafeEnds]:
        """The ends to rely on of every rising branch."""
        each = [one for one in self.found if not isinstance(one, OutsideValidity)]
        return [SafeEnds.of(self.curves, branches["right"]) for branches in each if "right" in branches]


def search(question: Question, registry: Registry) -> Search:
    """Return the branches that a voltage reaches.

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = situation(question, registry)
    check_sizes(question, here)
    only = asked_method(question, here)
    curves = kept_curves(here, only, registry)
    given = readings(question.number("voltage"), question.key("measure"), here.case.waveform)
    return Search(here, only, curves, given, searched(curves, given))


def for_voltage(volts: float, pairs: Sequence[tuple[str, str]], registry: Registry) -> Search:
    """Return the branches for a peak voltage [V], with what else was typed of a question like this one.

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    if not VOLTAGE.holds(volts):
        raise OutsideValidity.about(VOLTAGE.name, "No method reaches this voltage.", valid=VOLTAGE.bounds())
    own = parameters_of(lookup, registry)
    known = {parameter.name for parameter in own} - {"voltage", "measure"}
    shared = [pair for pair in pairs if pair[0] in known]
    return search(read_question("gap", own, [("voltage", f"{volts!r}V"), *shared]), registry)


def lead(question: Question, curves: GapCurves, found: Sequence[Found]) -> Lead:
    """Return what is read first: the gap that keeps apart however the voltage was read, then when it jumps.

    Parameters
    ----------
    found : sequence of Found
        One per reading of the voltage.
    """
    between = f"{curves.arrangement.title}, {as_read(question)}"
    label, caution = "Holds above", "not-a-barrier"
    taken = taken_as_peak(question, curves.case.waveform)
    each = [one for one in found if not isinstance(one, OutsideValidity)]
    rising = [branches["right"] for branches in each if "right" in branches]
    jumps = _jumps(curves, rising)
    if len(each) < len(found):
        why = next(one.detail for one in found if isinstance(one, OutsideValidity))
        return Lead(f"{between}: no gap is known to hold it. {why}{jumps}{taken}", label, "not known", caution)
    if not any(each):
        least = least_known(curves)
        below = f"no gap is known to break down below {least}, so none is found for this voltage"
        if least is None:
            below = "no gap is found for this voltage, but how little sharp electrodes take here is not known"
        sentence = f"{between}: {below}; a touch needs no gap.{taken}"
        lowest = "Nothing known to break down below" if least else "Lowest breakdown voltage"
        return Lead(sentence, lowest, least or "not known", caution)
    if len(rising) < len([branches for branches in each if branches]):
        where = "a larger gap breaks down at it too, and a smaller one does not protect"
        return Lead(f"{between}: no gap is known to hold it; {where}.{taken}", label, "not known", caution)
    far = [SafeEnds.of(curves, ends).holds_above for ends in rising]
    if any(one is None for one in far):
        none = f"no gap up to {said(curves.covered[1], 'length')}, where the methods end, is known to hold it"
        if curves.case.in_vacuum:
            none = "no gap is known to hold it; particles, edges and conditioning decide"
        return Lead(f"{between}: {none}.{jumps}{taken}", label, "not known", caution)
    apart = str(speak(max(one for one in far if one is not None), "length", toward="up"))
    left = any("left" in branches for branches in each)
    around = " A smaller gap does not protect: the spark takes a longer way round." if left else ""
    return Lead(f"{between}: only more than {apart} is expected to hold.{jumps}{around}{taken}", label, apart, caution)


def _jumps(curves: GapCurves, rising: Sequence[Ends]) -> str:
    """Return below which gap it sparks, or at which, in a sentence behind another."""
    if not rising:
        return ""
    if len(rising) == 1 and (at := rising[0].value) is not None:
        low, high = rising[0].low, rising[0].high
        return f" It jumps at {span(low, at, high, 'length')}."
    near = [SafeEnds.of(curves, ends).sparks_below for ends in rising]
    if any(one is None for one in near):
        return ""
    below = speak(min(one for one in near if one is not None), "length", toward="down")
    plates = "even between flat plates; in between the shape decides" if curves.arrangement.shapeless else ""
    return f" Below {below} it jumps{' ' if plates else ''}{plates}."
