"""The request log: one line a request, the path always, the question only where it is switched on."""

from __future__ import annotations

import logging

from flask import Flask, Response, request

LOG = logging.getLogger("service.requests")


def register(app: Flask, *, queries: bool) -> None:
    """Log the requests of an application.

    Parameters
    ----------
    app : Flask
    queries : bool
        Whether the question is logged; a path-form question is part of the path and is cut off without it.
    """

    @app.after_request
    def line(response: Response) -> Response:
        asked = request.full_path.rstrip("?") if queries else request.path.partition(";")[0]
        # repr keeps control characters of the request out of the log
        LOG.info("%s %r %s", request.method, asked, response.status_code)
        return response
