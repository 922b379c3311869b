"""The body of a batch: what is given once, and columns of numbers, as SI arrays with what could not be read marked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service import units
from service.answers.lookup import Lookup
from service.errors import BadQuestion, UnknownName, did_you_mean, echo
from service.methods import FloatArray
from service.methods.method import BoolArray
from service.parameters import Parameter, Question, read_question

MOST_POINTS = 100_000
"""Most points of one batch."""

LOOKUPS = ("breakdown", "gap", "pressure", "clearance", "creepage")
"""Lookups that a batch may ask."""

BRANCH = Parameter(
    "branch", "choice", "Branch wanted of a gap or pressure.", default="right", choices=("left", "right")
)


@dataclass(frozen=True)
class Batch:
    """A batch as understood.

    Parameters
    ----------
    lookup : Lookup
    question : Question
        What is given once, with the first readable value of every column in its place.
    columns : mapping of str to ndarray
        SI values, all of the batch's length; NaN where unreadable.
    readable : ndarray of bool
        Elements whose every column could be read.
    branch : str
        Branch wanted.
    """

    lookup: Lookup
    question: Question
    columns: Mapping[str, FloatArray]
    readable: BoolArray
    branch: str

    @property
    def size(self) -> int:
        """Number of points."""
        return int(self.readable.size)

    @property
    def first(self) -> int:
        """The first readable point; the first of all where there is none."""
        return int(np.argmax(self.readable))

    def values(self, name: str) -> FloatArray:
        """Return a parameter at every point: its column, or what was given once [SI]."""
        if name in self.columns:
            return self.columns[name]
        return np.broadcast_to(self.question.number(name), (self.size,))

    def question_at(self, point: int) -> Question:
        """Return the single question at a point; what cannot be read there keeps the value of another point."""
        declared = self.question.parameters
        own = {name: float(array[point]) for name, array in self.columns.items() if np.isfinite(array[point])}
        typed = {name: int(x) if declared[name].dimension == "count" else x for name, x in own.items()}
        return replace(self.question, values={**self.question.values, **typed})


def read_batch(body: Mapping[str, Any], lookups: Mapping[str, Lookup]) -> Batch:
    """Return a batch from its body.

    Parameters
    ----------
    body : mapping
        With ``lookup``, ``given`` (texts) and ``columns`` (``unit`` and ``values``).
    lookups : mapping
        Every lookup by key.

    Raises
    ------
    BadQuestion
        When a name, a unit or a length does not fit.
    """
    key = body.get("lookup")
    if key not in LOOKUPS:
        raise UnknownName.among("lookup", str(key), LOOKUPS)
    lookup = lookups[str(key)]
    given = dict(body.get("given", {}))
    branch = str(BRANCH.read(str(given.pop("branch")))) if "branch" in given else "right"
    arrays = read_columns(body.get("columns", {}), lookup)
    pairs = [(name, _given_text(name, value)) for name, value in given.items()]
    pairs += [(name, _sample(name, array, lookup)) for name, array in arrays.items()]
    parameters = tuple(replace(p, many=False) if p.name == "electrodes" else p for p in lookup.parameters)
    question = read_question(lookup.key, parameters, pairs)
    readable = np.all([np.isfinite(array) for array in arrays.values()], axis=0)
    return Batch(lookup, question, arrays, readable, branch)


def _given_text(name: str, value: Any) -> str:
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        raise BadQuestion.about(name[:64], f"given.{echo(name)} must be text, as in a query.")
    return str(value)


def _sample(name: str, array: FloatArray, lookup: Lookup) -> str:
    """Return the first readable value as query text, so that the column is checked like any parameter."""
    readable = array[np.isfinite(array)]
    if not readable.size:
        raise BadQuestion.about(name, f"No value of columns.{name} can be read.")
    parameter = next(p for p in lookup.parameters if p.name == name)
    value = float(readable[0])
    if parameter.dimension not in units.DIMENSIONS:
        return repr(int(value)) if parameter.dimension == "count" else repr(value)
    return f"{units.shown(value, parameter.dimension)!r}{units.DIMENSIONS[parameter.dimension].shown}"


def read_columns(columns: Mapping[str, Any], lookup: Lookup) -> dict[str, FloatArray]:
    """Return the columns in SI, broadcast to one length; NaN where a value cannot be read.

    Parameters
    ----------
    columns : mapping
        Name to ``unit`` and ``values``.
    lookup : Lookup
        Whose parameters the columns are.

    Raises
    ------
    BadQuestion
        For an unknown column, unit or length.
    """
    if not isinstance(columns, Mapping) or not columns:
        raise BadQuestion.about("columns", "columns is needed: at least one parameter with unit and values.")
    declared = {p.name: p for p in lookup.parameters if p.dimension in (*units.DIMENSIONS, "number", "count")}
    arrays = {}
    for name, column in columns.items():
        if name not in declared:
            why = did_you_mean(name, declared)
            raise BadQuestion.about(name[:64], f"columns.{echo(name)} is not a quantity here{why}.", declared)
        arrays[name] = _column(declared[name], column)
    length = max(array.size for array in arrays.values())
    wrong = [name for name, array in arrays.items() if array.size not in (1, length)]
    if wrong or not length:
        raise BadQuestion.about(wrong[0] if wrong else "columns", "Columns have equal length or one value.")
    return {name: np.broadcast_to(array, (length,)) for name, array in arrays.items()}


def _column(parameter: Parameter, column: Any) -> FloatArray:
    name = parameter.name
    if (
        not isinstance(column, Mapping)
        or set(column) - {"unit", "values"}
        or not isinstance(column.get("values"), list)
    ):
        raise BadQuestion.about(name, f"columns.{name} needs unit and values, a list of numbers.", ("unit", "values"))
    values = column["values"]
    if len(values) > MOST_POINTS:
        raise BadQuestion.about(name, f"columns.{name} has {len(values)} values; at most {MOST_POINTS} are taken.")
    if parameter.dimension not in units.DIMENSIONS:
        plain = _numbers(values)
        if parameter.dimension == "count":
            plain = np.where(plain == np.floor(plain), plain, np.nan)  # half a count is no count
        return _within(parameter, plain)
    kind = units.DIMENSIONS[parameter.dimension]
    unit = units.find(f"columns.{name}.unit", str(column.get("unit", "")), kind)
    with np.errstate(over="ignore", invalid="ignore"):
        si = _numbers(values) * float(unit.scale) + float(unit.offset)
        si = np.where(np.isfinite(si) & ((kind.lowest is None) | (si > (kind.lowest or 0.0))), si, np.nan)
    return _within(parameter, si)


def _within(parameter: Parameter, values: FloatArray) -> FloatArray:
    low = -np.inf if parameter.low is None else parameter.low
    high = np.inf if parameter.high is None else parameter.high
    with np.errstate(invalid="ignore"):
        return np.where((values >= low) & (values <= high), values, np.nan)


def _numbers(values: list[Any]) -> FloatArray:
    """Return numbers as an array; true, null and strings become NaN. One pass over the types, since lists are long."""
    kinds = set(map(type, values))
    if kinds == {float}:
        return np.fromiter(values, np.float64, len(values))
    if kinds <= {int, float}:
        return np.array([_float(value) for value in values] if _has_huge(values) else values, dtype=np.float64)
    return np.array([_float(v) if type(v) in (int, float) else np.nan for v in values], dtype=np.float64)


def _has_huge(values: list[Any]) -> bool:
    return (
        any(type(value) is int and abs(value) > 2**63 for value in values) if int in set(map(type, values)) else False
    )


def _float(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return float("nan")
