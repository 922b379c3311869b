"""Headers of every response, content negotiation, and entity tags."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from importlib.metadata import version

from flask import Flask, Response, g, request
from werkzeug.datastructures import MIMEAccept
from werkzeug.exceptions import NotAcceptable

from service.render.formats import FORMATS
from service.web.cache import BytesCache

CACHE_CONTROL = "public, max-age=3600, stale-while-revalidate=86400"
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
CARD_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; frame-ancestors {ancestors}"
ENTITY_HEADERS = "ETag, Link, RateLimit, RateLimit-Policy, Retry-After"
RENDERED_BY = tuple(f"{name} {version(name)}" for name in ("numpy", "resvg-py", "jinja2"))
"""Libraries whose version may change the bytes of an answer."""
BY_SUFFIX_ONLY = ("wiki", "dokuwiki")
"""Formats that share text/plain with ``.txt`` and are never negotiated."""


def register(app: Flask) -> None:
    """Give every response of the application its common headers.

    Parameters
    ----------
    app : Flask
    """

    @app.after_request
    def common(response: Response) -> Response:
        headers = response.headers
        headers["Access-Control-Allow-Origin"] = "*"
        headers["Access-Control-Expose-Headers"] = ENTITY_HEADERS
        headers["X-Content-Type-Options"] = "nosniff"
        headers["Referrer-Policy"] = "no-referrer"
        headers.setdefault("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
        if (response.mimetype or "").startswith("image/"):
            headers["Cross-Origin-Resource-Policy"] = "cross-origin"
        if request.method == "OPTIONS":
            headers["Access-Control-Allow-Methods"] = headers.get("Allow", "GET, HEAD, OPTIONS")
            headers["Access-Control-Allow-Headers"] = "Accept, Content-Type, If-None-Match"
            headers["Access-Control-Max-Age"] = "86400"
        if g.get("negotiated"):
            response.vary.add("Accept")
        if response.status_code >= 400:
            headers["Cache-Control"] = "no-store"
        return response


def negotiated(offered: Iterable[str], suffix: str | None) -> str:
    """Return the format of a response: by suffix, else by ``Accept``, else JSON.

    Parameters
    ----------
    offered : iterable of str
        Formats of this resource, JSON first where it has it.
    suffix : str or None
        Format by suffix.

    Raises
    ------
    NotAcceptable
        When the suffix or ``Accept`` asks for what is not offered.
    """
    names = tuple(offered)
    if suffix is not None:
        if suffix not in names:
            raise NotAcceptable(
                f"'.{suffix}' is not offered here; there are {', '.join('.' + name for name in names)}."
            )
        return suffix
    g.negotiated = True
    if "Accept" not in request.headers or not request.accept_mimetypes:
        return names[0]
    media = {FORMATS[name].media_type.partition(";")[0]: name for name in reversed(names) if name not in BY_SUFFIX_ONLY}
    accept: MIMEAccept = request.accept_mimetypes
    best = accept.best_match(list(reversed(media)))
    if best is None:
        raise NotAcceptable(f"Accept asks for none of {', '.join(reversed(media))}.")
    return names[0] if accept[best] == accept[FORMATS[names[0]].media_type.partition(";")[0]] else media[best]


def tag_of(*parts: str) -> str:
    """Return an entity tag of texts that determine a body, with the versions of what makes its bytes."""
    return hashlib.sha256("\x1f".join((*RENDERED_BY, *parts)).encode()).hexdigest()[:32]


def tagged(tag: str, media_type: str, make: Callable[[], bytes], cache: BytesCache) -> Response:
    """Return a cacheable response with a strong tag; an unchanged one is answered 304 without computing.

    Parameters
    ----------
    tag : str
        Determines the body.
    media_type : str
    make : callable
        Computes the body.
    cache : BytesCache
    """
    if request.if_none_match.contains_weak(tag):  # RFC 9110, 13.1.2: a proxy that compresses makes the tag weak
        response = Response(status=304)
        del response.headers["Content-Type"]
    else:
        response = Response(cache.once(tag, make), content_type=media_type)
    response.set_etag(tag)
    response.headers["Cache-Control"] = CACHE_CONTROL
    return response
