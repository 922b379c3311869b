"""What operators see: one JSON line a request and, where switched on, its counters; the question only where wanted."""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

import orjson

LOG = logging.getLogger("service.requests")
LONGEST = 1000
"""Most characters of a question in a line."""
CACHE = "service.cache"
"""Where the cache in front of the application says in the environment that it answered."""


def to_stderr(level: int = logging.INFO) -> None:
    """Send the lines of the service to the standard error, unless somebody set logging up already.

    Parameters
    ----------
    level : int
        Lowest level that is shown.
    """
    logger = logging.getLogger("service")
    if not logger.hasHandlers():
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(logging.Formatter("%(message)s"))
        logger.addHandler(handler)
        logger.setLevel(level)


@dataclass
class Observed:
    """Logs and counts what passes to the application behind it and to its cache.

    Parameters
    ----------
    app : callable
        The application.
    keys : container of str
        First segments below ``/v1`` that have a name of their own; the rest is told as ``other``.
    queries : bool
        Whether the question is logged; a path-form question is part of the path and is cut off without it.
    count : callable, optional
        Takes lookup, status and seconds.
    """

    app: WSGIApplication
    keys: Container[str]
    queries: bool
    count: Callable[[str, str, float], None] | None = None

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Pass a request on."""
        started = time.perf_counter()
        seen: dict[str, Any] = {"status": "500", "bytes": 0}

        def start(status: str, headers: list[tuple[str, str]], *error: Any) -> Any:
            seen["status"] = status[:3]
            seen["bytes"] = next((int(text) for name, text in headers if name == "Content-Length"), None)
            return start_response(status, headers, *error)

        try:
            return self.app(environ, start)
        finally:
            seconds = time.perf_counter() - started
            lookup = self.named(environ.get("PATH_INFO", ""))
            if self.count is not None:
                self.count(lookup, seen["status"], seconds)
            if LOG.isEnabledFor(logging.INFO):
                LOG.info("%s", self.line(environ, lookup, seen, seconds))

    def named(self, path: str) -> str:
        """Return the lookup or page of a path, from a bounded set of names."""
        first, _, rest = path.lstrip("/").partition("/")
        name = (rest if first == "v1" else first).partition("/")[0].partition(";")[0].partition(".")[0]
        return name if name in self.keys else "other"

    def line(self, environ: WSGIEnvironment, lookup: str, seen: dict[str, Any], seconds: float) -> str:
        """Return the line of one request; JSON keeps its control characters out of the log."""
        path = environ.get("PATH_INFO", "").encode("latin-1", "replace").decode("utf-8", "replace")
        query = environ.get("QUERY_STRING", "") if self.queries else ""
        asked = (f"{path}?{query}" if query else path) if self.queries else path.partition(";")[0]
        said = {
            "time": datetime.now(UTC).isoformat(timespec="milliseconds"),
            "method": environ.get("REQUEST_METHOD", ""),
            "asked": asked[:LONGEST],
            "lookup": lookup,
            "status": int(seen["status"]),
            "milliseconds": round(seconds * 1000, 2),
            "bytes": seen["bytes"],
            "cache": environ.get(CACHE, "miss"),
        }
        return orjson.dumps(said).decode("utf-8", "replace")
