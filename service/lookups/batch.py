"""POST /v1/batch: many points of one lookup at once, vectorized."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np

from service import units
from service.answers.evaluate import Evaluation, evaluate
from service.answers.lookup import Answer, Lookup
from service.answers.registry import Registry
from service.answers.situation import situation
from service.errors import BadQuestion, ServiceError
from service.lookups import batch_inverse
from service.lookups.batch_columns import (
    FINE,
    OUTSIDE,
    UNREADABLE,
    case_of,
    column,
    finished,
    gaps_of,
    voltage_column,
    words,
)
from service.lookups.batch_input import Batch, read_batch


def answer(body: Mapping[str, Any], registry: Registry, lookups: Mapping[str, Lookup]) -> Answer:
    """Return the answer to a batch.

    Parameters
    ----------
    body : mapping
        As `read_batch` takes it.
    registry : Registry
    lookups : mapping
        Every lookup by key.

    Raises
    ------
    BadQuestion
        When the batch as a whole cannot be read.
    """
    batch = read_batch(body, lookups)
    kinds: Mapping[str, Callable[[Batch, Registry], Answer]] = {
        "breakdown": _breakdown,
        "gap": batch_inverse.gap,
        "pressure": batch_inverse.pressure,
    }
    return kinds.get(batch.lookup.key, _one_by_one)(batch, registry)


def _breakdown(batch: Batch, registry: Registry) -> Answer:
    for name in ("gap_from", "gap_to"):
        if name in batch.question:
            raise BadQuestion.about(name, f"{name} belongs to curves; give gap as a column.")
    here = situation(batch.question, registry)
    rows = batch.readable
    gap = gaps_of(batch, here)
    only = str(batch.question.values["method"]) if "method" in batch.question else None
    found = evaluate(here.arrangement, case_of(batch, here, gap), only=only)
    columns = {
        "breakdown_voltage": voltage_column(rows, found.value, found.low, found.high),
        "inception_voltage": voltage_column(rows, found.inception),
    }
    if not np.isfinite(found.inception).any():
        del columns["inception_voltage"]
    return finished(batch, registry, here, columns, methods_of(rows, found), statuses(rows, found))


def methods_of(rows: np.ndarray, found: Evaluation) -> Any:
    """Return the key of the preferred method of every point, null where there is none."""
    choice = np.full(rows.shape, -1)
    choice[rows] = found.choice
    return words([*(one.method.key for one in found.methods), None], choice)


def statuses(rows: np.ndarray, found: Evaluation) -> Any:
    """Return the status of every point."""
    code = np.full(rows.shape, 2)
    code[rows] = np.where(found.answered, 0, 1)
    return words([FINE, OUTSIDE, UNREADABLE], code)


def _one_by_one(batch: Batch, registry: Registry) -> Answer:
    """Answer guidance lookups point by point; equal points are answered once."""
    name = batch.lookup.key
    cache: dict[tuple[float, ...], tuple[float, str, str]] = {}
    values = np.full(batch.size, np.nan)
    methods: list[str | None] = [None] * batch.size
    status = [UNREADABLE] * batch.size
    points = np.array(list(batch.columns.values())).T
    for i in np.flatnonzero(batch.readable):
        point = tuple(float(x) for x in points[i])
        if point not in cache:
            cache[point] = _guidance(batch, dict(zip(batch.columns, point, strict=True)))
        value, method, word = cache[point]
        values[i], methods[i], status[i] = value, method or None, word
    shown = column(np.ones(batch.size, dtype=bool), "length", values)
    answer = finished(batch, registry, None, {name: shown}, methods, status)
    asked = {"lookup": name, **_asked_of_one(batch), **dict.fromkeys(batch.columns, "column")}
    return replace(answer, asked=asked, cautions=("not-a-barrier", "local-codes"))


def _asked_of_one(batch: Batch) -> Mapping[str, Any]:
    """Return what is asked once, as the lookup itself understands it at the first readable point that it answers."""
    for i in np.flatnonzero(batch.readable):
        with suppress(ServiceError):
            return _answer_at(batch, {name: float(array[i]) for name, array in batch.columns.items()}).asked
    return {}


def _answer_at(batch: Batch, point: Mapping[str, float]) -> Answer:
    declared = batch.question.parameters
    typed = {name: int(x) if declared[name].dimension == "count" else x for name, x in point.items()}
    return batch.lookup.answer(replace(batch.question, values={**batch.question.values, **typed}))


def _guidance(batch: Batch, point: Mapping[str, float]) -> tuple[float, str, str]:
    try:
        answer = _answer_at(batch, point)
    except ServiceError:
        return np.nan, "", OUTSIDE
    block = answer.results[batch.lookup.key]
    return units.to_si(block["value"], block["unit"], "length"), str(answer.results["governed_by"]), FINE
