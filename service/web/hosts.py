"""One host a request: RFC 9112, 3.2 wants 400 where an HTTP/1.1 request names none, two, or what is no host."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from service.web.problems import problem

HOST = re.compile(r"(?:[A-Za-z0-9._~-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{0,5})?", re.ASCII)
"""A name or an address, and a port."""


class OneHost:
    """Refuses what does not name one host; everything else passes through.

    Parameters
    ----------
    app : callable
        The application behind it.
    """

    def __init__(self, app: Any) -> None:
        self.app = app

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer a request."""
        if environ.get("SERVER_PROTOCOL") == "HTTP/1.1" and not HOST.fullmatch(environ.get("HTTP_HOST", "")):
            refused = problem("http-error", "A request names one host, with or without a port, in one Host line.")
            return refused(environ, start_response)
        return self.app(environ, start_response)  # type: ignore[no-any-return]  # WSGI has no type
