"""Prometheus metrics, labelled by route template so that their number stays bounded."""

from __future__ import annotations

import time

from flask import Flask, Response, g, request
from prometheus_client import CollectorRegistry, Counter, Histogram

REGISTRY = CollectorRegistry()
REQUESTS = Counter("service_requests_total", "Requests by route and status.", ["route", "status"], registry=REGISTRY)
SECONDS = Histogram("service_request_seconds", "Time to a response by route.", ["route"], registry=REGISTRY)


def register(app: Flask) -> None:
    """Count the requests of an application.

    Parameters
    ----------
    app : Flask
    """

    @app.before_request
    def start() -> None:
        g.started = time.perf_counter()

    @app.after_request
    def count(response: Response) -> Response:
        route = request.url_rule.rule if request.url_rule is not None else "unmatched"
        REQUESTS.labels(route, str(response.status_code)).inc()
        SECONDS.labels(route).observe(time.perf_counter() - g.get("started", time.perf_counter()))
        return response
