"""What is found at one point, and the branches on which a voltage is reached, as result fields."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.answers.document import Echo, Shown
from service.answers.evaluate import Evaluation
from service.answers.inverse import Branch, Curves, Ends
from service.answers.lookup import Answer, finite_or_none, voltage
from service.answers.registry import Registry
from service.answers.situation import Reading, Situation, one
from service.errors import BadQuestion, OutsideValidity
from service.methods import Case
from service.methods.bands import scatter_note, withstand
from service.methods.method import single
from service.parameters import Parameter, Question
from service.spoken import said, speak
from service.units import ROUNDING, Quantity

X_RAY_VOLTAGE = 5e3
"""Voltage above which X-rays are possible across a vacuum or very thin gas [V]; euratom-basic-safety-standards."""
FAST_FREQUENCY = 10e3
"""Frequency above which a current may burn before it is felt [Hz]; cautions are given above it."""


def asked_gap(question: Question, here: Situation) -> float:
    """Return the gap [m] that was given, or that follows from the dimensions.

    Raises
    ------
    BadQuestion
        When there is none, or two.
    """
    if here.arrangement.gap_from is None:
        return question.number("gap")
    follows = gap_that_follows(question, here)
    if follows <= 0:
        raise BadQuestion.about("outer_diameter", "outer_diameter must be larger than inner_diameter.")
    return follows


def gap_that_follows(question: Question, here: Situation) -> float:
    """Return the gap [m] that follows from the dimensions of an arrangement whose sizes fix it.

    Raises
    ------
    BadQuestion
        When a dimension is missing, or a gap is given beside them.
    """
    arrangement = here.arrangement
    assert arrangement.gap_from is not None
    try:
        follows = float(arrangement.gap_from(here.case.dimensions)[0])
    except KeyError as missing:
        raise question.missing(str(missing.args[0])) from missing
    if "gap" in question:
        raise BadQuestion.about("gap", f"The gap of electrodes={arrangement.key} follows from its diameters.")
    return follows


def method_parameter(registry: Registry) -> Parameter:
    """Return the parameter that names the one method wanted."""
    return Parameter("method", "choice", "Answer by this method only.", choices=tuple(registry.methods))


def asked_method(question: Question, here: Situation) -> str | None:
    """Return the key of the one method that is wanted, or ``None``.

    Raises
    ------
    BadQuestion
        When it does not belong to the arrangement.
    """
    if "method" not in question:
        return None
    only, own = question.key("method"), [method.key for method in here.arrangement.methods]
    if only not in own:
        raise BadQuestion.about("method", f"method={only} does not belong to electrodes={here.arrangement.key}.", own)
    return only


def sized(here: Situation, gap: float) -> Case:
    """Return the situation's case at a gap [m]."""
    return replace(here.case, gap=one(gap))


def answer_of(evaluation: Evaluation, here: Situation, asked: Echo, registry: Registry) -> Answer:
    """Return the answer for the one element of an evaluation."""
    return Answer.at(
        "breakdown",
        here,
        asked,
        Point.of(evaluation, registry).block(),
        [evaluation],
        registry,
        notes=scatter_note(evaluation.case, registry.reference),
        cautions=point_cautions(evaluation),
        title=f"Breakdown voltage, {here.arrangement.title.lower()}",
    )


@dataclass(frozen=True)
class Point(Shown):
    """What is known of breakdown at one element; what does not apply is absent."""

    breakdown_voltage: Quantity
    inception_voltage: Quantity | None = None
    withstand_estimate: Quantity | None = None
    mean_field: Quantity | None = None
    field_utilization_factor: float | None = None

    @classmethod
    def of(cls, evaluation: Evaluation, registry: Registry) -> Point:
        """Return that of the one element of an evaluation."""
        value, low, high = evaluation.numbers()
        inception, eta = float(evaluation.inception[0]), float(evaluation.utilization[0])
        held = single(withstand(evaluation.case.plain, single(evaluation.low), registry.reference))
        return cls(
            voltage(value, low, high),
            voltage(inception) if math.isfinite(inception) else None,
            voltage(held) if math.isfinite(held) else None,
            Quantity(value / float(evaluation.case.gap[0]), "field") if math.isfinite(value) else None,
            finite_or_none(eta),
        )

    @property
    def inception(self) -> float | None:
        """The voltage at which a discharge starts [V], where one starts before breakdown or at it."""
        return None if self.inception_voltage is None else self.inception_voltage.value


def point_cautions(evaluation: Evaluation) -> tuple[str, ...]:
    """Return the caution keys of a breakdown answer, or of many: those of any element that is answered."""
    case, answered = evaluation.case, evaluation.answered
    keys = ["estimate", "not-a-barrier"]
    few = [i for i, one in enumerate(evaluation.methods) if one.method.thin]
    thin = answered & np.isin(evaluation.choice, few) if few else None
    if thin is not None and (np.fmax(np.fmax(evaluation.high, evaluation.value), 0.0)[thin] > X_RAY_VOLTAGE).any():
        keys.append("x-rays")
    if (case.frequency[answered] > FAST_FREQUENCY).any():
        keys.append("fast-current")
    if case.in_air and np.isfinite(evaluation.inception).any():
        keys.append("ozone")
    return tuple(keys)


def _nothing(curves: Curves, name: str, ends: Ends) -> Mapping[str, object]:
    del curves, name, ends
    return {}


@dataclass(frozen=True)
class Manner:
    """How an inverse speaks of its places.

    Parameters
    ----------
    dimension : str
        ``length`` or ``pressure``.
    noun, other : str
        ``gap`` and ``pressure``, or the other way round: what is answered, and what is fixed.
    left : str
        What belongs to every answer with a left branch.
    further : callable
        What else is said of a branch, from the curves, its name and its ends.
    """

    dimension: str
    noun: str
    other: str
    left: str
    further: Callable[[Curves, str, Ends], Mapping[str, object]] = _nothing

    def text(self, place: float) -> str:
        """Return a place with its unit."""
        return said(place, self.dimension, unit=units.DIMENSIONS[self.dimension].shown)


@dataclass(frozen=True)
class Beside:
    """What stands beside the numbers of an inverse answer.

    Parameters
    ----------
    evaluations : sequence of Evaluation
        At the place of every branch.
    notes : list of str
        Beside those of the evaluations.
    """

    evaluations: Sequence[Evaluation]
    notes: list[str]
    cautions: tuple[str, ...]


Found = dict[str, Ends] | OutsideValidity
"""The branches of one reading, or why none is known."""


@dataclass(frozen=True)
class Reached:
    """One branch as answered: where it reaches the voltage, by which method there, and what else is said of it."""

    name: str
    place: Quantity
    method: str
    further: Mapping[str, object]

    def block(self) -> dict[str, object]:
        """Return it as answers show it."""
        return {**self.place.block(), "branch": self.name, **self.further, "method": self.method}


def searched(curves: Curves, given: Sequence[Reading]) -> list[Found]:
    """Return what is found for every reading of a voltage.

    Raises
    ------
    OutsideValidity
        When no reading is answered.
    """
    found = [_searched(curves, reading) for reading in given]
    errors = [one for one in found if isinstance(one, OutsideValidity)]
    if len(errors) == len(found):
        raise errors[0]
    return found


def _searched(curves: Curves, reading: Reading) -> Found:
    try:
        return reached(curves, reading)
    except OutsideValidity as error:
        return error


def results(curves: Curves, given: Sequence[Reading], found: Sequence[Found], manner: Manner) -> dict[str, object]:
    """Return the result fields: those of the one reading, or ``readings`` with the fields of each.

    Parameters
    ----------
    found : sequence of Found
        One per reading.
    """
    fields = [_fields(curves, one, manner) for one in found]
    if len(fields) == 1:
        return fields[0]
    peaks = [voltage(one.high if one.sharp else np.nan, one.low, one.high) for one in given]
    pairs = zip(given, peaks, fields, strict=True)
    return {"readings": [{"measure": one.measure, "peak_voltage": peak, **own} for one, peak, own in pairs]}


def _fields(curves: Curves, found: Found, manner: Manner) -> dict[str, object]:
    if isinstance(found, OutsideValidity):
        return {"why_not": found.detail}
    branches = [
        Reached(
            name,
            Quantity(ends.value, manner.dimension, ends.low, ends.high),
            _at(curves, ends.place).preferred().method.key,
            manner.further(curves, name, ends),
        )
        for name, ends in found.items()
    ]
    nothing = {} if branches else {"smallest_breakdown_voltage": voltage(*curves.smallest)}
    return {f"{manner.noun}s": branches, **nothing}


def least_known(curves: Curves) -> str | None:
    """Return the voltage, in words, below which nothing is known to break down; of a bracket without a low end none."""
    low = curves.smallest[1]
    return None if math.isnan(low) else f"{speak(low, 'voltage', toward='down')} peak"


def beside(curves: Curves, found: Sequence[Found], manner: Manner) -> Beside:
    """Return what stands beside the branches found for every reading of a voltage.

    Parameters
    ----------
    found : sequence of Found
        One per reading.
    """
    each = [one for one in found if not isinstance(one, OutsideValidity)]
    places = [ends.place for branches in each for ends in branches.values()]
    places = places or [float(curves.grid[curves.lowest])]
    last = _at(curves, places[-1], every=True)
    there = [*(_at(curves, place) for place in places[:-1]), last]
    keys = [key for evaluation in there for key in point_cautions(evaluation)]
    return Beside(
        there,
        [*_missing(curves, each, manner), *_notes(curves, each, manner)],
        tuple(dict.fromkeys(keys)),
    )


def _at(curves: Curves, place: float, *, every: bool = False) -> Evaluation:
    """Return the evaluation at a place, or at the nearest answered one where rounding put it just outside."""
    found = curves.at_place(place, every=every)
    if found.answered[0]:
        return found
    answered = curves.grid[curves.on_grid.answered]
    nearest = answered[np.argmin(np.abs(np.log(answered / place)))]
    return curves.at_place(float(nearest), every=every)


def _missing(curves: Curves, each: Sequence[Mapping[str, Ends]], manner: Manner) -> Iterable[str]:
    """Yield why a rising branch has no end that keeps apart, or none below which it sparks."""
    rising = [branches["right"] for branches in each if "right" in branches]
    last, scatter = curves.covered[1], bool(np.isfinite(curves.on_grid.withstand).any())
    if any(ends.high is None or (scatter and ends.holds is None) for ends in rising):
        yield (f"No {manner.noun} is named that holds this voltage: up to {manner.text(last)} none is known to.")
        yield from curves.at_place(last).preferred().estimate.notes
    if any(ends.low is None for ends in rising):
        yield (
            f"No {manner.noun} is named below which this voltage jumps even between plates: up to {manner.text(last)} "
            "no upper end reaches it."
        )


def _notes(curves: Curves, each: Sequence[Mapping[str, Ends]], manner: Manner) -> Iterable[str]:
    names = {name for branches in each for name in branches}
    first, last = (manner.text(place) for place in curves.covered)
    if "left" in names:
        yield manner.left
    elif names and curves.turns:
        yield (
            f"Left of {first} no method answers: there may be a smaller {manner.noun} that breaks down at this voltage "
            "too."
        )
    if names == {"left"}:
        yield f"Beyond {last} no method answers: there is a larger {manner.noun} that breaks down at this voltage too."
    if not all(each):
        yield (
            f"At this {manner.other} no {manner.noun} between {first} and {last} breaks down at so low a voltage; "
            "beyond these ends no method answers."
        )


def reached(curves: Curves, reading: Reading) -> dict[str, Ends]:
    """Return the branches on which a voltage is reached, by name; none where nothing breaks down.

    Parameters
    ----------
    curves : Curves
        Of one situation.
    reading : Reading

    Raises
    ------
    OutsideValidity
        When the voltage lies where no method answers.
    """
    lowest = None if reading.sharp else np.array([reading.low])
    found: Mapping[str, Branch] = curves.branches(("left", "right"), np.array([reading.high]), lowest)
    ends = {name: Ends.of(branch) for name, branch in found.items()}
    there = {name: one for name, one in ends.items() if one is not None}
    if not there:
        _refuse_beyond(curves, reading)
    return there


def _refuse_beyond(curves: Curves, reading: Reading) -> None:
    """Refuse a voltage that no place reaches, unless it lies below a minimum, so that nothing breaks down.

    Raises
    ------
    OutsideValidity
        When the voltage is higher than any method reaches, or lower and the methods end before a minimum.
    """
    if reading.high > curves.least:
        raise _too_high(curves)
    if not curves.has_minimum:
        raise _too_low(curves)


def _too_high(curves: Curves) -> OutsideValidity:
    grid = curves.on_grid
    # left of the valley an upper end alone is no branch
    no_branch = (np.arange(curves.grid.size) < curves.lowest) & np.isnan(grid.value) & np.isnan(grid.low)
    upper = np.where(no_branch, np.nan, np.fmax(grid.value, grid.high))
    # an end is told a little inside, so that it is answered when it is asked
    most = float(np.nanmax(grid.low if np.isnan(upper).all() else upper))
    top = units.cut_si(most * (1 - ROUNDING), "voltage", math.floor)
    highest = f"the highest is {said(top, 'voltage', unit='kV')} peak"
    detail = f"No method for electrodes={curves.arrangement.key} reaches this voltage; {highest}."
    # no smaller voltage is proposed: the gap that holds it is too small for the one that was asked
    return OutsideValidity.about("voltage", detail, valid={"high": Quantity(top, "voltage")})


def _too_low(curves: Curves) -> OutsideValidity:
    smallest = units.cut_si(curves.least * (1 + ROUNDING), "voltage", math.ceil)
    detail = (
        f"The methods for electrodes={curves.arrangement.key} end at {said(smallest, 'voltage', unit='kV')} peak; "
        "this voltage lies below, which does not mean that nothing breaks down."
    )
    # no larger voltage is proposed
    return OutsideValidity.about("voltage", detail, valid={"low": Quantity(smallest, "voltage")})
