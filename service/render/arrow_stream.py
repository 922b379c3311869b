"""An answer as an Arrow stream: its columns as record batches, the rest as JSON in the metadata of the schema."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from io import RawIOBase
from typing import Any

import numpy as np
import orjson

from service.answers.columns import Column, Words

DOCUMENT = "document"
"""Key of the schema's metadata under which the rest of the answer stands."""


class Sink(RawIOBase):
    """Takes what is written, to be given on."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []
        self.place = 0

    def writable(self) -> bool:
        """Return that it takes everything."""
        return True

    def tell(self) -> int:
        """Return how much was written so far."""
        return self.place

    def write(self, data: Any) -> int:
        """Take a part."""
        self.parts.append(bytes(data))
        self.place += len(self.parts[-1])
        return len(self.parts[-1])

    def taken(self) -> bytes:
        """Return what was written since this was asked last."""
        whole = b"".join(self.parts)
        self.parts.clear()
        return whole


def pieces(pa: Any, document: Mapping[str, Any]) -> Iterator[bytes]:
    """Yield the stream.

    Parameters
    ----------
    pa : module
        The library.
    document : mapping
        With ``columns`` of `Column`, and `Words` as members. A column ``gap`` becomes the fields ``gap``, ``gap_low``
        and ``gap_high``, with ``unit`` and ``measure`` in their metadata; words become a field of the same name.
    """
    fields, columns = _laid_out(pa, document)
    columns_said = {
        name: {key: one for key, one in block.items() if not isinstance(one, Column)}
        for name, block in document["columns"].items()
    }
    rest = {key: one for key, one in document.items() if not isinstance(one, Words)} | {"columns": columns_said}
    schema = pa.schema(fields, metadata={DOCUMENT: orjson.dumps(rest)})
    sink = Sink()
    with pa.ipc.new_stream(sink, schema) as writer:
        for arrays in zip(*columns, strict=True):
            writer.write_batch(pa.record_batch(list(arrays), schema=schema))
            yield sink.taken()
    yield sink.taken()


def _laid_out(pa: Any, document: Mapping[str, Any]) -> tuple[list[Any], list[Iterator[object]]]:
    """Return the fields, and the pieces of each."""
    fields, columns = [], []
    for name, block in document["columns"].items():
        said = {key: one for key, one in block.items() if not isinstance(one, Column)}
        for end, column in block.items():
            if isinstance(column, Column):
                own = name if end == "values" else f"{name}_{end}"
                fields.append(pa.field(own, pa.float64(), metadata=said))
                columns.append(_numbers(pa, column))
    for name, words in document.items():
        if isinstance(words, Words):
            fields.append(pa.field(name, pa.dictionary(pa.int16(), pa.string())))
            columns.append(_words(pa, words))
    return fields, columns


def _numbers(pa: Any, column: Column) -> Iterator[object]:
    return (pa.array(piece, from_pandas=True) for piece in column.pieces())


def _words(pa: Any, words: Words) -> Iterator[Any]:
    known = pa.array(list(words.words), pa.string())
    for codes in words.codes.pieces():
        indices = pa.array(codes.astype(np.int16), mask=codes < 0)
        yield pa.DictionaryArray.from_arrays(indices, known)
