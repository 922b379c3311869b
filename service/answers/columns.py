"""Columns of many points: kept as they are found, piece by piece, in memory or, where they are long, in a file."""

from __future__ import annotations

import os
import tempfile
import weakref
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import IO, Any

import numpy as np

from service.errors import Busy, TooCostly

IN_MEMORY = 500_000
"""Most points of an answer whose columns are kept in memory."""
AT_ONCE = 1 << 14
"""Points of a column that are given at once: little for a thread that keeps others waiting."""


def temporary() -> IO[bytes]:
    """Return a file without a name, which goes when it is closed.

    Raises
    ------
    TooCostly
        Where there is no folder for one.
    """
    try:
        return tempfile.TemporaryFile()
    except OSError as error:
        detail = f"This service has no folder for temporary files: ask at most {IN_MEMORY} points at once."
        raise TooCostly(detail) from error


FULL = "The disk for temporary files is full: ask again later, or fewer points at once."


class Store:
    """Keeps arrays, in memory or in a file without a name that goes with the store.

    Parameters
    ----------
    points : int
        How many points the answer has.
    """

    def __init__(self, points: int) -> None:
        self._file: Any = None
        self._end = 0
        if points > IN_MEMORY:
            self._file = temporary()
            weakref.finalize(self, self._file.close)

    def keep(self, array: np.ndarray) -> np.ndarray | tuple[int, int]:
        """Return an array, or where in the file it stands: begin and number of bytes.

        Raises
        ------
        Busy
            When the disk is full.
        """
        if self._file is None:
            return array
        begin = self._end
        try:
            self._end += os.pwrite(self._file.fileno(), np.ascontiguousarray(array).data, begin)
        except OSError as error:
            raise Busy(FULL, retry_after=60) from error
        if self._end - begin != array.nbytes:
            raise Busy(FULL, retry_after=60)
        return begin, array.nbytes

    def read(self, kept: np.ndarray | tuple[int, int], dtype: np.dtype[Any]) -> np.ndarray:
        """Return what was kept."""
        if isinstance(kept, np.ndarray):
            return kept
        begin, size = kept
        return np.frombuffer(os.pread(self._file.fileno(), size, begin), dtype)


@dataclass
class Column:
    """Numbers of many points, or codes of words; NaN stands for none."""

    store: Store
    dtype: np.dtype[Any] = field(default_factory=lambda: np.dtype(np.float64))
    _kept: list[Any] = field(default_factory=list, repr=False)

    def add(self, array: np.ndarray) -> None:
        """Add the next points.

        Raises
        ------
        ValueError
            When a number is infinite; the encoder would write ``null`` in silence.
        """
        if self.dtype.kind == "f" and np.isinf(array).any():
            raise ValueError("a column holds a number that is not finite")
        self._kept.append(self.store.keep(np.ascontiguousarray(array, dtype=self.dtype)))

    def pieces(self) -> Iterator[np.ndarray]:
        """Yield the points in order, not more than a few at once."""
        for kept in self._kept:
            array = self.store.read(kept, self.dtype)
            for start in range(0, array.size, AT_ONCE):
                yield array[start : start + AT_ONCE]


@dataclass(frozen=True)
class Words:
    """A word for every point.

    Parameters
    ----------
    words : sequence of str
        Those that occur.
    codes : Column
        Position in ``words``; -1 where there is none.
    """

    words: Sequence[str]
    codes: Column
