"""The JSON of an answer with long columns, piece by piece, so that neither memory nor a lock is held for long."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import orjson

from service.answers.columns import Column, Words
from service.render.json_text import OPTIONS


def pieces(document: Mapping[str, Any]) -> Iterator[bytes]:
    """Yield the JSON of a document whose members may be columns."""
    yield from _object(document)
    yield b"\n"


def _object(document: Mapping[str, Any]) -> Iterator[bytes]:
    before = b"{"
    for key, value in document.items():
        yield before + orjson.dumps(key) + b":"
        yield from _value(value)
        before = b","
    yield b"{}" if before == b"{" else b"}"


def _value(value: Any) -> Iterator[bytes]:
    if isinstance(value, Column):
        yield from _listed(_numbers(piece) for piece in value.pieces())
    elif isinstance(value, Words):
        tokens = np.array([*(orjson.dumps(word) for word in value.words), b"null"], dtype=object)
        yield from _listed(_words(tokens, piece) for piece in value.codes.pieces())
    elif isinstance(value, Mapping):
        yield from _object(value)
    else:
        yield orjson.dumps(value, option=OPTIONS & ~orjson.OPT_APPEND_NEWLINE)


def _listed(inner: Iterator[bytes]) -> Iterator[bytes]:
    before = b"["
    for piece in inner:
        yield before
        yield piece
        before = b","
    yield b"[]" if before == b"[" else b"]"


def _numbers(piece: np.ndarray) -> bytes:
    """Return numbers without the brackets around them; NaN is null."""
    return orjson.dumps(piece, option=orjson.OPT_SERIALIZE_NUMPY)[1:-1]


def _words(tokens: np.ndarray, codes: np.ndarray) -> bytes:
    first = int(codes[0])
    word: bytes = tokens[first]
    if (codes == first).all():
        return (word + b",") * (codes.size - 1) + word
    chosen: list[bytes] = tokens.take(codes).tolist()
    return b",".join(chosen)
