"""A bounded cache of finished bytes, keyed by entity tag."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, field


@dataclass
class BytesCache:
    """The most recently used bodies, up to a number of bytes.

    Parameters
    ----------
    limit : int
        Most bytes kept.
    """

    limit: int = 16 * 1024 * 1024
    kept: OrderedDict[str, bytes] = field(default_factory=OrderedDict)
    size: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, tag: str) -> bytes | None:
        """Return the body of a tag, if it is kept."""
        with self.lock:
            body = self.kept.get(tag)
            if body is not None:
                self.kept.move_to_end(tag)
            return body

    def put(self, tag: str, body: bytes) -> None:
        """Keep a body; the least recently used ones make room."""
        if len(body) > self.limit // 8:
            return
        with self.lock:
            self.size += len(body) - len(self.kept.pop(tag, b""))
            self.kept[tag] = body
            while self.size > self.limit:
                self.size -= len(self.kept.popitem(last=False)[1])
