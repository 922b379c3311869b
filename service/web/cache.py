"""A bounded cache of finished bytes, keyed by entity tag."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import Any

from service.web.log import CACHE


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
    under_way: dict[str, threading.Event] = field(default_factory=dict)

    def once(self, tag: str, make: Callable[[], bytes]) -> bytes:
        """Return the body of a tag, computed once however many ask for it at the same time.

        Parameters
        ----------
        tag : str
        make : callable
            Computes the body.
        """
        while True:
            body = self.get(tag)
            if body is not None:
                return body
            with self.lock:
                other = self.under_way.get(tag)
                if other is None:
                    self.under_way[tag] = threading.Event()
                    break
            other.wait(LONGEST)
        try:
            body = make()
            self.put(tag, body)
            return body
        finally:
            with self.lock:
                self.under_way.pop(tag).set()

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
            if tag not in self.kept:
                self.size += len(body) + ENTRY
            self.kept[tag] = body
            while self.size > self.limit:
                self.size -= len(self.kept.popitem(last=False)[1]) + ENTRY


@dataclass
class Repeated:
    """Serves again, word for word, what was asked word for word before; every other request passes through.

    Parameters
    ----------
    app : callable
        The application behind it; its responses with ``Cache-Control: public`` and an entity tag are kept.
    limit : int
        Most bytes kept.
    """

    app: Any
    limit: int = 8 * 1024 * 1024
    kept: OrderedDict[Hashable, tuple[str, list[tuple[str, str]], bytes]] = field(default_factory=OrderedDict)
    size: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer a request."""
        if environ["REQUEST_METHOD"] != "GET" or not environ["PATH_INFO"].startswith("/v1/"):
            return self.app(environ, start_response)  # type: ignore[no-any-return]  # WSGI has no type
        target = tuple(environ.get(name, "") for name in TARGET)
        with self.lock:
            found = self.kept.get(target)
            if found is not None:
                self.kept.move_to_end(target)
        if found is None:
            return self._asked(target, environ, start_response)
        status, headers, body = found
        environ[CACHE] = "hit"
        start_response(status, list(headers))
        return [body]

    def _asked(self, target: Hashable, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        started: list[Any] = []

        def start(status: str, headers: list[tuple[str, str]], *error: Any) -> Any:
            started[:] = [status, headers]
            return start_response(status, headers, *error)

        body = list(self.app(environ, start))
        status, headers = started
        if status[:3] in ("200", "304") and dict(headers).get("Cache-Control", "").startswith("public"):
            self._keep(target, (status, headers, b"".join(body)))
        return body

    def _keep(self, target: Hashable, one: tuple[str, list[tuple[str, str]], bytes]) -> None:
        if len(one[2]) > self.limit // 8:
            return
        with self.lock:
            if target not in self.kept:
                self.size += len(one[2]) + OVERHEAD
            self.kept[target] = one
            while self.size > self.limit:
                self.size -= len(self.kept.popitem(last=False)[1][2]) + OVERHEAD


TARGET = ("SCRIPT_NAME", "PATH_INFO", "QUERY_STRING", "HTTP_ACCEPT", "HTTP_IF_NONE_MATCH")
"""What a response depends on."""
LONGEST = 30.0
"""Seconds that one waits for another's computation before it looks again."""
ENTRY = 512
"""Bytes counted for the tag and the place of a kept body, so that many small ones are bounded too."""
OVERHEAD = 4096
"""Bytes counted for the headers and the target of a response."""
