"""Columns of a batch: the points' cases, and results as lists with null where there is none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import orjson

from service import units
from service.answers.lookup import Answer
from service.answers.measure import asked_voltage
from service.answers.point import asked_gap, gas_cautions
from service.answers.registry import Registry
from service.answers.situation import Situation
from service.lookups.batch_input import Batch
from service.methods import Case, FloatArray
from service.parameters import Question
from service.physics import atmosphere, humidity

OUTSIDE, NOTHING, UNREADABLE, FINE = "outside-validity", "no-breakdown", "unreadable", "ok"


def case_of(batch: Batch, here: Situation, gap: FloatArray | None) -> Case:
    """Return the case of all readable points; columns replace what was given once.

    Parameters
    ----------
    batch : Batch
    here : Situation
        Of the question with sample values.
    gap : ndarray or None
        Gaps of all readable points [m]; ``None`` leaves them unknown.
    """
    rows = batch.readable
    columns = {name: array[rows] for name, array in batch.columns.items()}
    count = int(np.count_nonzero(rows))
    case = here.case.repeated(count)
    pressure = columns.get("pressure", case.pressure)
    if "altitude" in columns:
        pressure = atmosphere.standard_pressure(columns["altitude"])
    temperature = columns.get("temperature", case.temperature)
    return replace(
        case,
        gap=case.gap if gap is None else gap,
        pressure=pressure,
        temperature=temperature,
        humidity=_humidity(batch.question, columns, temperature, pressure, case),
        frequency=columns.get("frequency", case.frequency),
        fraction=None if case.fraction is None else columns.get("fraction", case.fraction),
        dimensions={name: columns.get(name, array) for name, array in case.dimensions.items()},
    )


def gaps_of(batch: Batch, here: Situation) -> FloatArray:
    """Return the gaps of all readable points [m]: a column, given once, or what the dimensions leave.

    Parameters
    ----------
    batch : Batch
    here : Situation
        Of the question with sample values.
    """
    rows = batch.readable
    if here.arrangement.gap_from is not None:
        asked_gap(batch.question, here)
        sizes = {name: batch.columns[name][rows] for name in here.case.dimensions if name in batch.columns}
        fixed = {name: np.broadcast_to(array, (int(rows.sum()),)) for name, array in here.case.dimensions.items()}
        return np.asarray(here.arrangement.gap_from({**fixed, **sizes}))
    if "gap" in batch.columns:
        return batch.columns["gap"][rows]
    return np.full(int(rows.sum()), batch.question.number("gap"))


def _humidity(
    question: Question, columns: Mapping[str, FloatArray], temperature: FloatArray, pressure: FloatArray, case: Case
) -> FloatArray:
    if case.gas != "air":
        return case.humidity
    names = ("relative_humidity", "dew_point", "absolute_humidity")
    name = next((n for n in names if n in columns or question.given(n)), "absolute_humidity")
    value = columns.get(name, np.full(temperature.shape, question.number(name)))
    turned = _absolute(name, value, temperature)
    few = "temperature" not in columns and "pressure" not in columns and "altitude" not in columns
    held = humidity.largest_humidity(*((temperature[:1], pressure[:1]) if few else (temperature, pressure)))
    return np.where(turned <= held * (1 + 1e-9), turned, np.nan)


def _absolute(name: str, value: FloatArray, temperature: FloatArray) -> FloatArray:
    if name == "relative_humidity":
        return humidity.absolute_humidity(value, temperature)
    if name == "dew_point":
        return humidity.absolute_humidity_at_dew_point(value, temperature)
    return value


def scattered(rows: np.ndarray, values: FloatArray) -> FloatArray:
    """Return the values of the readable points among all points, NaN elsewhere."""
    if rows.all():
        return values
    whole = np.full(rows.shape, np.nan)
    whole[rows] = values
    return whole


def words(keys: Sequence[str | None], choice: np.ndarray) -> orjson.Fragment:
    """Return a list of words as finished JSON: the word of a position for every element; the last one for -1."""
    tokens = [orjson.dumps(key) for key in keys]
    first, last = int(choice.min()), int(choice.max())
    if first == last:
        return orjson.Fragment(b"[" + (tokens[first] + b",") * (choice.size - 1) + tokens[first] + b"]")
    return orjson.Fragment(b"[" + b",".join(np.array(tokens, dtype=object)[choice].tolist()) + b"]")


def column(
    rows: np.ndarray, dimension: str, value: FloatArray, low: FloatArray | None = None, high: FloatArray | None = None
) -> dict[str, Any]:
    """Return a result column in the answer unit of its dimension."""
    unit = units.DIMENSIONS[dimension].shown
    factor = float(units.DIMENSIONS[dimension].spellings[unit].scale)
    block: dict[str, Any] = {"unit": unit} | ({"measure": "peak"} if dimension == "voltage" else {})
    arrays = {"values": value, "low": low, "high": high}
    return block | {k: finite(scattered(rows, array) / factor) for k, array in arrays.items() if array is not None}


def finite(values: FloatArray) -> FloatArray:
    """Return an array in which NaN stands for null, as the encoder writes it, and nothing is infinite."""
    if np.isinf(values).any():
        raise ValueError("a column holds a number that is not finite")
    return np.ascontiguousarray(values)


def voltage_column(
    rows: np.ndarray, value: FloatArray, low: FloatArray | None = None, high: FloatArray | None = None
) -> dict[str, Any]:
    """Return a column of peak voltages [V]."""
    return column(rows, "voltage", value, low, high)


def _given_once(batch: Batch, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was given once beside the situation: lengths, the voltage with its measure, the branch."""
    question = batch.question
    names = [name for name in question.values if name not in asked and name not in batch.columns]
    block = {name: question.parameters[name].show(question.values[name]) for name in names if question.given(name)}
    if batch.lookup.key not in ("gap", "pressure"):
        return block
    if "voltage" in block:
        block["voltage"] = asked_voltage(question)
    block |= {"measure": question.key("measure"), "branch": batch.branch}
    first = ["measure"] if "measure" in question.assumed else []
    return block | {"assumed": [*first, *asked["assumed"]]}


def finished(
    batch: Batch,
    registry: Registry,
    here: Situation | None,
    columns: Mapping[str, Any],
    methods: Any,
    status: Any,
) -> Answer:
    """Return the answer of a batch from its columns."""
    asked: dict[str, Any] = {"lookup": batch.lookup.key}
    asked |= {**here.echo({}), **_given_once(batch, here.echo({}))} if here is not None else {}
    for name in batch.columns:
        asked[name] = "column"
    results = {"count": batch.size, "columns": dict(columns), "method": methods, "status": status}
    gases = gas_cautions(here.case, registry) if here is not None else ()
    notes = list(here.notes) if here is not None else []
    return Answer("batch", asked, results, notes=notes, cautions=("estimate", "not-a-barrier"), gas_cautions=gases)
