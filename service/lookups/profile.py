"""/v1/profile: electrodes of any shape, drawn or chosen; where a discharge starts, and at what voltage."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from service import units
from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate, refusal
from service.answers.figure import Curve, Figure, PlotAxis, Section
from service.answers.lookup import FORMATS, Answer, Lead, Lookup, only_posted
from service.answers.registry import Registry
from service.answers.results import Point, answer_of
from service.answers.situation import Situation, measure_of, one, peaks_of, read_atmosphere, situation
from service.bench import profile_results as told
from service.bench.profile_body import BODY, Body, read
from service.bench.profile_field import PROFILES, Moved, Solved, fields_of, moved, solve
from service.bench.profile_results import section
from service.errors import BadQuestion, UnknownName
from service.methods.criterion import of_inception, rods_note
from service.methods.laws import ionization_fits
from service.parameters import Given
from service.physics.ionization import IonizationFit
from service.spoken import said, span_of
from service.units import Quantity

__all__ = ["BODY", "lookup"]

MOST_DRAWINGS = 32
"""Drawings whose fields are kept, some tenths of a megabyte each."""
RESULTS: Mapping[str, str] = {
    "breakdown_voltage": "Peak voltage between the extremes at which the gap breaks down; a bracket where its value is "
    "null.",
    "inception_voltage": "Peak voltage at which a discharge starts on the critical line.",
    "withstand_estimate": "The low end less three deviations of scatter; not dust, burrs or moisture. Never a rating.",
    "field_utilization_factor": "Mean field over the shortest distance, over the highest field at a surface.",
    "highest_field_per_kilovolt": "Highest field at a drawn surface for one kilovolt between the extremes.",
    "shortest_distance": "Between the two conductors with the highest mean field.",
    "critical_path": "The line of force on which a discharge starts first, and the field along it at inception.",
    "competing_paths": "The lowest lines from other electrodes and places.",
    "edge_radius_effect": "Inception at half and at twice the edge radius.",
    "capacitances": "Between the electrodes and to earth; of a section per metre.",
    "margin": "Low end of inception, and the withstand estimate, over the given voltage.",
    "moved": "How far the named electrode was moved so that the withstand estimate reaches the voltage.",
    "numerics": "Unknowns, and estimated errors of the computation in percent; those of the criterion are in the band.",
    "outlines": "The outlines as they were solved, corners rounded.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup; its question comes in a body."""
    return Lookup(
        "profile",
        "Electrodes as drawn",
        "Where and at what voltage a discharge starts between electrodes of any shape, drawn or chosen.",
        BODY.parameters,
        only_posted("electrodes", "A profile takes its electrodes in a body: POST it."),
        example="",
        formats=tuple(form for form in FORMATS if form not in ("wiki", "dokuwiki")),
        single_values=False,
        results=RESULTS,
        body=BODY,
        answer_given=lambda given: answer(given, registry),
    )


def answer(given: Given, registry: Registry) -> Answer:
    """Return the answer to a drawing.

    Raises
    ------
    BadQuestion
        Naming members that cannot be read, outlines that touch or cross, radii that do not fit.
    OutsideValidity
        When sizes, the numerical errors or the methods do not allow an answer.
    Busy
        When as many profiles are being solved as there are cores.
    """
    keys = registry.gas_column("kind")
    gas = given.question.key("gas")
    if gas not in keys:
        raise UnknownName.among("gas", gas, keys)
    body = read(given, registry)
    read_atmosphere(body.question, registry)
    here = situation(body.question, registry, registry.plates.key)
    with PROFILES.taken():
        asking = Asking(body, here, registry)
        found = asking.held() if "move" in body.question else asking.at(body)
        return _told(asking, found)


@dataclass(frozen=True, eq=False)
class Answered:
    """A drawing answered: solved, evaluated, and how far something was moved for it."""

    solved: Solved
    error: float
    evaluation: Evaluation
    here: Situation
    moved: Moved | None = None


@dataclass(frozen=True, eq=False)
class Asking:
    """A question about a drawing."""

    body: Body
    here: Situation
    registry: Registry

    @property
    def peak(self) -> float | None:
        """The given voltage, the highest of its readings [V peak]."""
        question = self.body.question
        if "voltage" not in question:
            return None
        return peaks_of(question, question.key("waveform")).high

    def at(self, body: Body) -> Answered:
        """Return the answer to a drawing."""
        reference = self.registry.reference
        fit = ionization_fits(reference)["quadratic"]
        solved = self._solved(body, float(self.here.case.reduced_pressure[0]), fit)
        error = told.error_of(solved, reference)
        here = replace(self.here, arrangement=told.arrangement(solved, reference, error))
        shortest = solved.shortest.value
        case = replace(here.case, gap=one(shortest if math.isfinite(shortest) else np.nan))
        evaluation = evaluate(here.arrangement, case, every=True)
        if not evaluation.answered[0]:
            raise refusal(here.arrangement, case)
        return Answered(solved, error, evaluation, here)

    def _solved(self, body: Body, pressure: float, fit: IonizationFit) -> Solved:
        """Return a drawing solved; what was solved for another voltage, gas or pressure is not solved again."""
        if body is not self.body:  # on the way of an electrode that is moved
            return solve(body, pressure, fit)

        def make() -> Solved:
            fields = self.registry.kept("fields", body.key, lambda: fields_of(body), MOST_DRAWINGS)
            return solve(body, pressure, fit, fields)

        return replace(self.registry.kept("profiles", (body.key, pressure), make, MOST_DRAWINGS), body=body)

    def held(self) -> Answered:
        """Return the answer to the drawing in which an electrode is moved until the voltage is held.

        Raises
        ------
        BadQuestion
            When voltage or direction is missing, or no electrode has the name.
        """
        question = self.body.question
        peak = self.peak
        if peak is None:
            raise BadQuestion.about("voltage", "voltage is needed with move: how much the gap is to hold.")
        names = [electrode.name for electrode in self.body.electrodes]
        if question.key("move") not in names:
            raise UnknownName.among("move", question.key("move"), names)
        place = moved(self.body, names.index(question.key("move")), question.key("direction"), peak, self._withstand)
        found = self.at(place.body)
        return replace(found, moved=place)

    def _withstand(self, body: Body) -> tuple[float, float]:
        found = self.at(body)
        held = Point.of(found.evaluation, self.registry).withstand_estimate
        if held is None or held.value is None:
            raise BadQuestion.about("move", "Nothing is known here of what this gap holds.")
        return held.value, found.solved.shortest.value


def _told(asking: Asking, found: Answered) -> Answer:
    solved = found.solved
    base = answer_of(found.evaluation, found.here, _asked(asking), asking.registry)
    point = _point(found, asking.registry)
    results = point.block()
    if point.inception is None:
        results |= told.distance_blocks(solved)
    else:
        results |= told.field_blocks(solved, point.inception) | told.edge_block(solved, point.inception)
    bracket = point.breakdown_voltage.value is None
    rods = rods_note(asking.registry.reference, found.evaluation.case) if bracket else ()
    results |= told.capacitance_blocks(solved)
    if asking.peak is not None:
        results |= told.margin_block(point, asking.peak)
    if found.moved is not None:
        results |= {"moved": found.moved}
    results |= {"numerics": told.numerics_block(solved), "outlines": told.outline_blocks(solved)}
    return replace(
        base,
        lookup="profile",
        results=results,
        notes=[*told.notes(solved), *base.notes, *rods],
        figure=partial(_figure, found, point),
        lead=_lead(asking, solved, point),
    )


def _lead(asking: Asking, solved: Solved, point: Point) -> Lead:
    """Return what is read first: the breakdown voltage, and where and when a discharge starts."""
    volts = span_of(point.breakdown_voltage)
    sentence = f"As drawn, a spark at {volts}"
    if point.inception_voltage is not None:
        first, last = (told.conductor_name(solved, end) for end in (solved.line.owner, solved.line.end))
        sentence += f"; a discharge starts at {span_of(point.inception_voltage)}, on the line from {first} to {last}"
    below = point.breakdown_voltage.low
    if asking.peak is not None and below is not None and below <= asking.peak:
        sentence += "; the voltage given reaches that"
    return Lead(f"{sentence}.", "Breaks down at", volts, "estimate")


def _point(found: Answered, registry: Registry) -> Point:
    """Return what is known of breakdown, the mean field that between the conductors of the shortest distance."""
    point = Point.of(found.evaluation, registry)
    field = point.mean_field
    if field is not None and field.value is not None:
        point = replace(point, mean_field=replace(field, value=field.value * found.solved.share))
    return replace(point, inception_voltage=_inception(point, found, registry))


def _inception(point: Point, found: Answered, registry: Registry) -> Quantity | None:
    """Return the inception voltage with its band: that of breakdown where it is breakdown, else its own."""
    volts, breakdown = point.inception, point.breakdown_voltage
    if volts is None:
        return None
    if breakdown.value is not None and breakdown.low is not None and breakdown.high is not None:
        low, high = breakdown.low / breakdown.value, breakdown.high / breakdown.value
    else:
        alone = of_inception(registry.reference, found.evaluation.case, np.array([volts]))
        own = told.widened_by(alone, found.error)
        low, high = (float(end[0] / own.value[0]) for end in (own.low, own.high))
    return Quantity(volts, "voltage", low=volts * low, high=volts * high)


OWN = ("symmetry", "plane", "surroundings", "move", "direction")


def _asked(asking: Asking) -> Echo:
    electrodes = asking.body.electrodes
    edges = tuple(f"{one.where}{name}" for one in electrodes for name in one.assumed)
    drawn = Echo({"electrodes": [dict(electrode.echo) for electrode in electrodes]}, edges)
    question = asking.body.question
    measure = measure_of(question, question.key("waveform"))
    return Echo.of(question, (*OWN, "voltage"), {"voltage": measure}) | drawn | asking.here.asked


def _figure(found: Answered, point: Point) -> Figure:
    solved = found.solved
    distance, strength, _ = told.sampled(solved.line)
    near = distance <= 4 * solved.shortest.value
    distance, strength = distance[near], strength[near]
    inception = 1e3 if point.inception is None else point.inception
    starts = said(inception, "voltage", unit="kV")
    field = units.shown(1.0, "field") * strength * inception
    drawn: Callable[[], Section] = partial(section, solved)
    volts = point.breakdown_voltage.value
    middle = "a bracket" if volts is None else said(volts, "voltage", unit="kV")
    return Figure(
        "Electrodes as drawn",
        f"Section of the electrodes with lines of equal potential and the critical line; inception {starts} "
        f"peak, breakdown {middle}. Below it the field along the critical line.",
        PlotAxis("Distance along the critical line", "mm", logarithmic=False),
        PlotAxis(f"Field at inception, {starts}", "kV/mm", logarithmic=False),
        (Curve("", distance * 1e3, field),),
        section=drawn(),
        sentences=(
            *_smaller_first(inception, point.withstand_estimate),
            f"The shortest distance, {said(solved.shortest.value, 'length', unit='mm')}, is dashed.",
            "Estimates for clean, dry electrodes of exactly this shape; never the only protection of a person.",
        ),
    )


def _smaller_first(inception: float, held: Quantity | None) -> list[str]:
    """Return what is said of inception and of what is held, the smaller voltage first."""
    sentences = [(inception, f"A discharge starts on the heavy line at {said(inception, 'voltage', unit='kV')} peak.")]
    if held is not None and held.value is not None:
        words = f"Withstand estimate {said(held.value, 'voltage', unit='kV')} peak, never a rating."
        sentences.append((held.value, words))
    return [sentence for _, sentence in sorted(sentences)]
