"""Breakdown voltages of many points: one evaluation of each piece."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.registry import Registry
from service.answers.situation import situation
from service.errors import BadQuestion
from service.lookups.batch_input import Batch
from service.lookups.batch_parts import FINE, OUTSIDE, STATUSES, Budget, shown
from service.lookups.batch_points import AtCases, Cases, Found, Said


class Voltages(AtCases):
    """Answers breakdown voltages.

    Parameters
    ----------
    registry : Registry
    batch : Batch
    """

    gaps = True
    at_once = 1 << 14
    columns = MappingProxyType(
        {"breakdown_voltage": ("voltage", ("values", "low", "high")), "inception_voltage": ("voltage", ("values",))}
    )

    where_known = frozenset({"inception_voltage"})

    def __init__(self, registry: Registry, batch: Batch) -> None:
        for name in ("gap_from", "gap_to"):
            if name in batch.question:
                raise BadQuestion.about(name, f"{name} belongs to curves; give gap as a column.")
        super().__init__(registry, situation, batch)

    def found(self, cases: Cases, budget: Budget) -> Found:
        """Return breakdown and inception voltages."""
        one = evaluate(cases.here.arrangement, cases.case, only=cases.only)
        volts = {
            ("breakdown_voltage", "values"): one.value,
            ("breakdown_voltage", "low"): one.low,
            ("breakdown_voltage", "high"): one.high,
            ("inception_voltage", "values"): one.inception,
        }
        columns = {end: shown(values, "voltage") for end, values in volts.items()}
        code = np.where(one.answered, STATUSES.index(FINE), STATUSES.index(OUTSIDE))
        budget.spent(cases.points.size)
        method = chosen(one)
        return Found(columns, method, code, kinds(one, method), Said.of(one))


def chosen(found: Evaluation) -> np.ndarray:
    """Return the position of every element's method among all of the arrangement; -1 where none answers."""
    every = found.arrangement.methods
    places = [next(place for place, method in enumerate(every) if method is one.method) for one in found.methods]
    return np.asarray(np.array([*places, -1], dtype=np.int16).take(found.choice))


def kinds(found: Evaluation, method: np.ndarray) -> np.ndarray:
    """Return which elements get the same sentences: one method, and the same of its ends known."""
    ends = np.isnan(found.low) + np.int16(2) * np.isnan(found.high)
    return np.asarray((method + np.int16(1)) * np.int16(4) + ends)
