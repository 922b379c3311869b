"""JSON: the answer itself, with every digit and never a number that is none; long columns piece by piece."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import orjson

from service.answers.columns import Column, Words
from service.render.page import Page

WHOLE = orjson.OPT_SERIALIZE_NUMPY | orjson.OPT_PASSTHROUGH_DATACLASS
OPTIONS = WHOLE | orjson.OPT_APPEND_NEWLINE


def render(page: Page) -> bytes:
    """Return an answer as JSON, in its own order.

    Raises
    ------
    ValueError
        When a number in it is not finite; the encoder would write ``null`` in silence.
    """
    body = orjson.dumps(dict(page.document), option=OPTIONS, default=_plain)
    if b"null" in body and not _finite(page.document):  # the encoder writes it for what is not finite, too
        check_finite(page.document)
    return body


def _finite(part: Mapping[str, Any] | list[Any] | tuple[Any, ...]) -> bool:
    """Return whether everything is surely finite, quickly: no call a leaf; `check_finite` says where it is not."""
    for one in part.values() if isinstance(part, Mapping) else part:
        kind = type(one)
        if kind is float:
            if one - one != 0:
                return False
        elif kind is dict or kind is list or kind is tuple:
            if not _finite(one):
                return False
        elif kind not in PLAIN:
            return False
    return True


PLAIN = (str, int, bool, type(None))


def _plain(value: object) -> object:
    """Return what the encoder does not know as what it knows."""
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, np.ndarray):
        return value.tolist()
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def check_finite(value: object, where: str = "") -> None:
    """Raise when a number is not finite.

    Parameters
    ----------
    value : object
        Any part of an answer.
    where : str
        Its place, for the error.

    Raises
    ------
    ValueError
        Naming the place.
    """
    if isinstance(value, Mapping):
        for key, one in value.items():
            check_finite(one, f"{where}.{key}" if where else str(key))
    elif isinstance(value, np.ndarray):
        if value.dtype.kind == "f" and not np.isfinite(value).all():
            raise ValueError(f"{where} holds a number that is not finite")
        if value.dtype.kind == "O":
            check_finite(value.tolist(), where)
    elif isinstance(value, list | tuple):
        _check_list(value, where)
    elif isinstance(value, float | np.floating) and not math.isfinite(value):
        raise ValueError(f"{where} is not finite")


def _check_list(values: list[object] | tuple[object, ...], where: str) -> None:
    kinds = set(map(type, values))
    if float in kinds and not all(map(math.isfinite, (one for one in values if type(one) is float))):
        raise ValueError(f"{where} holds a number that is not finite")
    if kinds - {float, int, str, bool, type(None)}:
        for place, one in enumerate(values):
            check_finite(one, f"{where}[{place}]")


def pieces(document: Mapping[str, object]) -> Iterator[bytes]:
    """Yield the JSON of a document whose members may be columns."""
    yield from _object(document)
    yield b"\n"


def _object(document: Mapping[str, object]) -> Iterator[bytes]:
    before = b"{"
    for key, value in document.items():
        yield before + orjson.dumps(key) + b":"
        yield from _value(value)
        before = b","
    yield b"{}" if before == b"{" else b"}"


def _value(value: object) -> Iterator[bytes]:
    if isinstance(value, Column):
        yield from _listed(_numbers(piece) for piece in value.pieces())
    elif isinstance(value, Words):
        tokens = np.array([*(orjson.dumps(word) for word in value.words), b"null"], dtype=object)
        yield from _listed(_words(tokens, piece) for piece in value.codes.pieces())
    else:
        try:
            whole = orjson.dumps(value, option=WHOLE)
        except TypeError:  # a column stands somewhere in it
            if not isinstance(value, Mapping):
                raise
        else:
            yield whole
            return
        yield from _object(value)


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
