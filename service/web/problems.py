"""Problem documents (RFC 9457) for every status that the application can produce."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

import orjson
from flask import Flask, Response
from werkzeug.exceptions import HTTPException

from service.answers.document import document
from service.errors import (
    BadReferenceData,
    Busy,
    Fault,
    ServiceError,
)

LOG = logging.getLogger("service")
MEDIA_TYPE = "application/problem+json"
ESCAPES = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})

TITLES: Mapping[str, tuple[int, str, str]] = {
    "bad-question": (
        400,
        "The question cannot be read",
        (
            "A parameter is unknown, missing, repeated, empty, unreadable, of the wrong dimension, or contradicts "
            "another. The problem document names each parameter at fault and what would be accepted."
        ),
    ),
    "unknown-name": (
        400,
        "A value is not among the known ones",
        "The parameter takes one of a list of keys; the problem document holds the list and the nearest spelling.",
    ),
    "not-found": (
        404,
        "There is nothing here",
        "The path, the key in it, or the suffix does not exist.",
    ),
    "method-not-allowed": (
        405,
        "The method is not allowed here",
        "Lookups are asked with GET; those asked in a body take POST. The Allow header has what is allowed.",
    ),
    "not-acceptable": (
        406,
        "The format is not offered here",
        "The suffix or the Accept header asks for a format that this resource does not have.",
    ),
    "too-large": (
        413,
        "The question is too large",
        (
            "Divide it: a batch takes no more points than a worker answers in 20 s of processor time, and no more than "
            "fit into the body."
        ),
    ),
    "unsupported-body": (
        415,
        "The body has the wrong type",
        "A body is application/json; a probe check also takes a sheet as text/csv, a batch an Arrow stream.",
    ),
    "outside-validity": (
        422,
        "No method answers there",
        (
            "The question is readable, but it lies outside the range in which any method is valid. Nothing is "
            "extrapolated. The problem document names the nearest range, and its detail ends with a request that works."
        ),
    ),
    "internal-error": (
        500,
        "The service failed",
        "A fault of the service, not of the question. It has been logged.",
    ),
    "not-offered": (
        501,
        "This is not offered here",
        "A standard knows this form of the answer, and this service does not: it describes embedding as JSON only.",
    ),
    "bad-reference-data": (
        503,
        "The reference data do not load",
        (
            "A data package is damaged or an overlay has a fault; the problem document names file, row and reason. "
            "Nothing is answered from data that were not checked."
        ),
    ),
    "busy": (
        503,
        "The service has its hands full",
        "Other costly questions come first, and as many wait as may. Ask again after the time in Retry-After.",
    ),
    "http-error": (400, "The request cannot be served", "The request is not one that this service serves."),
}
"""Problem key to status, title and a paragraph for its page."""

HTTP_KEYS = {
    404: "not-found",
    405: "method-not-allowed",
    406: "not-acceptable",
    413: "too-large",
    415: "unsupported-body",
    501: "not-offered",
}


def problem(
    key: str, detail: str, faults: tuple[Fault, ...] = (), status: int | None = None, headers: Any = ()
) -> Response:
    """Return a problem response.

    Parameters
    ----------
    key : str
        Key of `TITLES`; the last segment of ``type``.
    detail : str
        What is wrong with this request.
    faults : tuple of Fault
        Per parameter.
    status : int, optional
        Another status than that of the key.
    headers : iterable of pairs
        Further headers.
    """
    default, title, _ = TITLES[key]
    number = default if status is None else status
    document = {
        "type": f"/problems/{key}",
        "title": title,
        "status": number,
        "detail": detail,
        "errors": [_error(fault) for fault in faults],
    }
    body = orjson.dumps(document, option=orjson.OPT_APPEND_NEWLINE).decode().translate(ESCAPES)
    response = Response(body, status=number, content_type=MEDIA_TYPE)
    response.headers["Cache-Control"] = "no-store"
    for name, value in headers:
        response.headers[name] = value
    return response


def _error(fault: Fault) -> dict[str, Any]:
    block: dict[str, Any] = {"parameter": fault.parameter, "detail": fault.detail}
    if fault.accepted:
        block["accepted"] = list(fault.accepted)
    if fault.valid:
        block["valid"] = document(fault.valid)
    return block


def register(app: Flask, for_people: Callable[[ServiceError], Response | None]) -> None:
    """Give the application its three error handlers.

    Parameters
    ----------
    for_people : callable
        Makes a page of a refusal where a person asked, and nothing where a program did.
    """
    app.register_error_handler(ServiceError, lambda error: for_people(error) or service_problem(error))
    app.register_error_handler(HTTPException, http_problem)
    app.register_error_handler(Exception, internal_problem)


def problem_block(error: ServiceError) -> dict[str, Any]:
    """Return title, status and detail of an error of the service, for pages."""
    status = TITLES[error.key][0]
    return {"title": TITLES[error.key][1], "status": status, "detail": error.detail}


def service_problem(error: ServiceError) -> Response:
    """Return the problem document of an error of the service."""
    status = TITLES[error.key][0]
    if isinstance(error, BadReferenceData):
        LOG.error("reference data: %s", error.detail)
    headers = [("Retry-After", str(error.retry_after))] if isinstance(error, Busy) else []
    return problem(error.key, error.detail, error.faults, status, headers)


def http_problem(error: HTTPException) -> Response:
    """Return the problem document of an HTTP error; its headers, such as Allow, are kept."""
    status = error.code or 500
    if status < 400 and error.response is not None:
        return error.get_response()  # type: ignore[return-value]  # a redirect is a response of werkzeug's own
    key = HTTP_KEYS.get(status, "internal-error" if status >= 500 else "http-error")
    headers = [(name, value) for name, value in error.get_headers() if name.lower() != "content-type"]
    told = error.description if error.description != type(error).description else TITLES[key][2]
    return problem(key, told or TITLES[key][1], (), status, headers)


def internal_problem(error: Exception) -> Response:
    """Return a problem document that says nothing of the exception, and log it."""
    LOG.error("unhandled error", exc_info=error)
    return problem("internal-error", "The service failed on this request.")


HOST = re.compile(r"(?:[A-Za-z0-9._~-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{0,5})?", re.ASCII)
"""A name or an address, and a port."""


class OneHost:
    """Refuses what does not name one host, as RFC 9112, 3.2 wants it; everything else passes to the application."""

    def __init__(self, app: WSGIApplication) -> None:
        self.app = app

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        if environ.get("SERVER_PROTOCOL") == "HTTP/1.1" and not HOST.fullmatch(environ.get("HTTP_HOST", "")):
            refused = problem("http-error", "A request names one host, with or without a port, in one Host line.")
            return refused(environ, start_response)
        return self.app(environ, start_response)


class SoundBodies:
    """Tells what a server finds wrong with a body while it is read, its chunks for one, as the fault of who sent it."""

    def __init__(self, app: WSGIApplication) -> None:
        self.app = app

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request."""
        if environ["REQUEST_METHOD"] != "GET":
            environ["wsgi.input"] = ReadBody(environ["wsgi.input"])
        return self.app(environ, start_response)


class ReadBody:
    """A body as the server reads it.

    Parameters
    ----------
    stream : file
    """

    def __init__(self, stream: Any) -> None:
        self.stream = stream

    def read(self, size: int = -1) -> bytes:
        """Return some of the body.

        Raises
        ------
        OSError
            When it is broken, whatever the server calls that; the framework answers 400.
        """
        try:
            found: bytes = self.stream.read(size)
        except OSError:
            raise
        except Exception as error:
            raise OSError(f"broken body: {error}") from error
        return found
