"""What an inverse answer says beside its numbers: method, notes and cautions of every branch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import also_block, chosen_method, corrections_block
from service.answers.branches import Curves, Ends
from service.answers.evaluate import Evaluation
from service.answers.point import point_cautions


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
    """

    dimension: str
    noun: str
    other: str
    left: str

    def text(self, place: float) -> str:
        """Return a place with its unit."""
        shown = units.quantity(place, self.dimension)
        return f"{shown['value']:.4g} {shown['unit']}"


@dataclass(frozen=True)
class Beside:
    """What stands beside the numbers of an inverse answer.

    Parameters
    ----------
    method : mapping
    also : list
    corrections : mapping
    notes : list of str
    cautions : tuple of str
    """

    method: Mapping[str, Any]
    also: list[dict[str, Any]]
    corrections: Mapping[str, float]
    notes: list[str]
    cautions: tuple[str, ...]


def beside(curves: Curves, found: Iterable[Mapping[str, Ends]], manner: Manner) -> Beside:
    """Return what stands beside the branches found for every reading of a voltage.

    Method, other methods and corrections are those of the last branch; notes and cautions those of all.

    Parameters
    ----------
    curves : Curves
    found : iterable of mapping
        Of `branches.reached`, one per reading.
    manner : Manner
    """
    each = list(found)
    places = [(name, _at(curves, ends.place)) for branches in each for name, ends in branches.items()]
    if not places:
        places = [("right", _at(curves, float(curves.grid[curves.lowest])))]
    last = places[-1][1]
    notes = [note for _, evaluation in places for note in evaluation.preferred().estimate.notes]
    keys = [key for _, evaluation in places for key in point_cautions(evaluation)]
    return Beside(
        chosen_method(last),
        also_block(last),
        corrections_block(last),
        [*notes, *_notes(curves, each, manner)],
        tuple(dict.fromkeys(keys)),
    )


def _at(curves: Curves, place: float) -> Evaluation:
    """Return the evaluation at a place, or at the nearest answered one where rounding put it just outside."""
    found = curves.at(np.array([place]), every=True)
    if found.answered[0]:
        return found
    answered = curves.grid[curves.on_grid.answered]
    nearest = answered[np.argmin(np.abs(np.log(answered / place)))]
    return curves.at(np.array([nearest]), every=True)


def _notes(curves: Curves, each: list[Mapping[str, Ends]], manner: Manner) -> Iterable[str]:
    names = {name for branches in each for name in branches}
    first, last = (manner.text(place) for place in curves.covered)
    if "left" in names:
        yield manner.left
    elif names and curves.turns:
        yield (
            f"Left of {first} no method answers: there may be a smaller {manner.noun} that breaks down at this voltage "
            "too."
        )
    if not all(each):
        yield (
            f"At this {manner.other} no {manner.noun} between {first} and {last} breaks down at so low a voltage; "
            "beyond these ends no method answers."
        )


def method_key(curves: Curves, ends: Ends) -> str:
    """Return the key of the method that answers on a branch."""
    return _at(curves, ends.place).preferred().method.key
