"""Breakdown over the gap of one situation: the curves that inverses search, and what they found, as result fields."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial
from typing import NamedTuple

import numpy as np

from service import units
from service.answers import inverse
from service.answers.evaluate import refusal
from service.answers.registry import Registry
from service.answers.results import Manner
from service.answers.situation import Situation
from service.errors import BadQuestion
from service.methods import Arrangement, Case
from service.methods.bands import withstand
from service.parameters import Parameter, Question
from service.physics.numbers import Numbers
from service.reference import Reference
from service.units import Quantity

SMALLEST_GAP, LARGEST_GAP = 1e-8, 100.0
"""Range that is searched [m]; methods end well within it."""

VOLTAGE = Parameter(
    "voltage",
    "voltage",
    "The voltage, read as measure says.",
    required=True,
    measured=True,
    example="12kV",
    high=1e8,
)


class GapCurves(inverse.Curves):
    """Value and band of a situation over the gap.

    Parameters
    ----------
    case : Case
        Of one element.
    only : str, optional
        Key of the one method wanted.
    reference : Reference, optional
        For what a gap holds; without it that is not known.
    """

    def __init__(
        self, arrangement: Arrangement, case: Case, only: str | None = None, reference: Reference | None = None
    ) -> None:
        holding = None if reference is None else partial(withstand, reference=reference)
        super().__init__(arrangement, case, only, case_at, (SMALLEST_GAP, LARGEST_GAP), holding)


def kept_curves(here: Situation, only: str | None, registry: Registry) -> GapCurves:
    """Return the curves of a situation with what its gaps hold, kept for the next question.

    Raises
    ------
    OutsideValidity
        Where no gap is answered.
    """
    curves = registry.kept_curves(
        (here, only), lambda: GapCurves(here.arrangement, here.case, only, registry.reference)
    )
    if not curves.on_grid.answered.any():
        somewhere = case_at(here.arrangement, here.case, np.array([1e-2]))
        raise refusal(here.arrangement, somewhere, only, "gap")
    return curves


def case_at(arrangement: Arrangement, case: Case, gaps: Numbers) -> Case:
    """Return a case of one element, or of as many, at many gaps [m], with the dimensions that the gap fixes.

    A case in plain numbers is laid at a plain number.
    """
    many = case if case.is_plain or case.size == gaps.size else case.repeated(gaps.size)
    completed = arrangement.completes
    sizes = many.dimensions if completed is None else dict(completed(many.dimensions, gaps))
    return many.but({"gap": gaps, "dimensions": sizes})


def check_sizes(question: Question, here: Situation) -> None:
    """Refuse the outer diameter where the gap fixes it, and a missing inner one.

    Raises
    ------
    BadQuestion
        When a diameter is given that follows, or one is missing.
    """
    if here.arrangement.completes is None:
        return
    if "outer_diameter" in question:
        detail = "The outer diameter follows from the gap here; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    question.number("inner_diameter")


class SafeEnds(NamedTuple):
    """The gaps [m] below which it sparks and above which it holds, their digits cut towards caution."""

    sparks_below: float | None
    holds_above: float | None

    @classmethod
    def of(cls, curves: inverse.Curves, found: inverse.Ends) -> SafeEnds:
        """Return those of the rising branch.

        What holds is the withstand estimate; where no scatter is known, the low end of the band; in a vacuum nothing.
        """
        holds = found.holds if holding_known(curves) else None if curves.case.in_vacuum else found.high
        ends = ((found.low, math.floor), (holds, math.ceil))
        return cls(*(None if end is None else units.cut_si(end, "length", towards) for end, towards in ends))


def _further(curves: inverse.Curves, name: str, found: inverse.Ends) -> Mapping[str, object]:
    """Return what is said of the rising branch: the ends to rely on, in the unit of its gap, and what the gap fixes."""
    if name != "right":
        return {}
    ends = SafeEnds.of(curves, found)._asdict()
    said: dict[str, object] = {key: units.shown(end, "length") for key, end in ends.items() if end is not None}
    return said | _outer(curves, found.value if found.value is not None else found.high)


MANNER = Manner(
    "length",
    "gap",
    "pressure",
    "On the left branch longer paths break first: a smaller gap does not protect, the spark takes a longer way round.",
    _further,
)


def holding_known(curves: inverse.Curves) -> bool:
    """Return whether the scatter is known somewhere, so that what holds is the withstand estimate."""
    return bool(np.isfinite(curves.on_grid.withstand).any())


def holding_notes(curves: inverse.Curves) -> list[str]:
    """Return what is to be said where no gap is found by the withstand estimate."""
    if holding_known(curves):
        return []
    return [NO_VACUUM if curves.case.in_vacuum else NO_SCATTER]


NO_SCATTER = (
    "How single sparks scatter is not known here: holds_above is where the low end of the band reaches the voltage, "
    "with nothing taken off for scatter."
)
NO_VACUUM = "In a vacuum no gap is named that holds: particles, edges and conditioning decide."


def _outer(curves: inverse.Curves, gap: float | None) -> dict[str, Quantity]:
    if curves.arrangement.completes is None or gap is None:
        return {}
    case = case_at(curves.arrangement, curves.case, np.array([gap]))
    return {"outer_diameter": Quantity(float(case.dimensions["outer_diameter"][0]), "length")}
