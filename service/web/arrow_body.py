"""Columns of a batch as an Arrow stream: read from a file that is mapped, so that memory holds no more than a piece.

The schema's metadata has the rest of the question as JSON under `QUESTION`; the metadata of a field has its ``unit``.
"""

from __future__ import annotations

import mmap
import struct
from bisect import bisect_right
from collections.abc import Iterator
from typing import IO, Any

import numpy as np

from service.answers.columns import FULL, temporary
from service.errors import BadQuestion, Busy, quoted
from service.methods import FloatArray
from service.web import bodies

MEDIA_TYPE = "application/vnd.apache.arrow.stream"
QUESTION = "question"
"""Key of the schema's metadata under which the question stands, without its columns."""
LARGEST = 512 * 1024 * 1024
"""Largest body [bytes]: six columns of 10^7 numbers."""
IN_MEMORY = 16 * 1024 * 1024
"""Size from which a body is kept in a file [bytes]."""
MOST_PIECES = 100_000
"""Most record batches of a stream; they have a hundred points each, at least."""
NEEDS = "needs the extra 'arrow' of the service, which is not installed here: pip install 'sparkover-reference[arrow]'."


def library() -> object:
    """Return the library that reads and writes Arrow, or ``None`` where it is not installed."""
    try:
        import pyarrow
        import pyarrow.ipc
    except ImportError:
        return None
    return pyarrow


class ArrowNumbers:
    """A column of numbers in pieces; nulls are NaN.

    Parameters
    ----------
    pieces : list
        Arrow arrays.
    """

    def __init__(self, pieces: list[Any]) -> None:
        self.pieces = pieces
        self.begins = np.concatenate([[0], np.cumsum([len(one) for one in pieces])]).tolist()

    @property
    def size(self) -> int:
        """How many there are."""
        return int(self.begins[-1])

    def __getitem__(self, key: slice) -> FloatArray:
        """Return some of them."""
        start, stop, _ = key.indices(self.size)
        found = [np.empty(0)]
        place = bisect_right(self.begins, start) - 1
        while start < stop:
            end = min(stop, self.begins[place + 1])
            some = self.pieces[place].slice(start - self.begins[place], end - start)
            found.append(some.to_numpy(zero_copy_only=False))
            start, place = end, place + 1
        return np.asarray(found[1] if len(found) == 2 else np.concatenate(found), dtype=np.float64)


def kept(stream: IO[bytes]) -> bytes | mmap.mmap:
    """Return a body: in memory, or as a file that is mapped and goes with what refers to it.

    Raises
    ------
    TooCostly
        When it is long and there is no folder for temporary files.
    Busy
        When the disk is full.
    """
    first = b"".join(_parts(stream, IN_MEMORY))
    if len(first) < IN_MEMORY:
        return first
    with temporary() as file:
        try:
            file.write(first)
            for part in _parts(stream, LARGEST):
                file.write(part)
            file.flush()
        except OSError as error:
            raise Busy(FULL, retry_after=60) from error
        return mmap.mmap(file.fileno(), 0, prot=mmap.PROT_READ)


def _parts(stream: IO[bytes], most: int) -> Iterator[bytes]:
    while most and (part := stream.read(min(most, 1 << 20))):
        yield part
        most -= len(part)


def read(pa: Any, body: bytes | mmap.mmap) -> dict[str, object]:
    """Return the body of a batch, its columns as `ArrowNumbers`.

    Parameters
    ----------
    pa : module
        As `library` returns it.
    body : bytes or mmap
        The stream.

    Raises
    ------
    BadQuestion
        When it is no Arrow stream, or not one of columns of numbers with their question.
    """
    if not len(body):
        raise BadQuestion("The body is empty; it must be an Arrow stream.")
    try:
        schema, batches = _opened(pa, pa.BufferReader(pa.py_buffer(body)))
        _check(pa, schema)
        pieces = list(batches)
        columns = {
            name: {
                "unit": _said(schema.field(i).metadata, "unit"),
                "values": ArrowNumbers([one.column(i) for one in pieces]),
            }
            for i, name in enumerate(schema.names)
        }
    except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
        raise BadQuestion("The body is not a sound Arrow stream.") from error
    return _question(schema) | {"columns": columns}


def _opened(pa: Any, source: Any) -> tuple[Any, Iterator[Any]]:
    messages = pa.ipc.MessageReader.open_stream(source)
    first = next(messages, None)
    if first is None or first.type != "schema":
        raise BadQuestion("The body is not an Arrow stream: it does not begin with a schema.")
    schema = pa.ipc.read_schema(first)
    return schema, _batches(pa, messages, schema)


def _batches(pa: Any, messages: Iterator[Any], schema: Any) -> Iterator[Any]:
    for count, message in enumerate(messages):
        if message.type != "record batch":
            raise BadQuestion("The Arrow stream may hold record batches alone.")
        if count >= MOST_PIECES:
            raise BadQuestion(f"The Arrow stream has more than {MOST_PIECES} record batches; make them larger.")
        if is_compressed(message.metadata.to_pybytes()):
            raise BadQuestion("The record batches must not be compressed.")
        batch = pa.ipc.read_record_batch(message, schema)
        batch.validate()  # otherwise a length that is not there would be read
        yield batch


def is_compressed(metadata: bytes) -> bool:
    """Return whether the buffers of a record batch are compressed: its size in memory would be anybody's guess.

    Parameters
    ----------
    metadata : bytes
        The flat buffer of the message, which the library has verified. Of the table ``Message`` the third field is the
        header; of ``RecordBatch`` the fourth is the compression (Message.fbs of the Arrow format).
    """
    header = _field(metadata, struct.unpack_from("<I", metadata)[0], 2)
    if header is None:
        return False
    table = header + struct.unpack_from("<I", metadata, header)[0]
    return _field(metadata, table, 3) is not None


def _field(buffer: bytes, table: int, number: int) -> int | None:
    """Return where a field of a table of a flat buffer stands, or ``None``."""
    virtual = table - struct.unpack_from("<i", buffer, table)[0]
    size = struct.unpack_from("<H", buffer, virtual)[0]
    entry = 4 + 2 * number
    offset = struct.unpack_from("<H", buffer, virtual + entry)[0] if entry + 2 <= size else 0
    return table + offset if offset else None


def _check(pa: Any, schema: Any) -> None:
    if len(set(schema.names)) < len(schema.names):
        raise BadQuestion("A column of the Arrow stream is given more than once.")
    for field in schema:
        if not (pa.types.is_floating(field.type) or pa.types.is_integer(field.type)):
            detail = f"Column '{quoted(field.name)}' of the Arrow stream must hold floating-point numbers or integers."
            raise BadQuestion.about(field.name[:64], detail, ("float64", "float32", "int64", "int32"))


def _said(metadata: Any, key: str) -> str:
    text: bytes = (metadata or {}).get(key.encode(), b"")
    return text.decode()


def _question(schema: Any) -> dict[str, Any]:
    text = (schema.metadata or {}).get(QUESTION.encode())
    if text is None:
        detail = (
            f"The schema of the Arrow stream needs metadata with the key '{QUESTION}': JSON with lookup and given, as "
            f'{{"lookup": "breakdown", "given": {{"electrodes": "uniform-field"}}}}.'
        )
        raise BadQuestion.about(QUESTION, detail)
    body = bodies.json_object(text)
    if "columns" in body:
        raise BadQuestion.about("columns", f"Columns stand in the Arrow stream, not in its '{QUESTION}'.")
    return body
