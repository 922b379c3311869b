"""Long lists of a body are read apart: what is read, and every fault, is what it is when the body is read at once."""

from __future__ import annotations

import json

import numpy as np
import orjson
import pytest

from service.errors import BadQuestion
from service.web.bodies import LONG, PIECE, json_object, object_of_arrays

NUMBERS = [round(0.1 + i * 0.37, 3) for i in range(LONG)]
TEXT = json.dumps(NUMBERS).encode()


def plain(value):
    """Return arrays as the lists that they were."""
    if isinstance(value, np.ndarray):
        return [None if np.isnan(one) else one for one in value.tolist()]
    if isinstance(value, dict):
        return {name: plain(one) for name, one in value.items()}
    return [plain(one) for one in value] if isinstance(value, list) else value


@pytest.mark.parametrize(
    "body",
    [
        b'{"a": %b}' % TEXT,
        b'{"a": {"b": %b, "c": "[%b"}, "d": [1, 2]}' % (TEXT, TEXT[:-1].replace(b"[", b"")),
        b'{"a": "%b", "b": %b}' % (TEXT, TEXT),
        b'{"a": [%b, %b], "b": [[]]}' % (TEXT, TEXT),
        b'{"a": %b}' % json.dumps(list(range(50_000)), separators=(" ,\n", ":")).encode(),
        b'{"a": %b}' % TEXT.replace(b"0.1,", b"null, 1e-300,", 1),
        b'{"b":"]","a": %b}' % orjson.dumps(np.geomspace(1e-9, 1e9, PIECE // 8).tolist()),
    ],
)
def test_what_is_read_is_the_same(body):
    assert plain(object_of_arrays(body)) == json_object(body)


def test_what_is_no_number_is_none_in_its_place():
    body = b'{"a": %b}' % TEXT.replace(b"0.1,", b"true, null, 18446744073709551616,", 1)
    found = object_of_arrays(body)["a"]
    assert np.isnan(found[:2]).all()
    assert found[2:4].tolist() == [2.0**64, NUMBERS[1]]


@pytest.mark.parametrize(
    "body",
    [
        b'{"a": %b,]}' % TEXT[:-1],
        b'{"a": [,%b}' % TEXT[1:],
        b'{"a": %b}' % TEXT.replace(b", ", b",, ", 1),
        b'{"a": %b}' % TEXT.replace(b"0.1,", b"1e999,", 1),
        b'{"a": %b}' % TEXT.replace(b"0.1,", b"nan,", 1),
        b'{"a": %b' % TEXT,
        b'{"a": %b, "a": 1}' % TEXT,
        b'["a", %b]' % TEXT,
        b'{"a": %b}' % (b"[" * 60 + TEXT + b"]" * 60),
    ],
)
def test_a_fault_is_told_as_of_the_body_that_was_sent(body):
    with pytest.raises(BadQuestion) as told:
        object_of_arrays(body)
    with pytest.raises(BadQuestion) as wanted:
        json_object(body)
    assert str(told.value) == str(wanted.value)


@pytest.mark.parametrize("body", [b"[" * 2_000_000, b"]" * 2_000_000, b"[]" * 1_000_000, b'{"a":[' + b"[1," * 700_000])
def test_brackets_without_end_are_refused(body):
    with pytest.raises(BadQuestion):
        object_of_arrays(body)
