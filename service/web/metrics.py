"""Prometheus metrics by lookup and status, over all workers where they share a folder.

Several workers share their counters through the folder named by ``PROMETHEUS_MULTIPROC_DIR``, which the library reads.
"""

from __future__ import annotations

import os

from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

REGISTRY = CollectorRegistry()
REQUESTS = Counter("service_requests_total", "Requests by lookup and status.", ["lookup", "status"], registry=REGISTRY)
SECONDS = Histogram("service_request_seconds", "Time to a response by lookup.", ["lookup"], registry=REGISTRY)
WARNINGS = Counter("service_numeric_warnings_total", "Warnings of numerical code.", registry=REGISTRY)


def count(lookup: str, status: str, seconds: float) -> None:
    """Count one request.

    Parameters
    ----------
    lookup, status : str
    seconds : float
    """
    REQUESTS.labels(lookup, status).inc()
    SECONDS.labels(lookup).observe(seconds)


def text() -> bytes:
    """Return all counters in Prometheus text, those of every worker where they share a folder."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return generate_latest(REGISTRY)
    every = CollectorRegistry()
    MultiProcessCollector(every)  # type: ignore[no-untyped-call]  # the library has no annotation here
    return generate_latest(every)
