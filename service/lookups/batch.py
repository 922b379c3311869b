"""POST /v1/batch: many points of one lookup at once. Every point is answered as a single question would be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from service import units
from service.answers.columns import Column, Store, Words
from service.answers.lookup import Answer, Lookup
from service.lookups.batch_input import read_batch
from service.lookups.batch_parts import STATUSES, Answering, Budget


def answer(body: Mapping[str, Any], lookups: Mapping[str, Lookup]) -> Answer:
    """Return the answer to a batch; its columns are `service.answers.columns.Column` and `Words`.

    Parameters
    ----------
    body : mapping
        As `read_batch` takes it.
    lookups : mapping
        Every lookup by key.

    Raises
    ------
    BadQuestion
        When the batch as a whole cannot be read.
    TooCostly
        When it would hold a worker for too long.
    """
    batch = read_batch(body, lookups)
    assert batch.lookup.many is not None
    answering: Answering = batch.lookup.many(batch)
    size, store, budget = batch.size, Store(batch.size), Budget(batch.size)
    columns = {(name, end): Column(store) for name, (_, ends) in answering.columns.items() for end in ends}
    method, status = Column(store, np.dtype(np.int16)), Column(store, np.dtype(np.int8))
    there: set[str] = set()
    at_once = math.ceil(size / max(round(size / answering.at_once), 1))  # pieces of one size
    for start in range(0, size, at_once):
        part = answering(batch.piece(start, start + at_once), budget)
        for end, column in columns.items():
            column.add(part.columns[end])
            if end[0] in answering.where_known - there and np.isfinite(part.columns[end]).any():
                there.add(end[0])
        method.add(part.method)
        status.add(part.status)
    said = answering.said()
    results = {
        "count": size,
        "columns": {
            name: _block(answering, name, columns)
            for name in answering.columns
            if name in there or name not in answering.where_known
        },
        "method": Words(answering.methods, method),
        "status": Words(STATUSES, status),
    }
    return Answer(
        "batch",
        said.asked,
        results,
        notes=list(said.notes),
        cautions=said.cautions,
        gas_cautions=said.gas_cautions,
    )


def _block(answering: Answering, name: str, columns: Mapping[tuple[str, str], Column]) -> dict[str, Any]:
    dimension, ends = answering.columns[name]
    block: dict[str, Any] = {"unit": units.DIMENSIONS[dimension].shown}
    block |= {"measure": "peak"} if dimension == "voltage" else {}
    return block | {end: columns[name, end] for end in ends}
