"""The branches on which a voltage is reached, as inverse answers show them, and what is said beside them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service import units
from service.answers.blocks import voltage
from service.answers.evaluate import Evaluation
from service.answers.inverse import Branch, Curves, Ends
from service.answers.point import point_cautions
from service.answers.waveform import Reading
from service.errors import OutsideValidity
from service.spoken import said, speak
from service.units import ROUNDING, Quantity


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
