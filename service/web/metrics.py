"""Prometheus metrics by lookup and status, over all workers where they share a folder.

Several workers share their counters through the folder named by ``PROMETHEUS_MULTIPROC_DIR``, which the library reads.
"""

from __future__ import annotations

import os
import warnings
from typing import TextIO

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

REGISTRY = CollectorRegistry()
REQUESTS = Counter("service_requests_total", "Requests by lookup and status.", ["lookup", "status"], registry=REGISTRY)
SECONDS = Histogram("service_request_seconds", "Time to a response by lookup.", ["lookup"], registry=REGISTRY)
WARNINGS = Counter("service_numeric_warnings_total", "Warnings of numerical code.", registry=REGISTRY)


def count(lookup: str, status: str, seconds: float) -> None:
    """Count one request."""
    REQUESTS.labels(lookup, status).inc()
    SECONDS.labels(lookup).observe(seconds)


def count_warnings() -> None:
    """Count the warnings of numerical code from now on; each is still shown as before."""
    shown = warnings.showwarning

    def counted(
        message: Warning | str,
        category: type[Warning],
        filename: str,
        lineno: int,
        file: TextIO | None = None,
        line: str | None = None,
    ) -> None:
        if issubclass(category, RuntimeWarning):
            WARNINGS.inc()
        shown(message, category, filename, lineno, file, line)

    warnings.simplefilter("always", RuntimeWarning)
    warnings.showwarning = counted


def text() -> bytes:
    """Return all counters in Prometheus text, those of every worker where they share a folder."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return generate_latest(REGISTRY)
    every = CollectorRegistry()
    MultiProcessCollector(every)  # type: ignore[no-untyped-call]  # the library has no annotation here
    return generate_latest(every)
