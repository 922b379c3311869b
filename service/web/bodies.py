"""JSON bodies, read strictly by marshmallow from the same declarations as queries.

A lookup declares what its body may hold with `service.parameters.Members` and takes it as `service.parameters.Given`::

    BODY = Members(
        (Parameter("gas", "choice", ..., default="air"),),  # flat members: text as in a query, or a JSON number
        (Part("electrodes", "The electrodes.", Listed(ELECTRODE, least=2, most=2), required=True),),
    )
    ELECTRODE = Members(
        (Parameter("potential", "fraction", ...),),
        (Part("path", "Pieces of its surface.", Listed(PIECE)),),
    )
    PIECE = Members((Parameter("arc", "length", ...),), (Part("to", "A point.", Listed(COORDINATE, 2, 2)),))

    given = read(BODY, json_object(raw))
    given.question.key("gas"); given.question.assumed      # a Question: defaults are named, typed digits are kept
    given.parts["electrodes"][0].parts["path"][3].question.optional("arc")       # SI
    given.parts["electrodes"][0].parts["path"][3].parts["to"].values             # (0.0, 0.005)
    given.parts["electrodes"][0].where                     # "electrodes[0]." for faults that are found later

A module of `service.lookups` that has ``BODY`` and a `Lookup` with ``body`` and ``answer_given`` is posted by itself.

Refused, each with its path (``electrodes[0].path[3].arc``): members that are unknown, missing, unreadable, outside
their bounds, not finite, of another type (``null``, ``true``), lists too short or too long, and a member given twice.
All faults are found before one error names the first twenty; the rest are counted. A part of kind ``None`` is an
object that is taken as it is; an open object lets further members in. Only this file knows marshmallow; what it gives
is plain.
"""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
import orjson
from marshmallow import INCLUDE, RAISE, Schema, ValidationError, fields

from service.errors import BadQuestion, Fault, did_you_mean, quoted
from service.lookups.batch import numbers
from service.methods import FloatArray
from service.parameters import Given, Listed, Members, Parameter, Part, Question, Values

MOST_FAULTS = 20
"""Most faults that one error names."""
LONG_LIST = re.compile(rb'\[[^"\[\]{}]{1000,}\]')
"""A list of numbers: no member can be given twice in it, and reading it again would take the longest."""
DEEPEST = 50
"""Most levels of a body."""
TOO_DEEP = f"The body is nested too deeply: at most {DEEPEST} levels of it are read."
LONGEST_NAME = 64
"""Most characters of a member's name that a fault repeats."""


def object_of_arrays(raw: bytes) -> dict[str, object]:
    """Return a JSON object as `json_object` does, its long lists of numbers as arrays with NaN for what is none."""
    apart = Apart(raw)
    try:
        return {name: apart.restored(one) for name, one in json_object(apart.around).items()}
    except BadQuestion:  # a list may have stood in a text, and a fault is told of the body as it was sent
        return json_object(raw)


def json_object(raw: bytes) -> dict[str, object]:
    """Return a JSON object, each of its members given once.

    Raises
    ------
    BadQuestion
        When it is not JSON, not an object, or names a member twice.
    """
    try:
        body = orjson.loads(raw)
    except orjson.JSONDecodeError as error:
        raise BadQuestion(f"The body is not JSON: {error.msg} at line {error.lineno}, column {error.colno}.") from error
    if not isinstance(body, dict):
        raise BadQuestion("The body must be a JSON object.")
    try:
        depth = json.loads(LONG_LIST.sub(b"[]", raw), object_pairs_hook=_once)
    except RecursionError as error:
        raise BadQuestion(TOO_DEEP) from error
    if depth > DEEPEST:
        raise BadQuestion(TOO_DEEP)
    return body


class Depth(int):
    """How many levels an object has."""


def _once(pairs: list[tuple[str, object]]) -> Depth:
    """Return how deep an object is, each of its members given once."""
    names = [name for name, _ in pairs]
    if len(set(names)) < len(names):
        name = next(name for name in names if names.count(name) > 1)
        raise BadQuestion.about(name[:LONGEST_NAME], f"{quoted(name)} is given more than once.")
    return Depth(1 + max((_levels(value) for _, value in pairs), default=0))


def _levels(value: object) -> int:
    if type(value) is list:
        return 1 + max(map(_levels, value), default=0)
    return value if type(value) is Depth else 0


LONG = 4_000
"""Shortest text of a list that is read apart [bytes]."""
PIECE = 1 << 17
"""Text of a list that is read at once [bytes]."""


class Apart:
    """The text of a JSON body, and the long lists of numbers that were taken out of it.

    They are read a piece at a time into arrays: one call that reads a long list keeps every other thread of the process
    waiting, and its numbers as objects take four times the memory of an array.

    Parameters
    ----------
    raw : bytes
        The body. ``around`` is it with a mark in place of each list; ``arrays`` are the lists, with NaN for what is
        no number.
    """

    def __init__(self, raw: bytes) -> None:
        self._mark = secrets.token_hex(16)
        self.arrays: list[FloatArray] = []
        self.around = b"".join(self._parts(raw))

    def _parts(self, raw: bytes) -> Iterator[bytes]:
        begin = place = 0
        while (closed := raw.find(b"]", place)) >= 0:
            opened, place = raw.rfind(b"[", place, closed), closed + 1
            if opened < 0 or closed - opened < LONG or any(raw.find(one, opened, closed) >= 0 for one in NO_NUMBERS):
                continue
            array = _numbers(raw, opened + 1, closed)
            if array is not None:
                yield raw[begin:opened]
                yield b'["%b",%d]' % (self._mark.encode(), len(self.arrays))
                self.arrays.append(array)
                begin = place
        yield raw[begin:]

    def restored(self, value: object) -> object:
        """Return what was read from the text around, with the arrays in their places."""
        if isinstance(value, dict):
            return {name: self.restored(one) for name, one in value.items()}
        if isinstance(value, list):
            return self.arrays[value[1]] if value[:1] == [self._mark] else [self.restored(one) for one in value]
        return value


NO_NUMBERS = (b'"', b"{")
"""What stands in no list of numbers, true, false and null."""
NO_DIGITS = (b"u", b"a")
"""Letters of which one stands in true, false and null each, and none in a number."""


def _numbers(raw: bytes, start: int, stop: int) -> FloatArray | None:
    """Return the numbers between two places, or ``None`` where they are not JSON."""
    found, plain = [], all(raw.find(letter, start, stop) < 0 for letter in NO_DIGITS)
    while start <= stop:
        end = raw.find(b",", min(start + PIECE, stop), stop)
        end = stop if end < 0 else end
        try:
            values = orjson.loads(b"[%b]" % raw[start:end])
        except orjson.JSONDecodeError:
            return None
        if not values:
            return None  # a comma without a number behind it
        found.append(numbers(values, plain=plain))
        start = end + 1
    return np.concatenate(found) if found else None


def read(members: Members, body: Mapping[str, object]) -> Given:
    """Return an object as understood.

    Raises
    ------
    BadQuestion
        Naming every fault, the first twenty by their path.
    """
    schema = schema_of(members)
    try:
        loaded = schema.load(body)
    except ValidationError as error:
        raise refused(list(_faults(error.messages_dict, schema, ""))) from error
    return _given(members, loaded, "")


def refused(faults: list[Fault]) -> BadQuestion:
    """Return the error that names the first faults and counts the rest."""
    named = [replace(one, **_suggested(one)) for one in faults[:MOST_FAULTS]]
    words = [one.detail for one in named]
    left = len(faults) - len(named)
    return BadQuestion(" ".join([*words, *[f"And {left} more."] * (left > 0)]), named)


def _suggested(fault: Fault) -> dict[str, Any]:
    """Return the sentence of an unknown member; the nearest name is looked for only where it is told."""
    if fault.detail:
        return {}
    name = fault.parameter.rpartition(".")[2]
    return {
        "detail": f"{_place(fault.parameter)}'{quoted(name)}' is not known here{did_you_mean(name, fault.accepted)}."
    }


def _place(path: str) -> str:
    outer = path.rpartition(".")[0]
    return f"{outer}: " if outer else ""


def _faults(messages: Any, schema: Schema | None, where: str) -> Iterator[Fault]:
    """Yield the faults of marshmallow's nested messages by their path; an unknown member has no detail yet."""
    if isinstance(messages, Mapping):
        for key, inner in messages.items():
            if key == "_schema":
                known = ", ".join(schema.fields) if schema is not None else ""
                yield Fault(where, f"{where} must be an object with {known}.")
            elif isinstance(key, int):
                yield from _faults(inner, schema, f"{where}[{key}]")
            elif schema is not None and key not in schema.fields:
                yield Fault(_path(where, str(key)[:LONGEST_NAME]), "", tuple(schema.fields))
            else:
                inner_field = schema.fields[key] if schema is not None else None
                yield from _faults(inner, _inner(inner_field), _path(where, key))
        return
    for one in messages:
        place = where if one.place is None else f"{where}[{one.place}]"
        yield Fault(place, f"{place} {one.words}", one.accepted, one.valid)


def _path(where: str, name: str) -> str:
    return f"{where}.{name}" if where else name


def _inner(field: Any) -> Schema | None:
    """Return the schema of the objects below a field."""
    while isinstance(field, fields.List):
        field = field.inner
    return field.schema if isinstance(field, fields.Nested) else None


@dataclass(frozen=True)
class Wrong:
    """What is wrong with a member: words that follow its path, and its place within a list of values."""

    words: str
    accepted: tuple[str, ...] = ()
    valid: Mapping[str, Any] = field(default_factory=dict)
    place: int | None = None


@dataclass(frozen=True)
class Written:
    """A value beside what was typed."""

    value: object
    text: str


def _read(parameter: Parameter, given: object, place: int | None = None) -> Written:
    if isinstance(given, str):
        text = given
    elif isinstance(given, int | float) and not isinstance(given, bool):
        text = repr(given)
    else:
        raise ValidationError([Wrong("must be text, a number with a unit as in a query.", place=place)])
    try:
        return Written(parameter.read(text), text)
    except BadQuestion as error:
        raise ValidationError([_wrong(one, parameter.name, place) for one in error.faults]) from error


def _wrong(fault: Fault, name: str, place: int | None) -> Wrong:
    own = fault.detail.removeprefix(f"{name} ")
    return Wrong(own if own != fault.detail else f": {fault.detail}", fault.accepted, fault.valid, place)


def _required(name: str, meaning: str, example: str | None, accepted: tuple[str, ...]) -> list[Wrong]:
    shown = f" For example {name}={example}." if example else ""
    return [Wrong(f"is needed: {meaning}{shown}", accepted)]


Messages = dict[str, Any]
"""What marshmallow says of a fault, by its key: a list of `Wrong`."""


def _value(parameter: Parameter) -> fields.Field[Any]:
    """Return a flat member: text or a number, read as in a query."""
    needed = _required(parameter.name, parameter.meaning, parameter.example, parameter.accepted())
    messages: Messages = {"required": needed, "null": [Wrong("must be text, a number with a unit as in a query.")]}
    return fields.Function(
        deserialize=lambda given: _read(parameter, given), required=parameter.required, error_messages=messages
    )


def _values(parameter: Parameter, given: Any, counted: Callable[[Any], None]) -> Values:
    counted(given)
    found: list[Written] = []
    wrong: list[Any] = []
    for place, one in enumerate(given):
        try:
            found.append(_read(parameter, one, place))
        except ValidationError as error:
            wrong.extend(error.messages)
    if wrong:
        raise ValidationError(wrong)
    return Values(tuple(one.value for one in found), tuple(one.text for one in found))


def _counter(kind: Listed) -> Callable[[object], None]:
    """Return the check that a list has as many entries as it must."""
    entries = {Parameter: "values", Members: "objects", Listed: "lists"}[type(kind.of)]
    number = f"{kind.least}" if kind.least == kind.most else f"{kind.least} to {kind.most}"

    def counted(given: object) -> None:
        if not isinstance(given, list) or not kind.least <= len(given) <= kind.most:
            had = f"; it has {len(given)}" if isinstance(given, list) else ""
            raise ValidationError([Wrong(f"must be a list of {number} {entries}{had}.")])

    return counted


def _field(kind: Members | Listed | None, required: bool, messages: Messages) -> fields.Field[Any]:
    if isinstance(kind, Listed):
        return _list(kind, required, messages)
    if kind is None:
        return fields.Dict(keys=fields.String(), required=required, error_messages=messages)
    return fields.Nested(schema_of(kind), required=required, error_messages=messages)


def _list(kind: Listed, required: bool, messages: Messages) -> fields.Field[Any]:
    counted, of = _counter(kind), kind.of
    if isinstance(of, Parameter):
        return fields.Function(
            deserialize=lambda given: _values(of, given, counted), required=required, error_messages=messages
        )
    null = [Wrong("must not be null.")]
    inner = _field(of, False, {"null": null, "invalid": null})
    return fields.List(inner, required=required, error_messages=messages, validate=counted)


def _part(part: Part) -> fields.Field[object]:
    shape = "an object" if not isinstance(part.kind, Listed) else "a list"
    null = [Wrong(f"must be {shape}. {part.meaning}")]
    needed = _required(part.name, part.meaning, None, ())
    return _field(part.kind, part.required, {"required": needed, "null": null, "invalid": null})


@lru_cache(maxsize=128)
def schema_of(members: Members) -> Schema:
    """Return the schema of an object."""
    declared: dict[str, fields.Field[object]] = {one.name: _value(one) for one in members.parameters}
    declared |= {part.name: _part(part) for part in members.parts}
    return Schema.from_dict(declared)(unknown=INCLUDE if members.open else RAISE)


def _given(members: Members, loaded: Mapping[str, Any], where: str) -> Given:
    declared = {one.name: one for one in members.parameters}
    written = {name: loaded[name] for name in declared if name in loaded}
    defaults = {one.name: one.read(one.default) for one in members.parameters if one.default is not None}
    values = defaults | {name: one.value for name, one in written.items()}
    typed = {name: one.text for name, one in written.items()}
    question = Question("", values, frozenset(defaults) - frozenset(written), declared, typed)
    parts = {
        part.name: _understood(part.kind, loaded[part.name], where + part.name)
        for part in members.parts
        if part.name in loaded
    }
    known = {*declared, *(part.name for part in members.parts)}
    return Given(question, parts, where, {name: value for name, value in loaded.items() if name not in known})


def _understood(kind: object, loaded: Any, path: str) -> object:
    if isinstance(kind, Members):
        return _given(kind, loaded, f"{path}.")
    if isinstance(kind, Listed) and not isinstance(kind.of, Parameter):
        return tuple(_understood(kind.of, one, f"{path}[{place}]") for place, one in enumerate(loaded))
    return loaded
