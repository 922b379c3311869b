"""Turns at costly work: few at a time, few that wait, in the order in which they came, and no longer than is told."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from service.errors import Busy


@dataclass
class Turns:
    """Turns at one kind of work in this process.

    Those that wait hold a thread each, so that they too are counted: cheap questions must find a free one.

    Parameters
    ----------
    work : str
        What is done in turn, as one reads it: batches.
    at_work, waiting : int
        Most at a time.
    patience : float
        Longest time that one waits [s].
    retry_after : int
        When one that is refused may ask again [s].
    """

    work: str
    at_work: int
    waiting: int
    patience: float
    retry_after: int = 5
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _taken: int = 0
    _queue: deque[threading.Event] = field(default_factory=deque)

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Wait for a turn, and hold it.

        Raises
        ------
        Busy
            Where as many wait as may, at once; where none came in time.
        """
        self._wait()
        try:
            yield
        finally:
            with self._lock:
                if self._queue:
                    self._queue.popleft().set()  # the turn goes on to who has waited longest
                else:
                    self._taken -= 1

    def _wait(self) -> None:
        with self._lock:
            if self._taken < self.at_work:
                self._taken += 1
                return
            if len(self._queue) >= self.waiting:
                raise self._refusal()
            mine = threading.Event()
            self._queue.append(mine)
        if mine.wait(self.patience):
            return
        with self._lock:
            if not mine.is_set():
                self._queue.remove(mine)
                raise self._refusal()

    def _refusal(self) -> Busy:
        return Busy(f"Other {self.work} come first; ask again in a few seconds.", self.retry_after)
