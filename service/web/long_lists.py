"""JSON bodies with long lists of numbers, read a piece at a time into arrays.

One call that reads a long list keeps every other thread of the process waiting, and its numbers as objects take four
times the memory of an array. What stands around the lists is read as any body is.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from typing import Any

import numpy as np
import orjson

from service.lookups.batch_input import numbers
from service.methods import FloatArray

LONG = 4_000
"""Shortest text of a list that is read apart [bytes]."""
PIECE = 1 << 17
"""Text of a list that is read at once [bytes]."""


class Apart:
    """The text of a JSON body, and the long lists of numbers that were taken out of it.

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
            array = _read(raw, opened + 1, closed)
            if array is not None:
                yield raw[begin:opened]
                yield b'["%b",%d]' % (self._mark.encode(), len(self.arrays))
                self.arrays.append(array)
                begin = place
        yield raw[begin:]

    def restored(self, value: Any) -> Any:
        """Return what was read from the text around, with the arrays in their places."""
        if isinstance(value, dict):
            return {name: self.restored(one) for name, one in value.items()}
        if isinstance(value, list):
            return self.arrays[value[1]] if value[:1] == [self._mark] else [self.restored(one) for one in value]
        return value


NO_NUMBERS = (b'"', b"{")
"""What stands in no list of numbers, true, false and null."""


def _read(raw: bytes, start: int, stop: int) -> FloatArray | None:
    """Return the numbers between two places, or ``None`` where they are not JSON."""
    found = []
    while start <= stop:
        end = raw.find(b",", min(start + PIECE, stop), stop)
        end = stop if end < 0 else end
        try:
            values = orjson.loads(b"[%b]" % raw[start:end])
        except orjson.JSONDecodeError:
            return None
        if not values:
            return None  # a comma without a number behind it
        found.append(numbers(values))
        start = end + 1
    return np.concatenate(found) if found else None
